"""Files that strangers might make: sound ones with one thing wrong, and generators of many."""

import base64
import io
import json
import zipfile
from functools import cache

import xlsxwriter
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import strategies as st

from models.wear.shapes import SHAPES
from models.wear.shared_prior import PARAMETERS

SHEET = (
    '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>{rows}'
    "</sheetData>{after}</worksheet>"
)


def cell(text, where=""):
    place = f' r="{where}"' if where else ""
    return f'<c{place} t="inlineStr"><is><t>{text}</t></is></c>'


HEAD = "<row r='1'>" + "".join(map(cell, ("point", "date", "value"))) + "</row>"


@cache
def _parts():
    """The parts of a sound workbook of one sheet."""
    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer) as book:
        book.add_worksheet("S")
    with zipfile.ZipFile(buffer) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def workbook(rows="", after="", **parts):
    """A workbook whose sheet is written by hand: rows below the headings of readings; other parts by name."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        sheet = {"xl/worksheets/sheet1.xml": SHEET.format(rows=HEAD + rows, after=after)}
        for name, text in {**_parts(), **sheet, **parts}.items():
            archive.writestr(name, text)
    return buffer.getvalue()


def far_row(number="1" + "0" * 30):
    """A reading whose row number no counter holds."""
    return f"<row r='{number}'>" + cell("HOLLOW", f"A{number}") + "</row>"


KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))


def shared(railway="West Valley", made_on="2026-01-05", key=KEY, **other):
    """A file of shared families whose signature holds, whatever it says."""
    family = {"component": "tire", "quantity": "hollow", "base_unit": "mm", "lives": 8, "readings": 40}
    family |= {name: [0.1, 0.2] for name in PARAMETERS} | {"shapes": [1.0] + [0.0] * (len(SHAPES) - 1)}
    raw = key.public_key().public_bytes(serialization.Encoding.Raw, serialization.PublicFormat.Raw)
    body = {"format": "milesleft families 1", "railway": railway, "made_on": made_on}
    body |= {"parameters": list(PARAMETERS), "shapes": [shape.name for shape in SHAPES]}
    body |= {"families": [family], "public_key": base64.b64encode(raw).decode()} | other
    spelled = json.dumps(body, sort_keys=True, separators=(",", ":")).encode()
    return json.dumps(body | {"signature": base64.b64encode(key.sign(spelled)).decode()}).encode()


NUMBERS = st.sampled_from(["0", "-1", "1", "999", "1048577", "4294967296", "9" * 20, "1e9", "x", "", "٣"])
TEXTS = st.sampled_from(
    [
        "",
        "HOLLOW",
        "1 3/8",
        "2001-05-01",
        "1e999",
        "&#0;",
        "&#x202e;",
        "&a;",
        "\x1b[2J",
        "]]>",
        "<c>",
        "9" * 400,
    ]
)
KINDS = st.sampled_from(["", ' t="s"', ' t="n"', ' t="e"', ' t="b"', ' t="d"', ' t="str"', ' t="x"'])


@st.composite
def cells(draw):
    """One cell's XML, often not as the format has it."""
    place = draw(st.sampled_from(["A", "B", "XFD", "ZZZZZZZZ", ""])) + draw(NUMBERS)
    inside = draw(st.sampled_from(["<v>{}</v>", "<f>{}</f><v/>", "<is><t>{}</t></is>", "{}", "<v>{}"]))
    return f'<c r="{place}"{draw(KINDS)}>{inside.format(draw(TEXTS))}</c>'


@st.composite
def workbooks(draw):
    """A workbook with odd rows, cells, areas, texts and dates."""
    rows = "".join(
        f"<row r='{draw(NUMBERS)}'>{''.join(draw(st.lists(cells(), max_size=4)))}</row>"
        for _ in range(draw(st.integers(0, 3)))
    )
    area = draw(st.sampled_from(["A1:B2", "A0:A0", "B2:A1", "A1:XFD1048576", "A1:ZZZZ9999999999", ":"]))
    after = draw(st.sampled_from(["", f'<mergeCells><mergeCell ref="{area}"/></mergeCells>', "<a>" * 300]))
    odd = draw(st.dictionaries(st.sampled_from(["xl/sharedStrings.xml", "xl/styles.xml", "../a"]), TEXTS))
    return damaged(draw, workbook(rows, after, **odd)), ".xlsx"


