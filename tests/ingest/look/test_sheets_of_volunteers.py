"""Sheets as volunteers arrange them, read as they stand: titles, tables side by side, ditto marks."""

import pytest
import xlsxwriter


@pytest.fixture
def book(folder):
    """A workbook of sheets given as rows; a list of pieces is a text struck out in its first piece."""

    def write(**sheets):
        path = folder / "book.xlsx"
        with xlsxwriter.Workbook(path) as made:
            struck = made.add_format({"font_strikeout": True})
            for name, rows in sheets.items():
                page = made.add_worksheet(name)
                for place, row in enumerate(rows):
                    for column, cell in enumerate(row):
                        if isinstance(cell, list):
                            page.write_rich_string(place, column, struck, cell[0], cell[1])
                        elif cell != "":
                            page.write(place, column, cell)
        return path

    return write


def read(rows):
    """Wear point, day, value and unit of each row, as the look reads them."""
    names = ("point", "date", "value", "unit")
    return [tuple(row["read"].get(name) for name in names) for _, row in sorted(rows.items())]


def test_titles_above_the_headings_are_passed_over(sheet, look, known):
    text = "Tires of engine 410,,\n,,\nall by J.D.,,\nPoint,Date,Value (in)\nTHICK,3 May 2001,3.3\n"
    asked, rows = look(sheet(text))
    assert not asked
    assert read(rows) == [("THICK", "2001-05-03", 3.3, "in")]
    assert list(rows) == [5]


def test_a_first_row_of_one_cell_above_no_headings_is_refused_by_its_name(sheet, milesleft, known):
    said = milesleft("add", sheet("Tires of engine 410,\nTHICK,3.3\n"), "--look", ends=1)
    assert "Tires of engine 410" in said


def test_tables_side_by_side_are_read_each_by_its_own_headings(book, look, known):
    rows = [
        ["Left", "", "", "", "Worn", "", ""],
        ["Point", "Date", "Value (in)", "", "Point", "Date", "Value (mm)"],
        ["THICK", "2001-05-03", 3.3, "", "HOLLOW", "2001-05-03", 1.25],
        ["THICK", "2001-09-03", 3.25, "", "HOLLOW", "2001-09-03", 1.5],
    ]
    path = book(Both=rows)
    asked, _ = look(path)
    assert not asked


def test_tables_side_by_side_keep_every_row(book, milesleft, known, store):
    rows = [
        ["Point", "Date", "Value (in)", "", "Point", "Date", "Value (mm)"],
        ["THICK", "2001-05-03", 3.3, "", "HOLLOW", "2001-05-03", 1.25],
        ["THICK", "2001-09-03", 3.25, "", "HOLLOW", "2001-09-03", 1.5],
    ]
    assert milesleft("add", book(Both=rows), "--json")["accepted"] == 4
    stored = store.read("readings")
    told = {(row["point"], row["unit"], row["value_text"], row["source_row"]) for _, row in stored.iterrows()}
    assert told == {
        ("THICK", "in", "3.3", 2),
        ("HOLLOW", "mm", "1.25", 2),
        ("THICK", "in", "3.25", 3),
        ("HOLLOW", "mm", "1.5", 3),
    }


def test_one_heading_twice_in_one_table_is_refused(book, milesleft, known):
    path = book(S=[["Point", "Date", "Value", "Value"], ["THICK", "2001-05-03", 3.3, 3.2]])
    assert "all headed 'Value'" in milesleft("add", path, "--look", ends=1)


@pytest.mark.parametrize("mark", ["″", "do.", "dto.", ",,", "j.w."])
def test_a_ditto_mark_repeats_the_cell_above(sheet, look, known, mark):
    text = f"point;date;value;unit\nTHICK;3 May 2001;3.3;in\nHOLLOW;{mark};1/16;in\n"
    _, rows = look(sheet(text))
    assert read(rows) == [("THICK", "2001-05-03", 3.3, "in"), ("HOLLOW", "2001-05-03", 0.0625, "in")]


