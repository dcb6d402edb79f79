"""What a workbook (.xlsx) says about its cells beside what they hold, which its reader passes over.

Cells that are struck out, wholly or in part, hidden rows, columns and sheets (a filter hides rows), numbers
whose format shows nothing of them, units that a format writes behind the number, and formulas that add up or
average the cells above. The walk is made only where the parts of the workbook give a reason.
"""

import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from xml.etree import ElementTree  # safe after `check_workbook`: it refuses declarations and bombs
from xml.parsers import expat

from ingest.sheets.sheetxml import reference, whole
from ingest.unit_names import is_known, unit_of

_PIECE = 1_000_000
_HIDDEN = re.compile(rb"\bhidden\s*=\s*[\"'](?:1|true)")
_DOWN = r"(?:SUM|AVERAGE|MIN|MAX|MEDIAN|COUNT|COUNTA|STDEV[.A-Z]{0,4}|SUBTOTAL|AGGREGATE)\("
_STRIKE = re.compile(rb"<(?:[a-z0-9]{1,16}:)?d?strike\b")
_SUMS = re.compile(_DOWN.encode())
_NO_ZEROS = re.compile(rb"showZeros\s*=\s*[\"'](?:0|false)")
_QUOTED = re.compile(r'"([^"]*)"')
_NO_FIGURE = re.compile(r"\[[^\]\[]*\]|_.|\*.|[ ?\\-]")
"""What a section of a format may hold and yet show nothing, or a stroke: colors, room, filling."""
_OVER_ROWS = re.compile(_DOWN + r"[^()]*?\$?([A-Z]{1,3})\$?([0-9]+):\$?\1\$?([0-9]+)")
_LITERAL = re.compile(r'"([^"]*)"|\\(.)|_.|\*.|\[[^\]]*\]|([^"\\_*\[])')
_PLACEHOLDER = re.compile(r'(?:[0#?]|General)(?=(?:[^"]*"[^"]*")*[^"]*$)')  # not within quotation marks


@dataclass
class SheetMarks:
    """Marks of one sheet; cells as (row, column), both counted from 1."""

    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    unseen: set[tuple[int, int]] = field(default_factory=set)
    struck: set[tuple[int, int]] = field(default_factory=set)
    sums: set[tuple[int, int]] = field(default_factory=set)
    units: dict[tuple[int, int], str] = field(default_factory=dict)
    remarks: dict[tuple[int, int], str] = field(default_factory=dict)

    def any(self) -> bool:
        """Whether anything is marked."""
        cells = (self.unseen, self.struck, self.sums, self.units, self.remarks)
        return any((self.hidden_rows, self.hidden_columns, *cells))


@dataclass(frozen=True)
class _Style:
    struck: bool
    unit: str
    hides: frozenset[str]


def sheet_marks(archive: zipfile.ZipFile, part: str) -> SheetMarks:
    """Marks of a sheet by its part in the archive; none where the part is not there."""
    if part not in archive.namelist():
        return SheetMarks()
    styles, struck_texts = _styles(archive), _struck_texts(archive)
    told = any(style.struck or style.unit or style.hides for style in styles) or bool(struck_texts)
    if not told and not _worth_a_walk(archive, part):
        return SheetMarks()
    marker = _Marker(styles, struck_texts)
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = marker.start
    parser.EndElementHandler = marker.end
    parser.CharacterDataHandler = marker.data
    for piece in _pieces(archive, part):
        parser.Parse(piece, False)
    parser.Parse(b"", True)
    return marker.found


def _worth_a_walk(archive: zipfile.ZipFile, part: str) -> bool:
    """Whether anything in a sheet is hidden, looks like a sum, or is a text struck out in part."""
    return _holds(archive, part, _HIDDEN, _SUMS, _STRIKE, _NO_ZEROS)


def _holds(archive: zipfile.ZipFile, part: str, *signs: re.Pattern[bytes]) -> bool:
    tail = b""
    for piece in _pieces(archive, part):
        if any(sign.search(tail + piece) for sign in signs):
            return True
        tail = piece[-40:]
    return False


def _pieces(archive: zipfile.ZipFile, part: str) -> Iterator[bytes]:
    with archive.open(part) as stream:
        while piece := stream.read(_PIECE):
            yield piece


