"""Layouts proposed from sheets of unknown make: what is proposed, and that it reads the sheet."""

import tomllib

import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.errors import UnreadableFile, UserError
from ingest.layouts.propose import preview_text, propose_layout


@pytest.fixture
def proposed(tmp_path):
    """Propose a layout for a text; return its entries, its text, and what it gives."""

    def propose(text, encoding="utf-8", name="sheet.csv"):
        path = tmp_path / name
        path.write_bytes(text.encode(encoding))
        layout = propose_layout(path)
        (shown,) = preview_text(path, layout)
        return tomllib.loads(layout), layout, shown

    return propose


def test_a_long_sheet_with_a_title_and_headings_of_its_own(proposed):
    entries, text, shown = proposed(
        "Boxes, Bramwick;;;;\n\nRef;Tag;Messung (mm);km;von\nX1;03.04.98;1,5;100;Ä\nX1;25.12.98;1,6;110;Ä\n",
        "cp1252",
    )
    (table,) = entries["table"]
    assert entries["encoding"] == "cp1252"
    assert entries["dates"] == "dmy"
    assert entries["decimal"] == ","
    assert table["table"] == "readings"
    assert table["header"] == 3
    assert table["columns"] == {"km": "odometer", "Tag": "date", "Messung (mm)": "value"}
    assert '# "Ref" = ?' in text
    assert "still needed: point or" in text
    assert shown.units == {"odometer": "km", "value": "mm"}
    assert shown.n_rows == 2
    assert shown.unused == ("Ref", "von")


def test_an_order_of_dates_that_the_file_cannot_tell_is_left_open(proposed):
    entries, text, _ = proposed("point,date,value\nP1,03/04/98,1\nP1,05/06/98,2\n")
    assert "dates" not in entries
    assert '# dates = "dmy" or "mdy"' in text
    assert "state yours" in text


@pytest.mark.parametrize(
    ("dates", "order"), [(("03/04/98", "25/12/98"), "dmy"), (("03/04/98", "12/25/98"), "mdy")]
)
def test_an_order_of_dates_that_the_file_tells(proposed, dates, order):
    entries, _, _ = proposed("point,date,value\n" + "".join(f"P1,{day},1\n" for day in dates))
    assert entries["dates"] == order


def test_dates_without_a_doubt_need_no_order(proposed):
    entries, text, _ = proposed("point,date,value\nP1,1998-04-03,1\nP1,3 May 1998,2\n")
    assert "dates" not in entries
    assert "# dates" not in text


def test_an_order_that_the_dates_tell_is_stated_for_the_sheets_to_come(proposed):
    entries, _, _ = proposed("point,date,value\nP1,25/12/1998,1\nP1,26/12/1998,1\n")
    assert entries["dates"] == "dmy"


def test_a_column_for_each_date(proposed):
    entries, _, shown = proposed(
        "Engine,Part,Position,Quantity,Units,03/04/98,25/12/98\nBramwick,tire,#2 driver L,hollow,in,1/16,3/32"
    )
    (table,) = entries["table"]
    assert table["spread"] == {"columns": ["F:F", "G:G"], "headings": ["date"]}
    assert entries["dates"] == "dmy"
    assert shown.rows["date"].tolist() == ["03/04/98", "25/12/98"]
    assert shown.rows["value"].tolist() == ["1/16", "3/32"]
    assert shown.lacking == []


def test_a_column_for_each_point(proposed):
    entries, _, shown = proposed("Date,B-D1L,B-D1R\n1998-05-03,1/16,3/32\n")
    assert entries["table"][0]["spread"]["headings"] == ["point"]
    assert shown.rows["point"].tolist() == ["B-D1L", "B-D1R"]


def test_a_row_for_each_position_and_two_rows_of_headings(tmp_path):
    path = tmp_path / "wheels.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet("Wheels")
        page.write_row("A1", ["Engine:", "Bramwick", "", "Date: 3 May 1998"])
        page.merge_range("A3:A4", "Wheel")
        page.merge_range("B3:C3", "Hollow (1/64 in)")
        page.merge_range("D3:E3", "Flange (in)")
        page.write_row("B4", ["L", "R", "L", "R"])
        page.write_row("A5", ["Driver 1", 2, "-", "1 1/4", "1-3/16"])
        page.write_row("A7", ["Average", 2, 2, 1.2, 1.2])
    text = propose_layout(path)
    (table,) = tomllib.loads(text)["table"]
    assert table["header"] == [3, 4]
    assert table["spread"] == {"columns": ["B:B", "C:C", "D:D", "E:E"], "headings": ["quantity", "position"]}
    assert table["cells"] == {"vehicle": "B1", "date": "D1"}
    assert table["skip"] == ["Average*"]
    assert table["nothing"] == ["-"]
    (shown,) = preview_text(path, text)
    found = [
        tuple(row)
        for row in shown.rows[["vehicle", "date", "position", "quantity", "value", "unit"]].to_numpy()
    ]
    assert found == [
        ("Bramwick", "3 May 1998", "Driver 1 L", "Hollow", "2", "1/64 in"),
        ("Bramwick", "3 May 1998", "Driver 1 L", "Flange", "1 1/4", "in"),
        ("Bramwick", "3 May 1998", "Driver 1 R", "Flange", "1-3/16", "in"),
    ]