def test_a_ditto_mark_is_no_measured_value_and_repeats_nothing_in_the_first_row(sheet, look, known):
    _, rows = look(sheet("point,date,value\nHOLLOW,do.,1/16\nTHICK,3 May 2001,3.3\nTHICK,3 June 2001,do.\n"))
    assert [row["verdict"] for _, row in sorted(rows.items())] == ["held back", "accepted", "held back"]


def test_a_sheet_called_after_an_engine_is_about_that_engine(book, milesleft, known, folder, store):
    (folder / "engines.csv").write_text("vehicle,arrangement\nReed 5,0-4-0\n")
    log = "vehicle,date,odometer,unit\nReed 5,2001-01-01,500,mi\nReed 5,2002-01-01,900,mi\n"
    (folder / "log.csv").write_text(log)
    (folder / "more.csv").write_text(
        "point,vehicle,component,position,quantity,unit,new_value,condemning_limit,limit_source\n"
        "R-THICK,Reed 5,driver tire,driver 1 left,thickness,in,3 1/2,1 3/4,own rule\n"
    )
    milesleft("add", folder)
    head = ["Date", "Component", "Position", "Dimension", "Value (in)"]
    sheets = {
        "410": [head, ["2001-05-03", "driver tire", "1L", "thickness", 3.3]],
        "reed 5": [head, ["2001-05-03", "driver tire", "1L", "thickness", 3.1]],
        "engines": [head, ["2001-05-04", "driver tire", "1L", "thickness", 3.0]],
    }
    report = milesleft("add", book(**sheets), "--json")
    assert (report["accepted"], report["held_back"]) == (2, 1)
    assert dict(zip(*store.read("readings")[["point", "value_text"]].to_numpy().T, strict=True)) == {
        "THICK": "3.3",
        "R-THICK": "3.1",
    }


def test_a_text_struck_out_in_part_is_asked_about(book, look, known):
    rows = [["Point", "Date", "Value"], ["THICK", "2001-05-03", ["3.", "1"]], ["THICK", "2001-09-03", "3.25"]]
    asked, found = look(book(S=rows))
    assert list(asked) == ["struck"]
    assert asked["struck"]["about"]["rows"] == [2]
    assert found[3]["verdict"] == "accepted"


def test_one_bad_sheet_keeps_no_other_out(book, milesleft, known, folder):
    layout = folder / "l.toml"
    layout.write_text('[[table]]\ntable = "readings"\ncells = { point = "B1" }\nheader = 2\n')
    good = [["Point:", "THICK"], ["Date", "Value"], ["2001-05-03", 3.3]]
    path = book(A=good, Notes=[["Point:"]], B=[["Point:", "HOLLOW"], ["Date", "Value"], ["2001-05-03", 0.05]])
    found = milesleft("add", path, "--layout", layout, "--json", ends=1)
    assert found["accepted"] == 2
    assert [item["sheet"] for item in found["not_read"]] == ["Notes"]
    assert "has no row 2" in found["not_read"][0]["reason"]


def test_tables_below_each_other_are_read_each_by_its_own_headings(sheet, look, known):
    text = "Point,Date,Value (in)\nTHICK,2001-05-03,3.3\n\nPoint,Value in thou,Date\nHOLLOW,62.5,2001-05-03\n"
    asked, rows = look(sheet(text))
    assert not asked
    assert read(rows) == [("THICK", "2001-05-03", 3.3, "in"), ("HOLLOW", "2001-05-03", 62.5, "thou")]
    assert list(rows) == [2, 5]


def test_a_label_merged_down_its_rows_is_in_each_and_a_value_in_one(folder, look, known):
    path = folder / "merged.xlsx"
    with xlsxwriter.Workbook(path) as made:
        page = made.add_worksheet()
        page.write_row(0, 0, ["Date", "Point", "Value"])
        page.merge_range(1, 0, 2, 0, "2001-05-03")
        page.write_column(1, 1, ["THICK", "HOLLOW"])
        page.merge_range(1, 2, 2, 2, 3.3)
    _, rows = look(path)
    assert {row["read"]["date"] for row in rows.values()} == {"2001-05-03"}
    assert [rows[row]["verdict"] for row in (2, 3)] == ["accepted", "held back"]
