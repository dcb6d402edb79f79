"""A workbook of the free formats (.ods): looked at from outside, then read to the cells of its sheets.

The look finds what the reader of workbooks does not tell: how far a sheet reaches before it makes room for
it, merged areas, formulas without a result, and what the writer of the sheet crossed out or hid.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import IO
from xml.parsers import expat

from ingest.errors import UnreadableFile
from ingest.figures import bound
from ingest.neutral import quoted
from ingest.sheets.archive import check_area, check_parts, opened
from ingest.sheets.contents import Contents, column_letter
from ingest.sheets.marks import SheetMarks
from ingest.sheets.sheetxml import column_number
from ingest.sheets.workbook import read_sheets, with_marks
from ingest.unit_names import is_known, unit_of

SMALLEST = {
    "mimetype": "application/vnd.oasis.opendocument.spreadsheet",
    "META-INF/manifest.xml": "<manifest:manifest/>",
    "content.xml": (
        "<office:body><office:spreadsheet><table:table><table:table-row><table:table-cell/></table:table-row>"
        "</table:table></office:spreadsheet></office:body>"
    ),
}
"""Parts of a workbook; looking into them loads all that looking into any does."""
_PIECE = 1_000_000
_WITHOUT_END = 1_000_000_000  # for a number of more figures: beyond every bound
_LONGEST_FORMULA = 500  # characters; what sums up a column stands at the beginning
_BETWEEN_WORDS = ("text:s", "text:tab", "text:line-break")  # OpenDocument 1.3 part 3, 6.1
_HIDDEN = ("collapse", "filter")
_NUMBERS = ("float", "percentage", "currency", "date", "time")
_SHOWN_UNIT = re.compile(r"[-+]?[0-9][0-9.,' ]*\s?([^\s0-9.,'].{0,11})")
_OVER_ROWS = re.compile(
    r"(?:SUM|AVERAGE|MIN|MAX|MEDIAN|COUNT|COUNTA|STDEV[.A-Z]{0,4}|SUBTOTAL|AGGREGATE)\("
    r"[^()]*?\[?\.?\$?([A-Z]{1,3})\$?([0-9]+):\.?\$?\1\$?([0-9]+)"
)


def _why_not(says: dict[str, str], text: str) -> str:
    """Why a filled cell cannot be believed; nothing if it can."""
    if "table:formula" in says:
        if re.match(r"#|Err:", text):
            return f"holds the error {text[:10]}; correct its formula"
        if not text and "office:value-type" not in says:
            return (
                "is a formula whose result is not in the file; open the workbook in a spreadsheet, save it, "
                "and add it again"
            )
    return ""


def _above(formula: str, row: int, column: int) -> bool:
    """Whether a formula sums up, averages or counts rows above it in its own column."""
    over = _OVER_ROWS.search(formula[:_LONGEST_FORMULA])
    return over is not None and column_number(over[1]) == column and int(over[3]) < row


@dataclass
class _Style:
    """What a style says of the cells or sheets that have it; None where it says nothing."""

    parent: str = ""
    struck: bool | None = None


@dataclass
class _Sheet:
    """What the look found in one sheet; rows count from 1, columns from 0, in marks from 1 both."""

    last_row: int = 0
    last_column: int = -1
    problems: dict[int, str] = field(default_factory=dict)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    marks: SheetMarks = field(default_factory=SheetMarks)
    shown: bool = False
    """Whether a number of it is written out: some programs leave that to whoever opens the file."""


@dataclass
class _Cell:
    """The cell that is open."""

    attributes: dict[str, str]
    times: int
    text: list[str] = field(default_factory=list)
    remark: list[str] = field(default_factory=list)
    struck: bool = False


class _Walker:
    """Handlers of the XML parser; they keep the sheet, the row and the cell that are open."""

    def __init__(self) -> None:
        self.sheets: list[_Sheet] = []
        self.unpacked = 0
        self._styles: dict[str, _Style] = {}
        self._style = _Style()
        self._columns: list[tuple[int, bool, str]] = []  # columns so far with each, whether hidden, style
        self._row, self._rows, self._column = 1, 0, 0
        self._row_hidden, self._row_style = False, ""
        self._cell: _Cell | None = None
        self._remarks, self._in_words = 0, False

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        if tag == "office:annotation":
            self._remarks += 1
        elif self._remarks:  # its author and day stand in it too
            self._in_words |= tag == "text:p"
            if tag in _BETWEEN_WORDS:
                self.data(" ")
        elif tag in ("table:table-cell", "table:covered-table-cell"):
            self._cell = _Cell(attributes, _times(attributes, "table:number-columns-repeated"))
        elif tag == "text:s" and self._cell is not None:  # so many blanks
            self.unpacked += _times(attributes, "text:c")
        elif tag == "text:span" and self._cell is not None:
            self._cell.struck |= self._is_struck(attributes.get("text:style-name", ""))
        elif tag == "table:table-row":
            self._rows = _times(attributes, "table:number-rows-repeated")
            self._row_hidden = attributes.get("table:visibility") in _HIDDEN
            self._row_style = attributes.get("table:default-cell-style-name", "")
            self._column = 0
        elif tag == "table:table-column":
            before = self._columns[-1][0] if self._columns else 0
            until = before + _times(attributes, "table:number-columns-repeated")
            hidden = attributes.get("table:visibility") in _HIDDEN
            self._columns.append((until, hidden, attributes.get("table:default-cell-style-name", "")))
        elif tag == "table:table":
            self.sheets.append(_Sheet())
            self._columns, self._row = [], 1
        else:
            self._start_of_style(tag, attributes)

    def _start_of_style(self, tag: str, attributes: dict[str, str]) -> None:
        if tag == "style:style":
            self._style = _Style(attributes.get("style:parent-style-name", ""))
            self._styles[attributes.get("style:name", "")] = self._style
        elif tag == "style:text-properties":
            line = attributes.get("style:text-line-through-style", attributes.get("style:text-crossing-out"))
            if line is not None:
                self._style.struck = line != "none"

    def data(self, text: str) -> None:
        if self._cell is not None and not self._remarks:
            self._cell.text.append(text)
        elif self._cell is not None and self._in_words:
            self._cell.remark.append(text)

    def end(self, tag: str) -> None:
        if tag == "office:annotation":
            self._remarks -= 1
        elif tag == "text:p" and self._in_words:
            self.data(" ")
            self._in_words = False
        elif tag in ("table:table-cell", "table:covered-table-cell") and not self._remarks:
            if self._cell is not None and self.sheets:
                self._close(self._cell, self.sheets[-1], covered=tag == "table:covered-table-cell")
            self._cell = None
        elif tag == "table:table-row" and not self._remarks:
            self._row += self._rows

    def _close(self, cell: _Cell, sheet: _Sheet, *, covered: bool) -> None:
        column, says = self._column, cell.attributes
        self._column += cell.times
        text = "".join(cell.text)
        wide, high = (_times(says, f"table:number-{way}-spanned") for way in ("columns", "rows"))
        if not covered and wide * high > 1 and len(sheet.merged) < bound("file", "most_rows"):
            sheet.merged.append((self._row, column, self._row + high - 1, column + wide - 1))
        if not (text or "office:value-type" in says or "table:formula" in says):
            return
        sheet.last_row = max(sheet.last_row, self._row + self._rows - 1)
        sheet.last_column = max(sheet.last_column, column + cell.times - 1)
        self.unpacked += len(text) * cell.times * self._rows
        if self._rows * cell.times > bound("workbook", "largest_area"):
            return  # the area is refused
        words = _why_not(says, text)
        rows = range(self._row, self._row + self._rows)
        cells = [(row, place + 1) for row in rows for place in range(column, column + cell.times)]
        if words:
            for row in rows:
                sheet.problems.setdefault(row, f"cell {column_letter(column)}{row} {words}")
        self._mark(cell, sheet, cells, text)

    def _mark(self, cell: _Cell, sheet: _Sheet, cells: list[tuple[int, int]], text: str) -> None:
        """Keep what is said of a cell beside what it holds."""
        _, hidden, style = next((c for c in self._columns if cells[0][1] <= c[0]), (0, False, ""))
        style = cell.attributes.get("table:style-name") or self._row_style or style
        if text and (cell.struck or self._is_struck(style)):
            sheet.marks.struck.update(cells)
        if hidden:
            sheet.marks.hidden_columns.update(column for _, column in cells)
        if self._row_hidden:
            sheet.marks.hidden_rows.update(row for row, _ in cells)
        if remark := " ".join("".join(cell.remark).split())[: bound("cell", "longest_remark")]:
            sheet.marks.remarks[cells[0]] = remark
        formula = cell.attributes.get("table:formula", "")
        if any(_above(formula, row, column) for row, column in cells[:1]):
            sheet.marks.sums.update(cells)
        if cell.attributes.get("office:value-type") in _NUMBERS:
            sheet.shown |= bool(text.strip(" -"))
            if not text.strip(" -"):  # its format shows nothing of it, or a stroke
                sheet.marks.unseen.update(cells)
        unit = _SHOWN_UNIT.fullmatch(text)
        if cell.attributes.get("office:value-type") == "float" and unit and is_known(unit_of(unit[1]) or ""):
            sheet.marks.units.update(dict.fromkeys(cells, unit[1]))

    def _is_struck(self, name: str) -> bool:
        for _ in range(10):  # a style may build on another; a ring of them ends too
            style = self._styles.get(name)
            if style is None or style.struck is not None:
                return bool(style and style.struck)
            name = style.parent
        return False


def read_open_document(name: str, content: bytes) -> list[Contents]:
    """Cells of every sheet that holds any, as :func:`ingest.sheets.workbook.read_workbook`.

    Parameters
    ----------
    name : of the file, for messages.
    content : its bytes.

    Returns
    -------
    list of Contents, in the order of the sheets; what is crossed out, hidden or summed up is marked as in
    workbooks of the other kind; rows with errors or formulas without a result have their reason in
    ``problems``.

    Raises
    ------
    UnreadableFile : no archive, damaged, under a password, with macros, too large, of another kind.
    """
    with opened(name, content) as archive:
        check_parts(name, archive)
        kind = archive.read("mimetype").strip()
        if kind != SMALLEST["mimetype"].encode() or "content.xml" not in archive.namelist():
            raise UnreadableFile(
                f"{quoted(name)} is a document of the free formats, but no workbook; save its table as .ods, "
                ".xlsx or CSV."
            )
        manifest = "META-INF/manifest.xml"
        if manifest in archive.namelist() and b"encryption-data" in archive.read(manifest):
            raise UnreadableFile(f"{quoted(name)} is under a password; save it without one.")
        walker = _Walker()
        for part in ("styles.xml", "content.xml"):
            if part in archive.namelist():
                with archive.open(part) as stream, _damage_in_words(name):
                    _walk(stream, walker)
    _check(name, walker)
    if not any(sheet.shown for sheet in walker.sheets):
        for sheet in walker.sheets:
            sheet.marks.unseen.clear()
    sheets = read_sheets(name, content)
    if len({sheet.sheet for sheet in sheets}) != len(walker.sheets):
        raise UnreadableFile(f"{quoted(name)} is damaged: its sheets cannot be told apart; save it again.")
    return [
        replace(with_marks(raw, found.marks), problems=found.problems, merged=tuple(found.merged))
        for raw, found in zip(sheets, walker.sheets, strict=True)
        if raw.n_rows and raw.columns
    ]


def _check(name: str, walker: _Walker) -> None:
    """UnreadableFile where the reader of workbooks would take long, or much room, over what was seen."""
    most = bound("workbook", "most_sheets")
    if len(walker.sheets) > most:
        raise UnreadableFile(
            f"{quoted(name)} has {len(walker.sheets):,} sheets; at most {most:,} are read. Split it."
        )
    for sheet in walker.sheets:
        check_area(name, sheet.last_row, sheet.last_column + 1)
    if walker.unpacked > bound("workbook", "largest_unpacked"):
        raise UnreadableFile(
            f"{quoted(name)} repeats one long text until it fills more than "
            f"{bound('workbook', 'largest_unpacked') / 1e6:,.0f} MB; it is not opened."
        )


def _walk(stream: IO[bytes], walker: _Walker) -> None:
    parser = expat.ParserCreate("utf-8")
    parser.buffer_text = True
    parser.StartElementHandler = walker.start
    parser.EndElementHandler = walker.end
    parser.CharacterDataHandler = walker.data
    parser.StartDoctypeDeclHandler = _refuse_declarations
    while piece := stream.read(_PIECE):
        parser.Parse(piece, False)
    parser.Parse(b"", True)


def _refuse_declarations(*_: object) -> None:
    raise UnreadableFile("it declares entities, which no spreadsheet does")


@contextmanager
def _damage_in_words(name: str) -> Iterator[None]:
    try:
        yield
    except expat.ExpatError as error:
        raise UnreadableFile(
            f"{quoted(name)} is damaged at line {error.lineno} of its content; save it again."
        ) from None
    except UnreadableFile as error:
        raise UnreadableFile(f"{quoted(name)}: {error}.") from None


def _times(attributes: dict[str, str], name: str) -> int:
    """How often a cell, row or blank is repeated, or how far it reaches; 1 where no number is said."""
    text = attributes.get(name, "1").strip()
    if not (text.isdigit() and text.isascii()):
        return 1
    figures = text.lstrip("0") or "1"
    return int(figures) if len(figures) < 10 else _WITHOUT_END
