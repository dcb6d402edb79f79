"""Workbooks that are made to harm: each is refused in words, or read as if the harm were not there."""

import io
import zipfile

import pytest
import xlsxwriter

from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.layouts.apply import read_tables

SHEET = "xl/worksheets/sheet1.xml"


@pytest.fixture
def sound():
    """Bytes of a sound workbook: three texts in a row, three below them."""
    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer) as book:
        sheet = book.add_worksheet("Wheels")
        sheet.write_row(0, 0, ["point", "date", "value"])
        sheet.write_row(1, 0, ["P1", "1998-05-03", "1 3/8"])
    return buffer.getvalue()


@pytest.fixture
def rebuilt(tmp_path, sound):
    """Write the sound workbook with parts replaced (name → function of its bytes) or added (name → bytes)."""

    def rebuild(changes, name="book.xlsx", method=zipfile.ZIP_DEFLATED):
        path = tmp_path / name
        with zipfile.ZipFile(io.BytesIO(sound)) as old, zipfile.ZipFile(path, "w", method) as new:
            for part in old.namelist():
                change = changes.get(part)
                new.writestr(part, change(old.read(part)) if callable(change) else change or old.read(part))
            for part in changes.keys() - set(old.namelist()):
                new.writestr(part, changes[part])
        return path

    return rebuild


def refusal(path):
    with pytest.raises(UnreadableFile) as caught:
        read_tables(path)
    return str(caught.value)


def test_the_sound_one_is_read(rebuilt):
    (table,) = read_tables(rebuilt({}))
    assert table.rows.loc[2].tolist() == ["P1", "1998-05-03", "1 3/8"]


@pytest.mark.parametrize("part", ["xl/vbaProject.bin", "xl/macrosheets/sheet1.xml", "XL/VBAPROJECT.BIN"])
def test_macros(rebuilt, part):
    assert "macros" in refusal(rebuilt({part: b"<x/>"}))


def test_a_bomb_of_zeros(rebuilt):
    words = refusal(rebuilt({"xl/media/image1.png": bytes(50_000_000)}))
    assert "times its size" in words


def test_more_than_can_be_unpacked(rebuilt):
    """The directory says how large a part is; here it lies, and more is not unpacked than it says."""
    path = rebuilt({"xl/media/a.bin": b"0" * 100})
    content = path.read_bytes()
    size = (100).to_bytes(4, "little")
    path.write_bytes(content.replace(size + b"\x0e\x00", (700_000_000).to_bytes(4, "little") + b"\x0e\x00"))
    assert path.read_bytes() != content
    assert "at most 600 MB" in refusal(path)


def test_a_directory_that_says_too_little(rebuilt):
    """A part longer than stated fails its checksum; it is never unpacked beyond what was stated."""
    path = rebuilt({"xl/media/a.bin": b"0" * 5_000})
    content = path.read_bytes()
    size = (5_000).to_bytes(4, "little")
    assert content.count(size) == 2  # in the part's own head and in the directory
    path.write_bytes(content.replace(size, (10).to_bytes(4, "little")))
    assert "cannot be unpacked" in refusal(path)


def test_a_sheet_that_looks_like_a_picture(rebuilt):
    """A sheet is what the workbook links to, whatever its name and its first bytes are."""

    def elsewhere(xml):
        return xml.replace(b"worksheets/sheet1.xml", b"media/image1.png")

    with zipfile.ZipFile(rebuilt({})) as archive:
        sheet = archive.read(SHEET).replace(b'r="C2"', b'r="XFD1048576"')
    path = rebuilt({"xl/_rels/workbook.xml.rels": elsewhere, "xl/media/image1.png": b"\x89PNG" + sheet})
    assert "image1.png" in refusal(path) or "far cell" in refusal(path)


def test_too_many_parts(rebuilt):
    parts = {f"xl/media/{number}.txt": b"x" for number in range(bound("workbook", "most_parts"))}
    assert "an archive of" in refusal(rebuilt(parts))


def test_entities(rebuilt):
    bomb = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]><worksheet'
    words = refusal(rebuilt({SHEET: lambda xml: xml.replace(b"<worksheet", bomb, 1)}))
    assert "declares entities" in words


def test_entities_in_an_encoding_that_hides_them(rebuilt):
    def hidden(xml):
        text = xml.decode().replace('encoding="UTF-8"', 'encoding="UTF-16"')
        return text.replace("<worksheet", '<!DOCTYPE x [<!ENTITY a "a">]><worksheet', 1).encode("utf-16")

    words = refusal(rebuilt({SHEET: hidden}))
    assert "not UTF-8" in words


def test_deep_xml(rebuilt):
    """A hundred thousand levels deep, packed so that the ratio does not give it away."""
    deep = b"<a>" * 100_000 + b"</a>" * 100_000
    path = rebuilt(
        {SHEET: lambda xml: xml.replace(b"<sheetData>", deep + b"<sheetData>")}, method=zipfile.ZIP_STORED
    )
    (table,) = read_tables(path)
    assert table.rows.loc[2].tolist() == ["P1", "1998-05-03", "1 3/8"]


