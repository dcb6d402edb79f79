"""Sheets of a railway's own make, read through a layout. The railway is invented."""

import pytest
import xlsxwriter

from ingest.errors import UnreadableFile
from ingest.layouts.apply import read_tables
from ingest.layouts.layout import load_layout, parse_layout
from ingest.names.positions import canonical
from ingest.notation.dates import parse_dates
from ingest.notation.values import parse_values


@pytest.fixture
def sheet(tmp_path):
    def write(text, name="sheet.csv", encoding="utf-8"):
        path = tmp_path / name
        path.write_bytes(text.encode(encoding))
        return path

    return write


def rows(tables, *columns):
    (table,) = tables
    names = {name.partition(" [")[0]: name for name in table.columns}
    return [tuple(row) for row in table.rows[[names[column] for column in columns]].to_numpy()]


LONG = """\
Bramwick, wheels and boxes
;;;
Ref;Tag;Messung (mm);Bemerkung
B-D2L-HOLLOW;03.04.05;1,5;naß
B-D2L-FLANGE;"do.";28,4;
;;;
Summe;;29,9;
nothing below counts;;;
"""


def test_a_long_sheet_of_other_headings(sheet):
    layout = parse_layout(
        """
        dates = "dmy"
        decimal = ","
        encoding = "cp1252"
        [[table]]
        table = "readings"
        header = 3
        until = "Summe*"
        fill = "date"
        columns = { "Ref" = "point", "Tag" = "date", "Messung (mm)" = "value", "Bemerkung" = "note" }
        fixed = { observer = "A.V." }
        """
    )
    (table,) = read_tables(sheet(LONG, encoding="cp1252"), layout)
    assert table.table == "readings"
    assert table.columns == ["point", "date", "value [mm]", "note", "observer"]
    assert table.rows.index.tolist() == [4, 5]
    assert table.rows.loc[5].tolist() == ["B-D2L-FLANGE", "03.04.05", "28,4", "", "A.V."]
    assert (
        parse_dates(table.rows["date"], table.date_order)["date"].dt.date.astype(str).tolist()
        == ["2005-04-03"] * 2
    )
    assert parse_values(table.rows["value [mm]"], decimal=table.decimal)["value"].tolist() == [1.5, 28.4]


def test_a_row_for_each_position_a_column_for_each_quantity(sheet):
    text = "Wheel,Hollow (1/64 in),Flange (in),Remarks\nD1L,2,1 1/4,\nD1R,-,1-3/16,wet\n"
    layout = parse_layout(
        """
        [[table]]
        table = "readings"
        nothing = ["-"]
        columns = { "Wheel" = "position", "Remarks" = "note" }
        fixed = { vehicle = "Bramwick", component = "driver tire", date = "1998-05-03" }
        [table.spread]
        headings = "quantity"
        """
    )
    tables = read_tables(sheet(text), layout)
    assert rows(tables, "position", "quantity", "value", "unit", "note", "vehicle", "date") == [
        ("D1L", "Hollow", "2", "1/64 in", "", "Bramwick", "1998-05-03"),
        ("D1L", "Flange", "1 1/4", "in", "", "Bramwick", "1998-05-03"),
        ("D1R", "Flange", "1-3/16", "in", "wet", "Bramwick", "1998-05-03"),
    ]
    assert tables[0].rows.index.tolist() == [2, 2, 3]


def test_a_column_for_each_date(sheet):
    text = "Point,03/04/98,25/12/98\nP1,1/16,3/32\nP2,,1/8\n"
    layout = parse_layout(
        """
        dates = "dmy"
        [[table]]
        table = "readings"
        columns = { Point = "point" }
        spread = { headings = "date" }
        """
    )
    assert rows(read_tables(sheet(text), layout), "point", "date", "value") == [
        ("P1", "03/04/98", "1/16"),
        ("P1", "25/12/98", "3/32"),
        ("P2", "25/12/98", "1/8"),
    ]


def test_a_block_for_each_date(sheet):
    text = (
        "Driving boxes of Bramwick\nInspection: 3 May 1998;;\nBox;left;right\n1;0,012;0,014\n2;;0,010\n"
        "Inspection: 4 June 1999;;\nBox;left;right\n1;0,013;\n"
    )
    layout = parse_layout(
        """
        decimal = ","
        [[table]]
        table = "readings"
        header = 2
        blocks = { starts = "Inspection*" }
        cells = { date = "A1" }
        columns = { Box = "position" }
        fixed = { component = "driving box", unit = "in" }
        spread = { columns = ["left", "right"], headings = "position" }
        """
    )
    tables = read_tables(sheet(text), layout)
    assert rows(tables, "date", "position", "value") == [
        ("3 May 1998", "1 left", "0,012"),
        ("3 May 1998", "1 right", "0,014"),
        ("3 May 1998", "2 right", "0,010"),
        ("4 June 1999", "1 left", "0,013"),
    ]
    assert tables[0].rows.index.tolist() == [4, 4, 5, 8]


