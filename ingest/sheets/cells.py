"""What a file holds before anybody knows what it means: cells of text, and tables of text under headings."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from ingest.bounds import bound
from ingest.errors import UnreadableFile
from ingest.neutral import HOSTILE_IN_CELLS, quoted, visible


@dataclass(frozen=True)
class RawCells:
    """One sheet as it is.

    ``cells`` is a frame of text (missing = ""), its index the row number in the file as a spreadsheet shows
    it, its columns 0, 1, ...; ``problems`` row → why a cell of it cannot be believed; ``merged`` the merged
    areas as (first row, first column, last row, last column), rows counted like the index.
    """

    file: str
    sheet: str | None
    cells: pd.DataFrame
    problems: dict[int, str] = field(default_factory=dict)
    merged: tuple[tuple[int, int, int, int], ...] = ()

    @property
    def place(self) -> str:
        """File and sheet, harmless to show."""
        return quoted(self.file) + (f", sheet {quoted(self.sheet)}" if self.sheet is not None else "")


@dataclass(frozen=True)
class RawTable:
    """One table of text under its headings.

    ``columns`` are the headings as written; ``rows`` a frame of text under them (missing = ""), index = row
    number in the file, 1-based as a spreadsheet shows it; ``problems`` row → why it must be held back;
    ``date_order`` and ``decimal`` what a layout states about dates and numbers; ``table`` the public table
    if a layout names it.
    """

    file: str
    sheet: str | None
    columns: list[str]
    rows: pd.DataFrame
    problems: dict[int, str] = field(default_factory=dict)
    date_order: str | None = None
    decimal: str = "."
    table: str | None = None

    @property
    def place(self) -> str:
        """File and sheet, harmless to show."""
        return quoted(self.file) + (f", sheet {quoted(self.sheet)}" if self.sheet is not None else "")


def column_letter(position: int) -> str:
    """Name of a column in a spreadsheet: 0 → A, 26 → AA."""
    letters = ""
    position += 1
    while position:
        position, rest = divmod(position - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def made_visible(raw: RawCells) -> RawCells:
    """The cells with hostile characters made visible, and their rows marked to be held back.

    Too long a cell is cut and marked likewise.
    """
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


def as_table(raw: RawCells) -> RawTable | None:
    """The sheet as a table whose headings are its first row that is not empty; None for an empty sheet.

    Raises
    ------
    UnreadableFile : two filled columns under one heading.
    """
    filled = (raw.cells != "").any(axis=1).to_numpy()
    if not filled.any():
        return None
    at = int(np.argmax(filled))
    body = raw.cells.iloc[at + 1 :]
    body = body[filled[at + 1 :]]
    headings = [" ".join(str(text).split()) for text in raw.cells.iloc[at]]
    used = [p for p, heading in enumerate(headings) if heading or (body[p] != "").any()]
    columns = [headings[p] or f"column {column_letter(p)}" for p in used]
    columns, used = _without_empty_twins(columns, used, body)
    twins = [heading for heading, count in Counter(columns).items() if count > 1]
    if twins:
        where = ", ".join(
            column_letter(p) for p, heading in zip(used, columns, strict=True) if heading == twins[0]
        )
        raise UnreadableFile(
            f"{raw.place}: columns {where} are all headed {quoted(twins[0])}; one column for one thing "
            "was expected. "
            "Rename or delete the others."
        )
    rows = body[used].set_axis(columns, axis=1)
    problems = {row: words for row, words in raw.problems.items() if row in rows.index}
    problems = beyond_headings(raw, body, headings) | problems
    return RawTable(raw.file, raw.sheet, columns, rows, problems)


def beyond_headings(raw: RawCells, body: pd.DataFrame, headings: Sequence[str]) -> dict[int, str]:
    """Rows of a text file with filled cells to the right of the last heading: row → why it is held back.

    In a text file that is a mark within a cell taken for the delimiter, and the cells beside it are shifted.
    In a workbook it is a remark beside the table.
    """
    last = max((p for p, heading in enumerate(headings) if heading), default=-1)
    if raw.sheet is not None or last + 1 >= body.shape[1]:
        return {}
    over = (body.iloc[:, last + 1 :] != "").any(axis=1).to_numpy(dtype=bool)
    words = (
        f"the row has more cells than there are headings ({last + 1}); if a cell holds the mark that parts "
        "the cells (1,5), put the cell between quotation marks"
    )
    return dict.fromkeys(body.index[over].tolist(), words)


def _without_empty_twins(
    columns: list[str], used: list[int], body: pd.DataFrame
) -> tuple[list[str], list[int]]:
    """Leave out columns whose heading stands elsewhere too and that hold nothing."""
    count = Counter(columns)
    keep = [
        (heading, p)
        for heading, p in zip(columns, used, strict=True)
        if count[heading] == 1 or (body[p] != "").any()
    ]
    return [heading for heading, _ in keep], [p for _, p in keep]


def _replaced(cells: pd.DataFrame, position: int, column: pd.Series) -> pd.DataFrame:
    out = cells.copy()
    out[position] = column
    return out
