"""A sheet as its reader gives it: columns of text without a frame, hostile characters made visible.

The process that reads files loads no pandas; what it finds crosses to the other one column by column.
"""

import struct
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from ingest.apart.wire import Bytes, Message
from ingest.figures import bound
from ingest.neutral import HOSTILE_IN_CELLS, visible

AS_TEXT, STRUCK, HIDDEN_ROW, HIDDEN_COLUMN, HIDDEN_SHEET, SUM, HIDDEN_CELL = (
    "\ue0f1\ue0f2\ue0f3\ue0f4\ue0f5\ue0f6\ue0f7"
)
"""What a workbook says of a cell, each one character behind its text: a text that looks like a number, struck
out, in a hidden row, column or sheet, a formula over the rows above, a number whose format shows nothing.
Characters for private use (Unicode, section 23.5)."""

REMARK, LETTER_0 = "\ue0f8", "\ue100"
"""What begins a comment on the cell, and the character that stands for its byte 0: it follows in UTF-8."""

MARKS = f"[{AS_TEXT}-{REMARK}{LETTER_0}-{chr(ord(LETTER_0) + 255)}]"
"""Pattern of the marks."""

_OWN = frozenset(
    map(chr, (*range(ord(AS_TEXT), ord(REMARK) + 1), *range(ord(LETTER_0), ord(LETTER_0) + 256)))
)

_MOST_COLUMNS = 16_384
"""What a sheet of a spreadsheet has at most: Microsoft, Excel specifications and limits."""

ZONE = "zone:"
"""How it begins when a reader needs the rules of a time zone."""


@dataclass(frozen=True)
class Contents:
    """One sheet: texts by column (missing = ""), all of one length, for rows ``first_row`` and on.

    ``problems`` row → why a cell of it cannot be believed; ``merged`` as in
    :class:`ingest.sheets.cells.RawCells`; ``harmless`` whether its reader has seen already that no cell is
    hostile or too long; ``typed`` whether the file tells numbers from texts: its cells may end in ``MARKS``.
    """

    columns: list[pa.LargeStringArray]
    n_rows: int
    sheet: str | None = None
    first_row: int = 1
    problems: dict[int, str] = field(default_factory=dict)
    merged: tuple[tuple[int, int, int, int], ...] = ()
    harmless: bool = False
    typed: bool = False


def texts_of(cells: Sequence[str]) -> pa.LargeStringArray:
    """A column of texts, trimmed."""
    return pc.utf8_trim_whitespace(pa.array(cells, pa.large_string()))


def without_marks(text: str) -> str:
    """A cell's text; characters in it that would be taken for marks made visible, so that it is not cut."""
    if text.isascii() or _OWN.isdisjoint(text):
        return text
    return "".join(f"<U+{ord(letter):04X}>" if letter in _OWN else letter for letter in text)


def column_letter(position: int) -> str:
    """Name of a column in a spreadsheet: 0 → A, 26 → AA."""
    letters = ""
    position += 1
    while position:
        position, letter = divmod(position - 1, 26)
        letters = chr(65 + letter) + letters
    return letters


def made_visible(sheet: Contents) -> Contents:
    """The cells with hostile characters made visible, and their rows marked to be held back.

    Too long a cell is cut and marked likewise.
    """
    if sheet.harmless:
        return sheet
    longest = bound("cell", "longest_text")
    problems = dict(sheet.problems)
    columns = []
    for position, column in enumerate(sheet.columns):
        hostile = pc.match_substring_regex(column, HOSTILE_IN_CELLS)
        long = pc.greater(pc.utf8_length(column), longest)
        marked = [(hostile, "holds characters that nobody can see; type the text again")]
        marked += [(long, f"holds more than {longest:,} characters; shorten the text")]
        for mask, words in marked:
            for place in pc.indices_nonzero(mask).to_pylist():
                row = sheet.first_row + place
                problems.setdefault(row, f"column {column_letter(position)} {words}")
        if pc.any(pc.or_(hostile, long)).as_py():
            texts = [visible(text)[:longest] for text in column.to_pylist()]
            column = pa.array(texts, pa.large_string())
        columns.append(column)
    return replace(sheet, columns=columns, problems=problems, harmless=True)


def as_message(sheets: Sequence[Contents]) -> Message:
    """Sheets as they cross to the other process: of a column its offsets (64 bits) and its text (UTF-8)."""
    header = [
        {
            "sheet": sheet.sheet,
            "n_rows": sheet.n_rows,
            "n_columns": len(sheet.columns),
            "first_row": sheet.first_row,
            "problems": list(sheet.problems.items()),
            "merged": sheet.merged,
            "typed": sheet.typed,
        }
        for sheet in sheets
    ]
    pieces: list[Bytes] = []
    for sheet in sheets:
        for column in sheet.columns:
            _, offsets, text = column.buffers()
            whole = column.offset == 0 and column.null_count == 0
            if not whole or offsets is None:
                column = pa.array(column.to_pylist(), pa.large_string())
                _, offsets, text = column.buffers()
            pieces.append(memoryview(offsets)[: 8 * (len(column) + 1)] if len(column) else bytes(8))
            pieces.append(memoryview(text) if text is not None else b"")
    return Message({"sheets": header}, pieces)


def from_message(message: Message) -> list[Contents]:
    """The sheets again, everything about them checked: who read them may have been taken over.

    What their reader says of the cells (``harmless``) is not believed: they are looked at once more.

    Raises
    ------
    ValueError, KeyError, TypeError : it is not what :func:`as_message` sends.
    """
    pieces = iter(message.pieces)
    sheets = message.header["sheets"]
    if len(sheets) > bound("workbook", "most_sheets"):
        raise ValueError("more sheets than are read")
    return [made_visible(_sheet(about, pieces)) for about in sheets]


def _sheet(about: dict[str, Any], pieces: Any) -> Contents:  # noqa: ANN401  # an iterator that is used up
    n_rows, n_columns = int(about["n_rows"]), int(about["n_columns"])
    if not (0 <= n_rows <= bound("file", "most_rows") + 1 and 0 <= n_columns <= _MOST_COLUMNS):
        raise ValueError("no such sheet")
    columns = []
    for _ in range(n_columns):
        offsets, text = islice(pieces, 2)
        column = pa.LargeStringArray.from_buffers(n_rows, pa.py_buffer(offsets), pa.py_buffer(text))
        column.validate(full=True)
        columns.append(column)
    sheet = about["sheet"]
    harmless = all(_looks_harmless(column) for column in columns)
    return Contents(
        columns,
        n_rows,
        sheet=None if sheet is None else visible(str(sheet)),
        first_row=int(about["first_row"]),
        problems={int(row): visible(str(words)) for row, words in about["problems"]},
        merged=tuple(tuple(int(place) for place in area) for area in about["merged"]),  # type: ignore[misc]
        harmless=harmless,
        typed=bool(about["typed"]),
    )


def _looks_harmless(column: pa.LargeStringArray) -> bool:
    """Whether no cell can be hostile or too long, seen in one look at the text of them all."""
    _, offsets, text = column.buffers()
    if text is None or not len(column):
        return True
    if pc.max(pc.binary_length(column)).as_py() > bound(
        "cell", "longest_text"
    ):  # bytes: never fewer than characters
        return False
    (first,), (last,) = (struct.unpack_from("=q", offsets, 8 * place) for place in (0, len(column)))
    ends = pa.py_buffer(struct.pack("=qq", first, last))
    whole = pa.LargeStringArray.from_buffers(1, ends, text)
    return not pc.any(pc.match_substring_regex(whole, HOSTILE_IN_CELLS)).as_py()