def test_merged_cells_in_headings_and_labels(tmp_path):
    path = tmp_path / "wheels.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet("Wheels 1998")
        page.write_row("A1", ["Engine:", "Bramwick"])
        page.merge_range("A3:A4", "Axle")
        page.merge_range("B3:B4", "Side")
        page.merge_range("C3:D3", "May 3, 1998")
        page.merge_range("E3:F3", "June 4, 1999")
        page.write_row("C4", ["Hollow (thou)", "Flange (in)"] * 2)
        page.merge_range("A5:A6", "Driver 1")
        page.write_row("B5", ["L", 31, 1.25, 40, 1.2])
        page.write_row("B6", ["R", 33])
        page.merge_range("D6:F6", "1 3/16")
        page.write_row("A8", ["Average", "", 32, 1.22, 40, 1.2])
        book.add_worksheet("Notes").write("A1", "Nothing to measure here")
    layout = parse_layout(
        """
        ignore = ["Notes"]
        [[table]]
        table = "readings"
        sheet = "Wheels*"
        header = [3, 4]
        skip = "Average*"
        cells = { vehicle = "B1" }
        columns = { "Axle" = "position", "Side" = "position" }
        spread = { columns = "C:F", headings = ["date", "quantity"] }
        """
    )
    found = rows(read_tables(path, layout), "vehicle", "position", "date", "quantity", "value", "unit")
    assert found == [
        ("Bramwick", "Driver 1 L", "May 3, 1998", "Hollow", "31", "thou"),
        ("Bramwick", "Driver 1 L", "May 3, 1998", "Flange", "1.25", "in"),
        ("Bramwick", "Driver 1 L", "June 4, 1999", "Hollow", "40", "thou"),
        ("Bramwick", "Driver 1 L", "June 4, 1999", "Flange", "1.2", "in"),
        ("Bramwick", "Driver 1 R", "May 3, 1998", "Hollow", "33", "thou"),
        ("Bramwick", "Driver 1 R", "May 3, 1998", "Flange", "1 3/16", "in"),  # merged over three, read once
    ]


def test_a_merged_value_of_a_long_sheet_is_one_reading(tmp_path):
    path = tmp_path / "boxes.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet()
        page.write_row("A1", ["Box", "Day", "Value"])
        page.write_column("A2", ["L1", "L2"])
        page.merge_range("B2:B3", "3 May 1998")
        page.merge_range("C2:C3", "0.012")
    layout = parse_layout(
        '[[table]]\ntable = "readings"\ncolumns = { Box = "position", Day = "date", Value = "value" }'
    )
    assert rows(read_tables(path, layout), "position", "date", "value") == [
        ("L1", "3 May 1998", "0.012"),
        ("L2", "3 May 1998", ""),  # of which box it is, the sheet does not say
    ]


def test_a_heading_over_several_columns_of_a_csv_file(sheet):
    text = ",Hollow (thou),,Flange (in),\nAxle,L,R,L,R\nDriver 1,31,33,1.25,1.2\n"
    layout = parse_layout(
        """
        [[table]]
        table = "readings"
        header = [1, 2]
        columns = { "Axle" = "position" }
        spread = { columns = "B:E", headings = ["quantity", "position"] }
        """
    )
    found = rows(read_tables(sheet(text), layout), "position", "quantity", "value", "unit")
    assert found == [
        ("Driver 1 L", "Hollow", "31", "thou"),
        ("Driver 1 R", "Hollow", "33", "thou"),
        ("Driver 1 L", "Flange", "1.25", "in"),
        ("Driver 1 R", "Flange", "1.2", "in"),
    ]
    assert canonical(found[0][0]) == "driver 1 left"


def test_columns_by_their_letters(sheet):
    layout = parse_layout(
        '[[table]]\ntable = "readings"\nheader = 1\ncolumns = { A = "point", C = "value", B = "date" }'
    )
    text = "x,y,z\nP1,1998-05-03,2\n"
    assert rows(read_tables(sheet(text), layout), "point", "date", "value") == [("P1", "1998-05-03", "2")]


def test_a_layout_without_a_row_of_headings_finds_them_below_titles(sheet):
    layout = parse_layout('[[table]]\ntable = "readings"\ncolumns = { Ref = "point", Tag = "date" }')
    text = "Wheels of 1998,,\n,,\nRef,Tag,value\nP1,3 May 1998,2\n"
    assert rows(read_tables(sheet(text), layout), "point", "date", "value") == [("P1", "3 May 1998", "2")]


