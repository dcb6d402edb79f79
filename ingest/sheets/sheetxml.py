"""A close look at the XML of one sheet: far cells, formulas without a result, error values, repeated text.

The reader of workbooks makes room for the whole area of a sheet, reads a formula that was never calculated
as 0 and an error value as nothing. This walk finds such cells; it is made only where a quick look asks for
it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import IO
from xml.parsers import expat

from ingest.errors import UnreadableFile

_PIECE = 1_000_000


@dataclass
class Walk:
    """What the walk through a sheet found; rows and columns count from 1."""

    last_row: int = 0
    last_column: int = 0
    repeated_text: int = 0
    problems: dict[int, str] = field(default_factory=dict)


class _Walker:
    """Handlers of the XML parser; they keep the cell that is open."""

    def __init__(self, text_lengths: list[int], *, never_calculated: bool) -> None:
        self.found = Walk()
        self._lengths = text_lengths
        self._never_calculated = never_calculated
        self._row = 0
        self._column = 0
        self._kind = ""
        self._formula = False
        self._inside_value = False
        self._value = ""
        self._filled = False

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        name = tag.rpartition(":")[2]
        if name == "row":
            self._row = whole(attributes.get("r", "")) or self._row + 1
            self._column = 0
        elif name == "c":
            row, column = reference(attributes.get("r", ""))
            self._row, self._column = row or self._row, column or self._column + 1
            self._kind = attributes.get("t", "n")
            self._formula, self._value, self._filled = False, "", False
        elif name == "f":
            self._formula = True
        elif name == "v":
            self._inside_value = True
        elif name == "is":
            self._filled = True

    def data(self, text: str) -> None:
        if self._inside_value:
            self._value += text

    def end(self, tag: str) -> None:
        name = tag.rpartition(":")[2]
        if name == "v":
            self._inside_value = False
        elif name == "c":
            self._close_cell()

    def _close_cell(self) -> None:
        value = self._value.strip()
        if not (value or self._filled or self._formula):
            return
        self.found.last_row = max(self.found.last_row, self._row)
        self.found.last_column = max(self.found.last_column, self._column)
        if self._kind == "s" and value.isdigit() and int(value) < len(self._lengths):
            self.found.repeated_text += self._lengths[int(value)]
        where = f"cell {_letters(self._column)}{self._row}"
        if self._kind == "e":
            self.found.problems.setdefault(
                self._row, f"{where} holds the error {value[:10]}; correct its formula"
            )
        elif self._formula and (not value or (self._never_calculated and value == "0")):
            self.found.problems.setdefault(
                self._row,
                f"{where} is a formula whose result is not in the file; open the workbook in a spreadsheet, "
                "save it, and add it again",
            )


def walk_sheet(stream: IO[bytes], text_lengths: list[int], *, never_calculated: bool) -> Walk:
    """Walk through the cells of a sheet.

    Parameters
    ----------
    stream : the XML of the sheet.
    text_lengths : bytes of each of the workbook's shared texts.
    never_calculated : whether the workbook says that it has yet to be calculated; then a formula's 0 is no
        result.

    Raises
    ------
    UnreadableFile : not XML, or XML that declares entities.
    """
    walker = _Walker(text_lengths, never_calculated=never_calculated)
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = walker.start
    parser.EndElementHandler = walker.end
    parser.CharacterDataHandler = walker.data
    parser.StartDoctypeDeclHandler = _refuse_declarations
    try:
        for piece in _pieces(stream):
            parser.Parse(piece, False)
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise UnreadableFile(f"a sheet of it is damaged at line {error.lineno}") from None
    return walker.found


def _pieces(stream: IO[bytes]) -> Iterator[bytes]:
    while piece := stream.read(_PIECE):
        yield piece


def _refuse_declarations(*_: object) -> None:
    raise UnreadableFile("a sheet of it declares entities, which no spreadsheet does")


def column_number(letters: str) -> int:
    """Number of a column from its letters: A → 1, AA → 27; 0 for none."""
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number


def reference(text: str) -> tuple[int, int]:
    """Row and column of ``B7``, both counted from 1; 0 where it does not say."""
    letters = text.rstrip("0123456789")
    sound = letters.isalpha() and letters.isascii() and len(letters) <= 7
    return whole(text[len(letters) :]), column_number(letters) if sound else 0


def whole(text: str) -> int:
    """A whole number; 0 for anything else."""
    return int(text) if text.isdigit() and text.isascii() and len(text) < 12 else 0


def _letters(column: int) -> str:
    letters = ""
    while column:
        column, letter = divmod(column - 1, 26)
        letters = chr(65 + letter) + letters
    return letters
