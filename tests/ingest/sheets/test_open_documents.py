import io
import zipfile

import pytest

from ingest.errors import UnreadableFile
from ingest.layouts.apply import read_tables
from ingest.sheets.contents import HIDDEN_CELL, HIDDEN_COLUMN, HIDDEN_ROW, HIDDEN_SHEET, STRUCK, SUM
from ingest.sheets.opendocument import read_open_document
from ingest.sheets.readers import find_files, read_cells
from ingest.sheets.remarks import told

KIND = "application/vnd.oasis.opendocument.spreadsheet"
PARTS = {
    "mimetype": KIND,
    "META-INF/manifest.xml": (
        '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{KIND}"/></manifest:manifest>'
    ),
}
STYLES = (
    '<style:style style:name="gone" style:family="table-cell"><style:text-properties '
    'style:text-line-through-style="solid"/></style:style>'
    '<style:style style:name="child" style:family="table-cell" style:parent-style-name="gone"/>'
    '<style:style style:name="unseen" style:family="table"><style:table-properties table:display="false"/>'
    "</style:style>"
)


def text(words, **attributes):
    more = "".join(f' table:{name.replace("_", "-")}="{value}"' for name, value in attributes.items())
    return f'<table:table-cell office:value-type="string"{more}><text:p>{words}</text:p></table:table-cell>'


def number(value, shown=None, **attributes):
    more = "".join(f' table:{name.replace("_", "-")}="{value}"' for name, value in attributes.items())
    return (
        f'<table:table-cell office:value-type="float" office:value="{value}"{more}>'
        f"<text:p>{shown or value}</text:p></table:table-cell>"
    )


def row(*cells, **attributes):
    more = "".join(f' table:{name.replace("_", "-")}="{value}"' for name, value in attributes.items())
    return f"<table:table-row{more}>{''.join(cells)}</table:table-row>"


def sheet(*rows, name="Readings", columns="", style=""):
    more = f' table:style-name="{style}"' if style else ""
    return f'<table:table table:name="{name}"{more}>{columns}{"".join(rows)}</table:table>'


def document(*sheets, kind=KIND, head="", **parts):
    """A workbook of the free formats, written by hand."""
    spaces = "".join(
        f' xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "table", "text", "style")
    )
    content = (
        f"{head}<office:document-content{spaces}><office:automatic-styles>{STYLES}</office:automatic-styles>"
        f"<office:body><office:spreadsheet>{''.join(sheets)}</office:spreadsheet></office:body>"
        "</office:document-content>"
    )
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, words in {**PARTS, "mimetype": kind, "content.xml": content, **parts}.items():
            archive.writestr(part, words)
    return buffer.getvalue()


HEAD = row(*map(text, ("point", "date", "value")))
DAY = (
    '<table:table-cell office:value-type="date" office:date-value="1998-05-03"><text:p>3 May</text:p>'
    "</table:table-cell>"
)


@pytest.fixture
def read(tmp_path):
    """Tables of a workbook given as bytes."""

    def reader(content, name="book.ods"):
        (tmp_path / name).write_bytes(content)
        return read_tables(tmp_path / name)

    return reader


def test_sheets_of_the_free_formats_are_tables(read):
    first = sheet(
        HEAD, row(text("P1"), DAY, number(1.375, "1 3/8")), row(text("P2"), DAY, text("1 3/8&quot;"))
    )
    empty = sheet(
        row('<table:table-cell table:number-columns-repeated="16384"/>', number_rows_repeated=1048576),
        name="Empty",
    )
    one, two = read(document(first, empty, sheet(HEAD, row(text("P3"), DAY, number(2)), name="More")))
    assert (one.sheet, two.sheet) == ("Readings", "More")
    assert one.rows.to_numpy().tolist() == [["P1", "1998-05-03", "1.375"], ["P2", "1998-05-03", '1 3/8"']]
    assert one.rows.index.tolist() == [2, 3]
    assert one.problems == two.problems == {}