def test_the_railways_own_words(sheet):
    layout = parse_layout(
        """
        words.position = { "links" = "left", "Kuppelachse" = "driver", "Mitte" = "drawbar" }
        words.action = { "abgedreht" = "cut" }
        [[table]]
        table = "work"
        """
    )
    text = (
        "vehicle,component,position,date,action\nB,tire,Kuppelachse 2 links,1998-05-03,Abgedreht\n"
        "B,pin,MITTE,1998-05-03,cut\n"
    )
    assert rows(read_tables(sheet(text), layout), "position", "action") == [
        ("driver 2 left", "cut"),
        ("drawbar", "cut"),
    ]


def test_a_sheet_that_no_table_of_the_layout_fits_is_read_as_it_is(tmp_path):
    path = tmp_path / "two.xlsx"
    with xlsxwriter.Workbook(path) as book:
        for name in ("Wheels", "Log"):
            page = book.add_worksheet(name)
            page.write_row("A1", ["vehicle", "date", "odometer"])
            page.write_row("A2", ["B", "03/04/98", 5])
    tables = read_tables(path, parse_layout('dates = "mdy"\n[[table]]\ntable = "mileage"\nsheet = "Log"'))
    assert [(table.sheet, table.table) for table in tables] == [("Wheels", None), ("Log", "mileage")]
    assert {table.date_order for table in tables} == {"mdy"}  # what is stated holds for the file


def test_a_row_with_more_cells_than_headings_is_held_back(sheet):
    layout = parse_layout('[[table]]\ntable = "readings"\nheader = 2\ncolumns = { Ref = "point" }')
    (table,) = read_tables(
        sheet("Title,of,the,sheet\nRef,date,value\nP1,1998-05-03,1,5\nP2,1998-05-03,2\n"), layout
    )
    assert table.problems.keys() == {3}


def test_problems_of_rows_are_kept(sheet):
    layout = parse_layout('[[table]]\ntable = "readings"\ncolumns = { Ref = "point" }')
    (table,) = read_tables(sheet("Ref,date,value\nP\x001,1998-05-03,2\n"), layout)
    assert table.problems.keys() == {2}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "describes no"),
        ("not toml", "not TOML"),
        ('[[table]]\ntable = "reading"', "one of vehicles"),
        ("[[table]]\nheader = 3", "table = ... is missing"),
        ('datas = "dmy"\n[[table]]\ntable = "readings"', "did you mean dates"),
        ('dates = "dym"\n[[table]]\ntable = "readings"', "one of dmy, mdy, ymd"),
        ('decimal = ";"\n[[table]]\ntable = "readings"', "decimal"),
        ('delimiter = ";;"\n[[table]]\ntable = "readings"', "one character"),
        ('[[table]]\ntable = "readings"\nheader = "three"', "row number"),
        ('[[table]]\ntable = "readings"\nheader = 0', "row number"),
        ('[[table]]\ntable = "readings"\nfirst = "x"', "whole number"),
        ('[[table]]\ntable = "readings"\ncells = { date = "22" }', "cell like B2"),
        ('[[table]]\ntable = "readings"\ncolumns = { a = ["b"] }', "must be a text"),
        ('[[table]]\ntable = "readings"\nskip = [1]', "list of texts"),
        ('[[table]]\ntable = "readings"\nspread = { column = "A" }', "did you mean columns"),
        ('[[table]]\ntable = "readings"\nblocks = { column = "A" }', "starts is missing"),
        ('table = "readings"', "was expected"),
        ("table = [1]", "section"),
        ('words = { position = 3 }\n[[table]]\ntable = "readings"', "section of texts"),
    ],
)
def test_what_is_no_layout(text, words):
    with pytest.raises(UnreadableFile, match=words):
        parse_layout(text)


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ('columns = { "Wert" = "value" }', "no column headed 'Wert'.*found: 'Ref', 'date', 'value'"),
        ("header = 9", "no row 9"),
        ('cells = { vehicle = "Z9" }', "no cell 'Z9'"),
        ('blocks = { starts = "Datum*" }', "no cell of column A"),
        ('blocks = { starts = "x", column = "ZZ" }', "no column 'ZZ'"),
        ('spread = { columns = "Wert" }', "no column 'Wert'"),
    ],
)
def test_a_layout_that_does_not_fit_the_sheet(sheet, entry, words):
    layout = parse_layout(f'[[table]]\ntable = "readings"\n{entry}')
    with pytest.raises(UnreadableFile, match=words):
        read_tables(sheet("Ref,date,value\nP1,1998-05-03,2\n"), layout)


def test_loading_a_layout_file(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text('[[table]]\ntable = "readings"', encoding="utf-8")
    assert load_layout(path).tables[0].table == "readings"
    with pytest.raises(UnreadableFile, match="cannot be read"):
        load_layout(tmp_path / "none.toml")
    path.write_bytes(b"\xff")
    with pytest.raises(UnreadableFile, match="not UTF-8"):
        load_layout(path)
