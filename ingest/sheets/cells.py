"""What a file holds before anybody knows what it means: cells of text, hostile characters made visible."""

from dataclasses import dataclass, field

import pandas as pd

from ingest.figures import bound
from ingest.neutral import HOSTILE_IN_CELLS, quoted, visible


@dataclass(frozen=True)
class RawCells:
    """One sheet as it is.

    ``cells`` is a frame of text (missing = ""), its index the row number in the file as a spreadsheet shows
    it, its columns 0, 1, ...; ``problems`` row → why a cell of it cannot be believed; ``merged`` the merged
    areas as (first row, first column, last row, last column), rows counted like the index; ``harmless``
    whether its reader has seen already that no cell is hostile or too long.
    """

    file: str
    sheet: str | None
    cells: pd.DataFrame
    problems: dict[int, str] = field(default_factory=dict)
    merged: tuple[tuple[int, int, int, int], ...] = ()
    harmless: bool = False

    @property
    def place(self) -> str:
        """File and sheet, harmless to show."""
        return quoted(self.file) + (f", sheet {quoted(self.sheet)}" if self.sheet is not None else "")


def column_letter(position: int) -> str:
    """Name of a column in a spreadsheet: 0 → A, 26 → AA."""
    letters = ""
    position += 1
    while position:
        position, letter = divmod(position - 1, 26)
        letters = chr(65 + letter) + letters
    return letters


def made_visible(raw: RawCells) -> RawCells:
    """The cells with hostile characters made visible, and their rows marked to be held back.

    Too long a cell is cut and marked likewise.
    """
    if raw.harmless:
        return raw
    longest = bound("cell", "longest_text")
    problems = dict(raw.problems)
    cells = raw.cells
    for position in range(cells.shape[1]):
        column = cells[position]
        hostile = column.str.contains(HOSTILE_IN_CELLS, regex=True)
        long = column.str.len() > longest
        if not (hostile | long).any():
            continue
        mended = column.mask(hostile, column[hostile].map(visible)).str.slice(0, longest)
        cells = _replaced(cells, position, mended)
        where = column_letter(position)
        for row in column.index[hostile]:
            problems.setdefault(
                int(row), f"column {where} holds characters that nobody can see; type the text again"
            )
        for row in column.index[long]:
            problems.setdefault(
                int(row), f"column {where} holds more than {longest:,} characters; shorten the text"
            )
    return RawCells(raw.file, raw.sheet, cells, problems, raw.merged)


def _replaced(cells: pd.DataFrame, position: int, column: pd.Series) -> pd.DataFrame:
    out = cells.copy()
    out[position] = column
    return out