@pytest.mark.parametrize("cell", ["XFD1048576", "XFD200000", "ZZZZZZZ99999999999"])
def test_a_cell_at_the_far_corner(rebuilt, cell):
    words = refusal(rebuilt({SHEET: lambda xml: xml.replace(b'r="C2"', f'r="{cell}"'.encode())}))
    assert "Delete the far cell" in words


def test_many_cells_without_a_place(rebuilt):
    """Cells need not say where they are; they then follow each other, row by row."""
    wide = b"<row>" + b"<c><v>1</v></c>" * 20_000 + b"</row>"
    tall = b'<row r="900000"><c><v>1</v></c></row>'
    words = refusal(rebuilt({SHEET: lambda xml: xml.replace(b"<sheetData>", b"<sheetData>" + wide + tall)}))
    assert "Delete the far cell" in words


def test_a_far_cell_with_a_format_and_nothing_in_it(rebuilt):
    styled = b'<row r="9"><c r="XFD9" s="0"/></row><row r="1048576"><c r="A1048576" s="0"/></row></sheetData>'
    (table,) = read_tables(rebuilt({SHEET: lambda xml: xml.replace(b"</sheetData>", styled)}))
    assert len(table.rows) == 1


def test_one_long_text_repeated(rebuilt):
    long = b"<si><t>" + b"lorem ipsum dolor sit amet " * 1_200 + b"</t></si>"
    cells = b"".join(b'<row r="%d"><c r="A%d" t="s"><v>0</v></c></row>' % (n, n) for n in range(3, 30_000))
    path = rebuilt(
        {
            "xl/sharedStrings.xml": lambda xml: xml.replace(b"<si>", long + b"<si>", 1),
            SHEET: lambda xml: xml.replace(b"</sheetData>", cells + b"</sheetData>"),
        },
    )
    assert "repeats one long text" in refusal(path)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b't="s"><v>0', b't="s"><v>99999'),
        (b"<sheetData>", b"<sheetData><sheetData>"),
        (b"</worksheet>", b""),
        (b"<c ", b"<c <"),
        (b'r="A1"', b'r="1A"'),
        (b'r="A1"', b'r=""'),
        (b'r="A1"', b'r="A0"'),
        (b"<v>0</v>", b"<v>-1</v>"),
        (b"<v>0</v>", b"<v>1e999</v>"),
    ],
)
def test_damaged_xml_ends_in_a_table_or_in_words(rebuilt, old, new):
    path = rebuilt({SHEET: lambda xml: xml.replace(old, new)})
    try:
        tables = read_tables(path)
    except UnreadableFile as error:
        tables = [str(error)]
    assert len(tables) == 1
    assert not isinstance(tables[0], str) or "book.xlsx" in tables[0]


def test_control_characters_in_a_cell(rebuilt):
    path = rebuilt({"xl/sharedStrings.xml": lambda xml: xml.replace(b"P1", "P\u202e1".encode())})
    (table,) = read_tables(path)
    assert table.rows.loc[2, "point"] == "P<U+202E>1"
    assert table.problems.keys() == {2}


def test_names_that_are_no_paths(rebuilt):
    """A part may call itself anything: nothing is ever unpacked to the disk."""
    (table,) = read_tables(rebuilt({"../../../../tmp/evil.xml": b"<x/>"}))
    assert len(table.rows) == 1


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"point,date,value\n", r"text; if it is a CSV file"),
        (b"\x00\x01\x02\x03", "something else"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "password"),
        (b"PK\x03\x04" + bytes(100), "cannot be unpacked"),
    ],
)
def test_what_is_no_workbook(tmp_path, content, words):
    path = tmp_path / "book.xlsx"
    path.write_bytes(content)
    with pytest.raises(UnreadableFile, match=words):
        read_tables(path)


def test_an_archive_that_is_no_workbook(tmp_path):
    with zipfile.ZipFile(tmp_path / "book.xlsx", "w") as archive:
        archive.writestr("a.csv", "point")
    assert "no workbook" in refusal(tmp_path / "book.xlsx")


def test_cut_off_anywhere(tmp_path, sound):
    path = tmp_path / "book.xlsx"
    for length in range(1, len(sound), 97):
        path.write_bytes(sound[:length])
        refusal(path)


def test_a_byte_changed_anywhere(tmp_path, sound):
    path = tmp_path / "book.xlsx"
    outcomes = set()
    for place in range(0, len(sound), 41):
        path.write_bytes(sound[:place] + bytes([sound[place] ^ 0x55]) + sound[place + 1 :])
        try:
            read_tables(path)
            outcomes.add("read")
        except UnreadableFile:
            outcomes.add("refused")
    assert outcomes == {"read", "refused"}