class _Marker:
    """Handlers of the XML parser."""

    def __init__(self, styles: list[_Style], struck_texts: frozenset[int]) -> None:
        self.found = SheetMarks()
        self._styles, self._struck_texts = styles, struck_texts
        self._row = self._column = 0
        self._formula: str | None = None
        self._value: str | None = None
        self._kind = ""
        self._hides: frozenset[str] = frozenset()
        self._zeros = True

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        name = tag.rpartition(":")[2]
        if name == "c":
            row, column = reference(attributes.get("r", ""))
            self._row, self._column = row or self._row, column or self._column + 1
            self._kind = attributes.get("t", "n")
            style = attributes.get("s", "0")
            self._styled(
                self._styles[int(style)] if style.isdigit() and int(style) < len(self._styles) else None
            )
        elif name == "sheetView" and attributes.get("showZeros") in ("0", "false"):
            self._zeros = False
        elif name == "row":
            self._row, self._column = whole(attributes.get("r", "")) or self._row + 1, 0
            if _is_true(attributes.get("hidden")):
                self.found.hidden_rows.add(self._row)
        elif name == "col" and _is_true(attributes.get("hidden")):
            first, last = whole(attributes.get("min", "")), whole(attributes.get("max", ""))
            self.found.hidden_columns |= set(range(first, min(last, first + 16_384) + 1))
        elif name == "f":
            self._formula = ""
        elif name == "v":
            self._value = ""
        elif name in ("strike", "dstrike") and _is_on(attributes):  # of a text within the cell itself
            self.found.struck.add((self._row, self._column))

    def data(self, text: str) -> None:
        if self._formula is not None:
            self._formula += text
        if self._value is not None:
            self._value += text

    def end(self, tag: str) -> None:
        name = tag.rpartition(":")[2]
        if name == "v" and self._value is not None:
            self._valued(self._value)
            self._value = None
        if name == "f" and self._formula is not None:
            over = _OVER_ROWS.search(self._formula[:500])
            if over and over[2] != over[3]:
                self.found.sums.add((self._row, self._column))
            self._formula = None

    def _styled(self, style: _Style | None) -> None:
        if style is not None and style.struck:
            self.found.struck.add((self._row, self._column))
        if style is not None and style.unit:
            self.found.units[self._row, self._column] = style.unit
        self._hides = (style.hides if style is not None else frozenset()) | ({"0"} - {"0" * self._zeros})

    def _valued(self, value: str) -> None:
        """Keep what the cell's value tells: a shared text struck out, or that its format does not show it."""
        if self._kind == "s" and value.isdigit() and int(value) in self._struck_texts:
            self.found.struck.add((self._row, self._column))
        if self._hides and _sign(value if self._kind == "n" else "") in self._hides:
            self.found.unseen.add((self._row, self._column))


def _struck_texts(archive: zipfile.ZipFile) -> frozenset[int]:
    """Numbers of the shared texts of which a part is struck out (ECMA-376 Part 1, 18.4.4 and 18.4.8)."""
    part = "xl/sharedStrings.xml"
    if part not in archive.namelist() or not _holds(archive, part, _STRIKE):
        return frozenset()
    found, number = set(), -1

    def start(tag: str, attributes: dict[str, str]) -> None:
        nonlocal number
        name = tag.rpartition(":")[2]
        number += name == "si"
        if name in ("strike", "dstrike") and _is_on(attributes):
            found.add(number)

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    for piece in _pieces(archive, part):
        parser.Parse(piece, False)
    parser.Parse(b"", True)
    return frozenset(found)


def _styles(archive: zipfile.ZipFile) -> list[_Style]:
    """Of each format of cells, whether it strikes out and which unit it writes behind a number."""
    try:
        root = ElementTree.fromstring(archive.read("xl/styles.xml"))  # noqa: S314
    except (KeyError, ElementTree.ParseError):
        return []
    fonts = [_strikes(font) for font in _within(root, "fonts", "font")]
    codes = {
        item.get("numFmtId", ""): item.get("formatCode", "") for item in _within(root, "numFmts", "numFmt")
    }
    codes |= {"9": "0%", "10": "0.00%"}  # built in (ECMA-376 Part 1, 18.8.30)
    codes |= dict.fromkeys(("41", "42", "43", "44"), '0;-0;"-";@')  # built in too; as to what they show
    return [
        _Style(
            struck=_at(fonts, xf.get("fontId", "")),
            unit=unit_in_format(codes.get(xf.get("numFmtId", ""), "")),
            hides=hides(codes.get(xf.get("numFmtId", ""), "")),
        )
        for xf in _within(root, "cellXfs", "xf")
    ]


def _within(root: ElementTree.Element, outer: str, inner: str) -> list[ElementTree.Element]:
    return [
        item
        for group in root
        if group.tag.endswith("}" + outer)
        for item in group
        if item.tag.endswith("}" + inner)
    ]


def _strikes(font: ElementTree.Element) -> bool:
    return any(item.tag.endswith(("}strike", "}dstrike")) and _is_on(item.attrib) for item in font)


def _is_on(attributes: Mapping[str, str]) -> bool:
    """Whether an element that strikes out does; without ``val`` it does."""
    return attributes.get("val", "1") not in ("0", "false")


def _at(fonts: list[bool], number: str) -> bool:
    return number.isdigit() and int(number) < len(fonts) and fonts[int(number)]


def unit_in_format(code: str) -> str:
    """The unit that a number format writes behind the number: ``mm`` of ``0.0" mm"``; "" if none.

    Source: ECMA-376 Part 1, 18.8.31 (number formats).
    """
    section = code.partition(";")[0]
    placeholders = [place.end() for place in _PLACEHOLDER.finditer(section)]
    if not placeholders:
        return ""
    text = "".join(a or b or c or "" for a, b, c in _LITERAL.findall(section[placeholders[-1] :])).strip()
    unit = unit_of(text) or ""
    return text if unit and is_known(unit) else ""


def hides(code: str) -> frozenset[str]:
    """Of which values a number format shows nothing, or a stroke: ``+``, ``-``, ``0``, and ``@`` of texts.

    Source: ECMA-376 Part 1, 18.8.31 (number formats: semicolons part what holds for numbers above 0, below 0,
    for 0, and for texts; an empty section shows nothing).
    """
    sections = _QUOTED.sub(lambda text: "x" if text[1].strip(" -") else "", code).split(";")
    if len(sections) == 1:
        return frozenset()
    sections += sections[:1] if len(sections) == 2 else []  # the first holds for 0 too
    return frozenset(
        sign for sign, section in zip("+-0@", sections, strict=False) if not _NO_FIGURE.sub("", section)
    )


def _sign(value: str) -> str:
    """Which section of a format speaks of a value."""
    try:
        number = float(value)
    except ValueError:
        return "@"
    return "+" if number > 0 else "-" if number < 0 else "0"


def _is_true(text: str | None) -> bool:
    return text in ("1", "true")