def test_merged_headings_are_known(read, tmp_path):
    wide = text("driver 1", number_columns_spanned=2) + "<table:covered-table-cell/>"
    high = text("Engine", number_rows_spanned=2)
    read(document(sheet(row(high, wide), row("<table:covered-table-cell/>", text("left"), text("right")))))
    (cells,) = read_cells(tmp_path / "book.ods")
    assert sorted(cells.merged) == [(1, 0, 2, 0), (1, 1, 1, 2)]


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        (row(text("P1"), DAY, number(0, "Err:502", formula="of:=A1")), "holds the error Err:502"),
        (row(text("P1"), DAY, '<table:table-cell table:formula="of:=A1"/>'), "result is not in the file"),
    ],
)
def test_what_was_not_calculated_is_not_believed(read, cells, words):
    (table,) = read(document(sheet(HEAD, cells, row(text("P2"), DAY, number(2)))))
    assert list(table.problems) == [2]
    assert words in table.problems[2]


@pytest.fixture
def marks(tmp_path):
    """Sheets of a workbook before its marks are taken off: texts by row."""

    def reader(*sheets):
        found = read_open_document("book.ods", document(*sheets))
        return [list(zip(*(column.to_pylist() for column in each.columns), strict=True)) for each in found]

    return reader


@pytest.mark.parametrize(
    ("cells", "place", "mark"),
    [
        (row(text("P1"), DAY, number(1, style_name="gone")), 2, STRUCK),
        (row(text("P1"), DAY, number(1, style_name="child")), 2, STRUCK),
        (row(text('<text:span text:style-name="gone">P1</text:span>'), DAY, number(1)), 0, STRUCK),
        (row(text("P1"), DAY, number(1), visibility="collapse"), 0, HIDDEN_ROW),
        (row(text("P1"), DAY, number(1), visibility="filter"), 2, HIDDEN_ROW),
        (row(text("all"), DAY, number(1, formula="of:=AVERAGE([.C1:.C1])")), 2, SUM),
    ],
)
def test_what_is_crossed_out_hidden_or_summed_is_marked(marks, cells, place, mark):
    ((_, first, second),) = marks(sheet(HEAD, cells, row(text("P2"), DAY, number(2))))
    assert first[place].endswith(mark)
    assert mark not in "".join(second)


def test_units_that_a_format_shows_and_hidden_columns_and_sheets(marks):
    hidden = 'table:number-columns-repeated="2" table:visibility="collapse"'
    columns = f"<table:table-column/><table:table-column {hidden}/>"
    one, two = marks(
        sheet(HEAD, row(text("P1"), DAY, number(14.2, "14.2 mm")), columns=columns),
        sheet(HEAD, row(text("P1"), DAY, number(1)), name="Behind", style="unseen"),
    )
    assert one[1] == ("P1", f"1998-05-03{HIDDEN_COLUMN}", f"14.2 mm{HIDDEN_COLUMN}")
    assert all(cell.endswith(HIDDEN_SHEET) for cell in two[1])


def test_numbers_of_which_their_format_shows_nothing_are_marked(marks):
    """Of ``;;;`` and of a zero that shows a stroke; unless the file writes out no number at all."""
    gone, nil = number(1.5).replace("<text:p>1.5</text:p>", "<text:p/>"), number(0, "-")
    ((_, first, second, third),) = marks(
        sheet(HEAD, row(text("P1"), DAY, gone), row(text("P2"), DAY, nil), row(text("P3"), DAY, number(2)))
    )
    assert [first[2], second[2], third[2]] == [f"1.5{HIDDEN_CELL}", f"0{HIDDEN_CELL}", "2"]
    bare = DAY.replace("<text:p>3 May</text:p>", "")
    ((_, first),) = marks(sheet(HEAD, row(text("P1"), bare, gone)))
    assert first == ("P1", "1998-05-03", "1.5")