def test_a_block_for_each_date(proposed):
    entries, _, shown = proposed(
        "Driving boxes\nInspection: 3.5.1998;;\nBox;left;right\n1;0,012;0,014\n2;0,010;0,011\n"
        "Inspection: 24.6.1999;;\nBox;left;right\n1;0,013;0,015\n2;0,011;0,012\n"
    )
    (table,) = entries["table"]
    assert entries["dates"] == "dmy"
    assert entries["decimal"] == ","
    assert table["blocks"] == {"starts": "Inspection*"}
    assert table["header"] == 2
    assert table["cells"] == {"date": "A1"}
    assert table["columns"] == {"Box": "position"}
    assert table["spread"] == {"columns": ["B:B", "C:C"], "headings": ["position"]}
    assert shown.rows["position"].tolist()[:2] == ["1 left", "1 right"]
    assert shown.n_rows == 8


def test_a_sheet_that_needs_no_layout(proposed):
    entries, _, shown = proposed(
        "point,date,value,unit,odometer,gauge,observer,note\nP1,1998-05-03,1 3/8,in,5,,,\n"
    )
    (table,) = entries["table"]
    assert table["table"] == "readings"
    assert "spread" not in table
    assert shown.lacking == []
    assert shown.unused == ()


def test_every_sheet_of_a_workbook(tmp_path):
    path = tmp_path / "two.xlsx"
    with xlsxwriter.Workbook(path) as book:
        book.add_worksheet("Log").write_column("A1", ["vehicle"])
        book.get_worksheet_by_name("Log").write_row("A1", ["vehicle", "date", "odometer"])
        book.get_worksheet_by_name("Log").write_row("A2", ["Bramwick", "1998-05-03", 5])
        page = book.add_worksheet('Wheels "old"')
        page.write_row("A1", ["point", "date", "value"])
        page.write_row("A2", ["P1", "1998-05-03", 5])
    tables = tomllib.loads(propose_layout(path))["table"]
    assert [(table["table"], table["sheet"]) for table in tables] == [
        ("mileage", "Log"),
        ("readings", 'Wheels "old"'),
    ]
    assert [shown.table for shown in preview_text(path, propose_layout(path))] == ["mileage", "readings"]


def test_what_cannot_be_read_is_refused(tmp_path):
    (tmp_path / "empty.csv").write_text("\n\n")
    with pytest.raises(UnreadableFile, match="empty"):
        propose_layout(tmp_path / "empty.csv")
    with pytest.raises(UnreadableFile, match="cannot be read"):
        propose_layout(tmp_path / "none.csv")


def test_hostile_headings_stay_within_their_quotes(proposed):
    entries, text, _ = proposed(
        'point,date,value,"x""\n[[table]]\ntable = ""funds""\x07\\u202e"\nP1,1998-05-03,1,2\n'
    )
    assert [table["table"] for table in entries["table"]] == ["readings"]
    assert "\x07" not in text


cells = st.sampled_from(
    [
        "",
        "point",
        "date",
        "Value (in)",
        "Engine: B",
        "1 3/8",
        "0,5",
        "03/04/98",
        "1998-05-03",
        "L",
        "D2L",
        "n/a",
        "Total",
        "x;y",
    ]
) | st.text(max_size=8)


@settings(deadline=None, max_examples=15)
@given(st.lists(st.lists(cells, min_size=1, max_size=6), min_size=1, max_size=8), st.sampled_from([",", ";"]))
def test_a_proposal_for_any_sheet_is_a_layout_or_a_user_error(tmp_path_factory, grid, mark):
    path = tmp_path_factory.mktemp("any") / "sheet.csv"
    quoted = (mark.join('"' + cell.replace('"', '""') + '"' for cell in row) for row in grid)
    path.write_bytes("\n".join(quoted).encode("utf-8", "replace"))
    try:
        text = propose_layout(path)
    except UserError:
        return
    tomllib.loads(text)
    try:
        preview_text(path, text)
    except UserError as error:
        pytest.fail(f"{error}\n{text}")


def test_a_row_of_before_and_after_is_proposed_and_none_of_our_own_columns_shown(tmp_path):
    path = tmp_path / "wheels.csv"
    rows = "1L,0.2,0.1,1.2\n1R,0.2,0.1,1.2\n"
    path.write_text(f"Bramwick,,,\n,Hollow (in),,Flange (in)\nWheel,before,after,\n{rows}")
    text = propose_layout(path)
    (table,) = tomllib.loads(text)["table"]
    assert table["spread"]["headings"] == ["quantity", "stage"]
    (shown,) = preview_text(path, text)
    assert shown.rows["quantity"].tolist() == ["Hollow", "Hollow", "Flange"] * 2
    assert shown.unused == ()
