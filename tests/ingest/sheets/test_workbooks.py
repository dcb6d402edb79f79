import datetime as dt

import openpyxl
import pytest
import xlsxwriter

from ingest.layouts.apply import read_tables
from ingest.sheets.contents import HIDDEN_ROW
from ingest.sheets.readers import read_cells
from ingest.sheets.workbook import read_workbook


@pytest.fixture
def book(tmp_path):
    """A workbook under construction; ``tables()`` closes and reads it."""

    class Book(xlsxwriter.Workbook):
        path = tmp_path / "book.xlsx"

        def tables(self):
            self.close()
            return read_tables(self.path)

        def cells(self):
            self.close()
            return read_cells(self.path)

    return Book(str(Book.path), {"strings_to_numbers": False})


def test_every_filled_sheet_is_a_table(book):
    for name in ("Readings", "Empty", "Work"):
        sheet = book.add_worksheet(name)
        if name != "Empty":
            sheet.write_row(0, 0, ["point", "date", name.lower()])
            sheet.write_row(1, 0, ["P1", "1998-05-03", "1 3/8"])
    book.add_chartsheet("Chart")
    first, second = book.tables()
    assert (first.sheet, second.sheet) == ("Readings", "Work")
    assert first.columns == ["point", "date", "readings"]
    assert first.rows.loc[2].tolist() == ["P1", "1998-05-03", "1 3/8"]


def test_hidden_sheets_are_read_too(book):
    book.add_worksheet("Front").write(0, 0, "point")
    hidden = book.add_worksheet("Behind")
    hidden.write(0, 0, "point")
    hidden.hide()
    assert [table.sheet for table in book.tables()] == ["Front", "Behind"]


def test_cells_of_every_kind_come_as_the_text_they_show(book):
    sheet = book.add_worksheet()
    day = book.add_format({"num_format": "d mmm yyyy"})
    clock = book.add_format({"num_format": "d mmm yyyy hh:mm"})
    fraction = book.add_format({"num_format": "# ?/?"})
    sheet.write_row(0, 0, list("abcdefghij"))
    sheet.write_number(1, 0, 1.375, fraction)
    sheet.write_number(1, 1, 0.1 + 0.2)
    sheet.write_number(1, 2, 123456789)
    sheet.write_datetime(1, 3, dt.datetime(1998, 5, 3), day)
    sheet.write_datetime(1, 4, dt.datetime(1998, 5, 3, 10, 30), clock)
    sheet.write_boolean(1, 5, True)
    sheet.write_string(1, 6, "n/a")
    sheet.write_string(1, 7, "=1+1")
    sheet.write_string(1, 8, " 1 3/8 ")
    sheet.write_formula(1, 9, "=1+1", None, 2)
    (table,) = book.tables()
    assert table.rows.loc[2].tolist() == [
        "1.375",
        "0.3",  # a spreadsheet keeps fifteen figures
        "123456789",
        "1998-05-03",
        "1998-05-03 10:30:00",
        "TRUE",
        "n/a",
        "=1+1",
        "1 3/8",
        "2",
    ]
    assert table.problems == {}


def test_rows_and_columns_keep_their_places(book):
    sheet = book.add_worksheet()
    sheet.write_row(3, 2, ["point", "value"])
    sheet.write_row(6, 2, ["P1", 2])
    (cells,) = book.cells()
    assert cells.cells.loc[7].tolist() == ["", "", "P1", "2"]
    (table,) = read_tables(book.path)
    assert table.columns == ["point", "value"]
    assert table.rows.index.tolist() == [7]


def test_a_formula_without_a_result_is_reported(tmp_path):
    """One library writes no result, another writes 0 and asks the spreadsheet to calculate."""
    openpyxl_book = openpyxl.Workbook()
    openpyxl_book.active.append(["point", "value"])
    openpyxl_book.active.append(["P1", "=1+1"])
    openpyxl_book.active.append(["P2", 5])
    openpyxl_book.save(tmp_path / "a.xlsx")
    with xlsxwriter.Workbook(tmp_path / "b.xlsx") as other:
        sheet = other.add_worksheet()
        sheet.write_row(0, 0, ["point", "value"])
        sheet.write_string(1, 0, "P1")
        sheet.write_formula(1, 1, "=1+1")
        sheet.write_row(2, 0, ["P2", 5])
    for name in ("a.xlsx", "b.xlsx"):
        (table,) = read_tables(tmp_path / name)
        assert table.problems.keys() == {2}
        assert "cell B2 is a formula whose result is not in the file" in table.problems[2]


def test_an_error_value_is_reported(book):
    sheet = book.add_worksheet()
    sheet.write_row(0, 0, ["point", "value"])
    sheet.write_string(1, 0, "P1")
    sheet.write_formula(1, 1, "=1/0", None, "#DIV/0!")
    (table,) = book.tables()
    assert "cell B2 holds the error #DIV/0!" in table.problems[2]


def test_a_real_zero_is_no_missing_result(book):
    sheet = book.add_worksheet()
    sheet.write_row(0, 0, ["point", "value"])
    sheet.write_row(1, 0, ["P1", 0])
    (table,) = book.tables()
    assert table.problems == {}
    assert table.rows.loc[2, "value"] == "0"


def test_the_problem_stands_on_its_own_sheet(book):
    for name in ("First", "Second & last"):
        sheet = book.add_worksheet(name)
        sheet.write_row(0, 0, ["point", "value"])
        sheet.write_row(1, 0, ["P1", 1])
    sheet.write_formula(2, 1, "=A1")
    first, second = book.tables()
    assert first.problems == {}
    assert second.problems.keys() == {3}


def test_merged_areas_are_known(book):
    sheet = book.add_worksheet()
    sheet.merge_range(1, 1, 2, 3, "over six cells")
    sheet.write(4, 0, "x")
    (cells,) = book.cells()
    assert cells.merged == ((2, 1, 3, 3),)
    assert (cells.cells == "over six cells").to_numpy().sum() == 1


def test_rich_text_and_line_ends(book):
    sheet = book.add_worksheet()
    sheet.write_rich_string(0, 0, "po", book.add_format({"bold": True}), "int")
    sheet.write_string(0, 1, "value\n(in)")
    sheet.write_row(1, 0, ["P1", "1"])
    (table,) = book.tables()
    assert table.columns == ["point", "value (in)"]


def test_the_unit_of_a_format_is_read_in_a_hidden_row_too(book):
    sheet = book.add_worksheet()
    sheet.write_row(0, 0, ["point", "value"])
    sheet.write(1, 0, "P1")
    sheet.write_number(1, 1, 14.2, book.add_format({"num_format": '0.0" mm"'}))
    sheet.set_row(1, None, None, {"hidden": True})
    book.close()
    (found,) = read_workbook("book.xlsx", book.path.read_bytes(), {})
    assert found.columns[1].to_pylist()[1] == f"14.2 mm{HIDDEN_ROW}"