def test_a_remark_is_no_part_of_its_cell(read):
    words = "<text:p>read</text:p><text:p>once<text:line-break/>again</text:p>"
    remark = f"<office:annotation><text:h>L.W.</text:h>{words}</office:annotation>"
    cell = f'<table:table-cell office:value-type="string">{remark}<text:p>P1</text:p></table:table-cell>'
    (table,) = read(document(sheet(HEAD, row(cell, DAY, number(1)))))
    assert table.rows.iloc[0].tolist() == ["P1", "1998-05-03", "1"]
    assert [told(marks) for marks in table.marks.iloc[0] if told(marks)] == ["read once again"]


LONG = row(text("x" * 30_000, number_columns_repeated=1000), number_rows_repeated=1000)
FAR = row('<table:table-cell table:number-columns-repeated="1500"/>', number(1), number_rows_repeated=100_000)


BLANKS = (
    '<table:table-cell office:value-type="string"><text:p><text:s text:c="{}"/></text:p></table:table-cell>'
)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (document(sheet(FAR)), "Delete the far cell"),
        (document(sheet(row(text("a"), number_rows_repeated="9" * 30))), "Delete the far cell"),
        (
            document(sheet(row(text("a")), row(text("a"), number_rows_repeated="0099999999"))),
            "Delete the far",
        ),
        (document(sheet(row(BLANKS.format(10**9)))), "repeats one long text"),
        (document(sheet(row(*[BLANKS.format(2_000_000)] * 400))), "repeats one long text"),
        (document(*(sheet(row(text("a")), name=f"s{n}") for n in range(501))), "501 sheets; at most 500"),
        (document(sheet(LONG)), "repeats"),
        (document(sheet(row(number(1, number_columns_repeated=5000)))), "columns"),
        (document(sheet(HEAD), head="<!DOCTYPE x [<!ENTITY a 'b'>]>"), "declares entities"),
        (document(sheet(HEAD) + "</table:table>"), "damaged"),
        (document(sheet(HEAD), sheet(HEAD)), "cannot be told apart"),
        (document(kind="application/vnd.oasis.opendocument.text"), "no workbook"),
        (document(sheet(HEAD), **{"Basic/Standard/Module1.xml": "<a/>"}), "macros"),
        (document(sheet(HEAD), **{"META-INF/manifest.xml": "<manifest:encryption-data/>"}), "password"),
        (b"PK\x03\x04 and nothing more", "damaged"),
        (b"point", "must end in .csv"),
    ],
)
def test_what_is_refused(read, content, words):
    with pytest.raises(UnreadableFile, match=words):
        read(content)


def test_a_workbook_is_known_by_its_content(read):
    content = document(sheet(HEAD, row(text("P1"), DAY, number(1))))
    assert len(read(content, "book.xlsx")[0].rows) == 1
    with pytest.raises(UnreadableFile, match=r"must end in \.xlsx or \.ods"):
        read(content, "book.csv")


@pytest.mark.parametrize(
    ("content", "name", "words"),
    [
        (b"%PDF-1.7 ...", "log.xlsx", "type its readings in"),
        (b"%PDF-1.7 ...", "log.csv", "type its readings in"),
        (b"%PDF-1.7 ...", "log.pdf", "type its readings in"),
        (b"%PDF-1.7 ...", "log.xls", "type its readings in"),
        (b"\x89PNG\r\n", "log.png", "type its readings in"),
        (b"\xd0\xcf\x11\xe0rest", "log.xls", r"save it as \.xlsx"),
        (b"\xd0\xcf\x11\xe0rest", "log.xlsx", r"save it as \.xlsx"),
        (b"\xd0\xcf\x11\xe0rest", "log.ods", r"save it as \.xlsx"),
        (b"<html><table>", "log.xls", "markup"),
        (document(sheet(HEAD)), "log.xls", r"rename it to end in \.xlsx"),
    ],
)
def test_other_kinds_are_named_by_their_content(read, content, name, words):
    with pytest.raises(UnreadableFile, match=words):
        read(content, name)


def test_a_folder_gives_workbooks_of_the_free_formats(tmp_path):
    (tmp_path / "a.ods").write_bytes(b"")
    assert [path.name for path in find_files([tmp_path])] == ["a.ods"]
