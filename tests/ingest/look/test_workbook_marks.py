"""What a workbook says of its cells, struck out or hidden or summed, is never silently passed over."""

import datetime as dt

import pytest
import xlsxwriter
from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font

from ingest.sheets.marks import hides, unit_in_format
from ingest.sheets.remarks import behind, told


@pytest.fixture
def book(folder):
    """A sheet of five readings, changed by a function before it is saved."""

    def write(change, name="book.xlsx"):
        book = Workbook()
        sheet = book.active
        sheet.append(["point", "date", "value", "odometer", "note"])
        for month, value in enumerate([3.4, 3.35, 3.3, 3.25, 3.2], start=2):
            sheet.append(["THICK", dt.date(2001, month, 14), value, 10000 + 150 * month, "a"])
        change(sheet)
        book.save(folder / name)
        return folder / name

    return write


def _struck(sheet):
    sheet["C3"].font = Font(strike=True)


def _hidden_row(sheet):
    sheet.row_dimensions[4].hidden = True


def _hidden_cell(sheet):
    sheet["C5"].number_format = ";;;"


def _hidden_sheet(sheet):
    sheet.parent.create_sheet("seen")
    sheet.sheet_state = "hidden"


def _total(sheet):
    sheet.append(["THICK", dt.date(2001, 7, 14), 3.3, 11000, "Mittelwert"])


@pytest.mark.parametrize(
    ("change", "kind", "rows"),
    [
        (_struck, "struck", [3]),
        (_hidden_row, "hidden", [4]),
        (_hidden_cell, "hidden", [5]),
        (_hidden_sheet, "hidden", [2, 3, 4, 5, 6]),
        (_total, "sums", [7]),
    ],
)
def test_what_may_be_no_entry_is_asked_about(book, look, milesleft, known, store, change, kind, rows):
    path = book(change)
    asked, _ = look(path)
    assert list(asked) == [kind]
    assert asked[kind]["about"]["rows"] == rows
    assert asked[kind]["answers"] == ["leave", "take"]
    milesleft("add", path, "--answer", f"{asked[kind]['id']}=leave")
    assert sorted(store.read("readings")["source_row"]) == sorted(set(range(2, 7)) - set(rows))
    again = milesleft("add", path, "--json")
    assert (again["accepted"], again["held_back"], again["questions"]) == (0, 0, [])


def test_a_formula_over_the_rows_above_is_asked_about(look, known, folder):
    with xlsxwriter.Workbook(folder / "book.xlsx") as book:
        sheet = book.add_worksheet()
        lines = [["point", "date", "value"], ["THICK", "2001-02-01", 3.4], ["THICK", "2001-03-01", 3.2]]
        for number, line in enumerate(lines):
            sheet.write_row(number, 0, line)
        sheet.write_row(3, 0, ["THICK", "2001-04-01"])
        sheet.write_formula(3, 2, "=AVERAGE(C2:C3)", None, 3.3)
        sheet.write_row(4, 0, ["THICK", "2001-05-01"])
        sheet.write_formula(4, 2, "=AVERAGE(E5:G5)", None, 3.3)
    asked, _ = look(folder / "book.xlsx")
    assert asked["sums"]["about"]["rows"] == [4]


def test_rows_that_count_are_stored_when_somebody_says_so(book, look, milesleft, known, store):
    path = book(_hidden_row)
    asked, _ = look(path)
    milesleft("add", path, "--answer", f"{asked['hidden']['id']}=take")
    assert len(store.read("readings")) == 5


def test_a_hidden_column_is_asked_about(book, look, milesleft, known, store):
    def hide(sheet):
        sheet.column_dimensions["D"].hidden = True

    path = book(hide)
    asked, _ = look(path)
    assert asked["hidden"]["about"]["column"] == "odometer"
    milesleft("add", path, "--answer", f"{asked['hidden']['id']}=leave")
    assert set(store.read("readings")["odometer_source"]) == {"interpolated"}


def test_two_hidden_columns_are_both_left_out(book, look, milesleft, known, store):
    def hide(sheet):
        for column in "DE":
            sheet.column_dimensions[column].hidden = True

    path = book(hide)
    asked = [question["id"] for question in milesleft("add", path, "--look", "--json")["questions"]]
    assert len(asked) == 2
    milesleft("add", path, *(word for one in asked for word in ("--answer", f"{one}=leave")))
    rows = store.read("readings")
    assert set(rows["odometer_source"]) == {"interpolated"}
    assert set(rows["note"]) == {""}


@pytest.mark.parametrize("code", [";;;", ";", ";;", ";0;", "[White];;", '"";"";""', "[Red] ; "])
def test_formats_that_show_nothing(code):
    assert {"+", "0"} <= hides(code)


@pytest.mark.parametrize("code", ["", "General", "[Red]0;0", '"worn";0', "0.00", '0;"-"0;"nil"', '0";"'])
def test_formats_that_show_something(code):
    assert not hides(code)


@pytest.mark.parametrize("code", ["0;-0;;@", '0.0" mm";-0.0;""', '_-* #,##0_-;-* #,##0_-;_-* "-"??_-;_-@_-'])
def test_formats_that_show_nothing_of_zero_alone(code):
    assert hides(code) == {"0"}


