import pandas as pd
import pytest

from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.layouts.apply import read_tables
from ingest.sheets.readers import find_files, read_cells

HEAD = "point,date,value\n"


@pytest.fixture
def write(tmp_path):
    def write_(content, name="sheet.csv"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        return path

    return write_


def rows(path):
    (table,) = read_tables(path)
    return {int(row): list(cells) for row, cells in zip(table.rows.index, table.rows.to_numpy(), strict=True)}


def refusal(path, **how):
    with pytest.raises(UnreadableFile) as caught:
        read_cells(path, **how) if how else read_tables(path)
    return str(caught.value)


def test_a_plain_file(write):
    (table,) = read_tables(write(HEAD + "P1,1998-05-03, 1 3/8 \nP2,1998-05-04,n/a\n"))
    assert (table.file, table.sheet, table.columns) == ("sheet.csv", None, ["point", "date", "value"])
    assert table.rows.loc[2].tolist() == ["P1", "1998-05-03", "1 3/8"]
    assert table.rows.loc[3, "value"] == "n/a"  # text stays text
    assert table.problems == {}
    assert table.rows.dtypes.astype(str).unique().tolist() == ["str"]


def test_rows_are_numbered_as_a_spreadsheet_shows_them(write):
    text = '\n\npoint,date,value\nP1,1998-05-03,"1\n3/8"\n\n,,\nP2,1998-05-04,2\n'
    assert rows(write(text)) == {4: ["P1", "1998-05-03", "1\n3/8"], 7: ["P2", "1998-05-04", "2"]}


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(write, end):
    assert rows(write(HEAD.replace("\n", end) + f"P1,1998-05-03,1{end}")) == {2: ["P1", "1998-05-03", "1"]}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-32"])
def test_encodings_that_say_what_they_are(write, encoding):
    path = write("Meßpunkt;date;value\nÄ1;1998-05-03;1⅜\n".encode(encoding))
    (table,) = read_tables(path)
    assert table.columns[0] == "Meßpunkt"
    assert table.rows.iloc[0].tolist() == ["Ä1", "1998-05-03", "1⅜"]


def test_another_encoding_only_where_stated(write):
    path = write("point,date,note\nP1,1998-05-03,über\n".encode("cp1252"))
    words = refusal(path)
    assert "line 2" in words
    assert "0xFC" in words
    assert "layout" in words
    assert read_cells(path, encoding="cp1252")[0].cells.iloc[1, 2] == "über"
    assert "unknown" in refusal(path, encoding="klingon")


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_delimiters(write, mark):
    text = mark.join(["point", "date", "value"]) + "\n" + mark.join(["P1", "1998-05-03", '"a, b; c"']) + "\n"
    assert rows(write(text)) == {2: ["P1", "1998-05-03", "a, b; c"]}


def test_a_semicolon_file_with_decimal_commas(write):
    text = "point;date;value;odometer\n" + "P1;1998-05-03;1,5;12,5\n" * 9
    assert rows(write(text))[2] == ["P1", "1998-05-03", "1,5", "12,5"]


def test_a_title_line_does_not_choose_the_delimiter(write):
    path = write("Bearings, driving boxes, 1998\npoint;date;value\nP1;1998-05-03;1,5\nP2;1998-05-03;1,7\n")
    assert read_cells(path)[0].cells.iloc[1].tolist() == ["point", "date", "value"]


def test_a_stated_delimiter_line(write):
    assert rows(write("sep=;\npoint;date;value\nP1;1998-05-03;1\n")) == {3: ["P1", "1998-05-03", "1"]}


def test_short_rows_are_filled_up_and_long_ones_held_back(write):
    """1,5 in a file parted by commas is two cells; the 1 must not pass for the value."""
    (table,) = read_tables(write(HEAD + "P1,1998-05-03\nP2,1998-05-03,1,5\nP3,1998-05-03,1,,\n"))
    assert table.rows.loc[2, "value"] == ""
    assert table.rows.loc[3, "column D"] == "5"
    assert table.problems.keys() == {3}
    assert "more cells than there are headings (3)" in table.problems[3]


def test_headings_in_several_lines_and_empty_twins(write):
    (table,) = read_tables(write('point,date,"Value\n(in)",note,note\nP1,1998-05-03,1,x,\n'))
    assert table.columns == ["point", "date", "Value (in)", "note"]


def test_two_filled_columns_under_one_heading(write):
    words = refusal(write("point,date,value,value\nP1,1998-05-03,1,2\n"))
    assert "columns C, D" in words
    assert "'value'" in words


@pytest.mark.parametrize(
    ("content", "name", "words"),
    [
        (b"", "a.csv", "empty"),
        (b" \n\n", "a.csv", "empty"),
        (b"\xef\xbb\xbf", "a.csv", "empty"),
        (b",,\n,,\n", "a.csv", "empty"),
        (b"PK\x03\x04rest", "a.csv", "xlsx"),
        (b"%PDF-1.7", "a.csv", "PDF"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a.csv", "password"),
        (b"<!DOCTYPE html><table>", "a.csv", "markup"),
        (b"p\x00o\x00i\x00n\x00t\x00,\x00d\x00", "a.csv", "zero bytes"),
        (b"\xff\xfep\x00o", "a.csv", "damaged|utf-16"),
        (b'point,date\n"P1,1998\n', "a.csv", "never closed"),
        (b'point,date\n"P1"x,1998\n', "a.csv", "after a closing quotation mark"),
        (b"point,date\n" + b"x" * 40_000 + b",1\n", "a.csv", "32,767 characters"),
        (b"1," * 3_000, "a.csv", "3,001 cells"),
        (b"point", "a.docx", "workbooks"),
        (b"point", "a.xls", "old kind"),
        (b"point", "a.xlsm", "macros"),
    ],
)
def test_what_is_no_table(write, content, name, words):
    with pytest.raises(UnreadableFile, match=words):
        read_tables(write(content, name))


def test_too_many_rows(write):
    most = bound("file", "most_rows")
    assert f"more than {most:,} rows" in refusal(write("1\n" * (most + 1)))


def test_too_large_a_file(write):
    path = write(HEAD)
    with path.open("r+b") as file:
        file.truncate(bound("file", "largest_size") + 1)  # a hole: it takes no room on the disk
    assert "at most 500 MB" in refusal(path)


@pytest.mark.parametrize("hostile", ["\x00", "\x1b[31m", "\x07", "\u202e", "\u2066", "\x85"])
def test_hostile_characters_are_made_visible_and_their_row_is_held_back(write, hostile):
    (table,) = read_tables(write(HEAD + f"P1,1998-05-03,1\nP{hostile}2,1998-05-03,2\n"))
    assert table.problems.keys() == {3}
    assert "column A" in table.problems[3]
    assert hostile not in table.rows.loc[3, "point"]
    assert f"<U+{ord(hostile[0]):04X}>" in table.rows.loc[3, "point"]
    assert table.rows.loc[2].tolist() == ["P1", "1998-05-03", "1"]


def test_markup_and_formulas_stay_text(write):
    cells = ["<script>alert(1)</script>", "=HYPERLINK(1)", "**bold** [x](javascript:y)"]
    (table,) = read_tables(write(HEAD + ",".join(cells) + "\n"))
    assert table.rows.loc[2].tolist() == cells


def test_a_name_with_markup_and_controls_is_shown_harmless(write):
    words = refusal(write(b"", "\x1b[2J\u202e<b>.csv"))
    assert "\x1b" not in words
    assert "<U+001B>" in words


def test_a_row_far_down_that_is_wider_than_those_above(write):
    """Rows are taken in by the ten thousand; a later portion may have more columns."""
    (table,) = read_tables(write(HEAD + "P1,1998-05-03,1\n" * 60_000 + "P2,1998-05-03,1,more\n"))
    assert (table.rows["column D"].iloc[:-1] == "").all()
    assert table.rows["column D"].iloc[-1] == "more"
    assert table.rows.index.tolist() == list(range(2, 60_003))


def test_find_files(tmp_path):
    for name in (
        "b.csv",
        "a.xlsx",
        ".hidden.csv",
        "~$a.xlsx",
        "notes.md",
        "old.xls",
        "deep/c.tsv",
        ".git/d.csv",
    ):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text("x")
    found = [path.relative_to(tmp_path).as_posix() for path in find_files([tmp_path])]
    assert found == ["a.xlsx", "b.csv", "deep/c.tsv", "old.xls"]
    assert find_files([tmp_path / "b.csv", tmp_path, tmp_path / "notes.md"])[0].name == "b.csv"
    assert len(find_files([tmp_path / "b.csv", tmp_path])) == 4
    (tmp_path / "empty").mkdir()
    with pytest.raises(UnreadableFile, match="holds no table"):
        find_files([tmp_path / "empty"])
    with pytest.raises(UnreadableFile, match="does not exist"):
        find_files([tmp_path / "nowhere.csv"])


def test_a_frame_read_is_the_frame_written(write):
    frame = pd.DataFrame({"point": ["P,1", 'P"2', "P\n3"], "value": ['1 3/8"', "", "½"]}, dtype="str")
    (table,) = read_tables(write(frame.to_csv(index=False)))
    assert table.rows.reset_index(drop=True).equals(frame)