@st.composite
def csv_files(draw):
    """Text with delimiters, marks and quotes where they do not belong, in some encoding."""
    alphabet = st.sampled_from(['"', ",", ";", "\t", "\r", "\n", "1", "a", "\x00", "\ufeff", "\u202e", "é"])
    text = "point,date,value\n" + "".join(draw(st.lists(alphabet, max_size=60)))
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "latin-1", "utf-32"]))
    return damaged(draw, text.encode(encoding, "replace")), draw(st.sampled_from([".csv", ".tsv", ".txt"]))


@st.composite
def archives(draw):
    """Archives that are no workbooks, or lie about their sizes and names."""
    names = st.sampled_from(
        [
            "a",
            "../a",
            "/a",
            "a\\b",
            "mimetype",
            "content.xml",
            "xl/workbook.xml",
            "about.json",
            "x" * 300,
            "[Content_Types].xml",
        ]
    )
    buffer = io.BytesIO()
    with zipfile.ZipFile(
        buffer, "w", draw(st.sampled_from([zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED]))
    ) as new:
        for name in draw(st.lists(names, max_size=4, unique=True)):
            new.writestr(name, draw(st.binary(max_size=50)) * draw(st.sampled_from([1, 1, 10_000])))
    return damaged(draw, buffer.getvalue()), draw(st.sampled_from([".xlsx", ".ods", ".parquet", ".csv"]))


def damaged(draw, content):
    """The content as it is, cut short, or with some bytes changed."""
    how = draw(st.sampled_from(["whole", "whole", "cut", "changed"]))
    if how == "cut":
        return content[: draw(st.integers(0, len(content)))]
    if how == "changed" and content:
        changed = bytearray(content)
        for _ in range(draw(st.integers(1, 5))):
            changed[draw(st.integers(0, len(changed) - 1))] = draw(st.integers(0, 255))
        return bytes(changed)
    return content


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8) | st.just("\ud800"),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


@st.composite
def shared_files(draw):
    """Signed files whose fields are anything that JSON can say."""
    fields = st.sampled_from(["railway", "made_on", "families", "parameters", "shapes", "format"])
    return damaged(draw, shared(**draw(st.dictionaries(fields, JSON, min_size=1, max_size=2))))


@st.composite
def pictures(draw):
    """Pictures of each kind, cut, changed, or an SVG of odd elements."""
    png = bytes.fromhex(
        "89504e470d0a1a0a0000000d4948445200000001000000010806000000"
        "1f15c4890000000d49444154789c6360606060000000050001a5f64540"
        "0000000049454e44ae426082"
    )
    jpeg = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00\xff\xc0\x00\x0b\x08"
    jpeg += draw(st.binary(min_size=4, max_size=4)) + b"\x01\x01\x11\x00\xff\xda\x00\x08"
    odd = st.sampled_from(
        ["<g>", "</g>", '<use href="#a"/>', '<g id="a">', "<rect width='9e99' height='-1'/>"]
    )
    size = draw(st.sampled_from(["9", "-1", "1e30", "0", "100%"]))
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}" height="9">'
    svg += "".join(draw(st.lists(odd, max_size=20))) + "</svg>"
    return damaged(draw, draw(st.sampled_from([png, jpeg, svg.encode()])))


@st.composite
def tomls(draw):
    """Texts of layouts with anything for their entries, often no TOML."""
    names = ["dates", "decimal", "encoding", "delimiter", "ignore", "words", "table", "a.b", "[x]"]
    values = ['"dmy"', "1", "[]", "{}", '"\\u001b"', "1979-05-27", "nan", "[[1]]", '"""', "x"]
    entries = st.tuples(st.sampled_from(names), st.sampled_from(values)).map(" = ".join)
    heads = st.sampled_from(["", "[[table]]", "[table]", '[[table]]\ntable = "readings"', "[" * 200])
    below = st.sampled_from(['columns = {a = "b"}', "header = [-1]"])
    return "\n".join([*draw(st.lists(entries, max_size=4)), draw(heads), *draw(st.lists(below))])