def test_a_zero_that_its_format_hides_is_asked_about_and_no_other_value(book, look, known):
    def formats(sheet):
        for row in range(2, 7):
            sheet.cell(row, 3).number_format = "0.000;-0.000;;@"
        sheet["C4"] = 0

    asked, _ = look(book(formats))
    assert [asked["hidden"]["about"]["rows"], len(asked)] == [[4], 1]


def test_zeros_that_a_sheet_does_not_show_are_asked_about(book, look, known):
    def view(sheet):
        sheet.sheet_view.showZeros = False
        sheet["C4"] = 0

    asked, _ = look(book(view))
    assert asked["hidden"]["about"]["rows"] == [4]


def test_a_count_of_parts_by_its_format_is_read_in_whole_units(book, look, known):
    def formats(sheet):
        for row in range(2, 7):
            sheet.cell(row, 3).value *= 64
            sheet.cell(row, 3).number_format = '0" 1/64 in"'

    asked, read = look(book(formats))
    assert asked == {}
    assert (read[2]["read"]["value"], read[2]["read"]["unit"]) == (3.4, "in")


def test_units_that_a_format_shows_are_read(book, look, known):
    def formats(sheet):
        for row in range(2, 7):
            sheet.cell(row, 3).value *= 1000
            sheet.cell(row, 3).number_format = '0" thou"'
        sheet["C6"], sheet["C6"].number_format = 82.5, '0.0" mm"'

    asked, read = look(book(formats))
    assert asked == {}
    assert (read[2]["read"]["value"], read[2]["read"]["unit"]) == (3400, "thou")
    assert (read[6]["read"]["value"], read[6]["read"]["unit"]) == (82.5, "mm")
    assert read[6]["written"]["value"] == "82.5 mm"


def test_a_number_cell_is_a_number_whatever_the_mark_of_texts(book, look, milesleft, known, folder):
    def texts(sheet):
        sheet["C2"], sheet["C3"], sheet["C4"] = "3,4", "3,375", 3.365

    path = book(texts)
    asked, read = look(path)
    assert asked == {}
    assert [read[row]["read"]["value"] for row in (2, 3, 4)] == [3.4, 3.375, 3.365]
    layout = folder / "sheet.toml"
    layout.write_text('decimal = ","\n[[table]]\ntable = "readings"\n')
    _, read = look(path, "--layout", layout)
    assert [read[row]["read"]["value"] for row in (2, 3, 4)] == [3.4, 3.375, 3.365]


@pytest.mark.parametrize(
    ("code", "unit"),
    [('0" thou"', "thou"), (r"0.00\ \m\m", "mm"), ('#,##0.0" km";-0" km"', "km"), ("0%", "%"), ("# ?/?", "")],
)
def test_the_unit_in_a_format(code, unit):
    assert unit_in_format(code) == unit


@pytest.mark.parametrize("code", ["General", "0.00", "yyyy-mm-dd", '"No. "0', "0.0_);(0.0)", '0" pieces"'])
def test_formats_without_a_unit(code):
    assert unit_in_format(code) == ""


@pytest.mark.parametrize(
    "said",
    [
        "L.W.:\nnot measured, guessed from the other side",
        "[Threaded comment]\n\nThis version shows it so.\n\nComment:\n    estimated",
    ],
)
def test_a_comment_on_a_cell_is_read_as_the_note_of_its_row(look, milesleft, store, book, known, said):
    path = book(lambda sheet: setattr(sheet["C4"], "comment", Comment(said, "L.W.")))
    asked, _rows = look(path)
    assert list(asked) == ["measured"]
    assert asked["measured"]["about"]["rows"] == [4]
    milesleft("add", path, "--answer", f"{asked['measured']['id']}=take")
    notes = store.read("readings").set_index("value_text")["note"]
    assert notes["3.3"].startswith("a; ")
    assert "This version" not in notes["3.3"]
    assert [note for value, note in notes.items() if value != "3.3"] == ["a"] * 4


def test_a_comment_on_one_of_several_columns_goes_with_its_value_alone(look, milesleft, store, folder, known):
    book = Workbook()
    book.active.append(["point", dt.date(2001, 2, 14), dt.date(2001, 3, 14)])
    book.active.append(["THICK", 3.4, 3.35])
    book.active["C2"].comment = Comment("checked twice: \u0141ukasz", "x")
    book.save(folder / "wide.xlsx")
    asked, _ = look(folder / "wide.xlsx")
    assert list(asked) == ["layout"]
    milesleft("add", folder / "wide.xlsx", "--answer", f"{asked['layout']['id']}=as_proposed")
    assert store.read("readings")["note"].tolist() == ["", "checked twice: \u0141ukasz"]


def test_characters_of_no_comment_do_no_harm():
    assert told(behind("Łw")) == "Łw"
    assert told(behind("Łw")[:-2]) != ""
    assert told("\ue0f1") == ""
    assert told(behind("a\u202eb")) == "a<U+202E>b"


def test_characters_like_marks_in_a_cell_are_not_cut_from_it(milesleft, store, folder, known):
    book = Workbook()
    book.active.append(["point", "date", "value"])
    for day, value in enumerate(["3.4\ue123", "3.39\ue0f8\ue165", "3.38\ue0f2", "3.37"], start=1):
        book.active.append(["THICK", dt.date(2001, 2, day), value])
    book.save(folder / "symbols.xlsx")
    told = milesleft("add", folder / "symbols.xlsx", "--json")
    assert (told["accepted"], told["held_back"]) == (1, 3)
