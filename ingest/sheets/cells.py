"""What a file holds before anybody knows what it means: cells of text, hostile characters made visible."""

from dataclasses import dataclass, field, replace

import pandas as pd
import pyarrow.compute as pc

from ingest.neutral import quoted
from ingest.sheets.contents import MARKS, Contents

_AT_END = f"(?<!{MARKS})({MARKS}+)$"


@dataclass(frozen=True)
class RawCells:
    """One sheet as it is.

    ``cells`` is a frame of text (missing = ""), its index the row number in the file as a spreadsheet shows
    it, its columns 0, 1, ...; ``problems`` row → why a cell of it cannot be believed; ``merged`` the merged
    areas as (first row, first column, last row, last column), rows counted like the index; ``typed`` whether
    the file tells numbers from texts; ``marks`` column → by row, what the file says of a cell (characters of
    ``ingest.sheets.contents.MARKS``), only where it says anything.
    """

    file: str
    sheet: str | None
    cells: pd.DataFrame
    problems: dict[int, str] = field(default_factory=dict)
    merged: tuple[tuple[int, int, int, int], ...] = ()
    typed: bool = False
    marks: dict[int, pd.Series] = field(default_factory=dict)

    @property
    def place(self) -> str:
        """File and sheet, harmless to show."""
        return quoted(self.file) + (f", sheet {quoted(self.sheet)}" if self.sheet is not None else "")


def as_cells(file: str, sheet: Contents) -> RawCells:
    """The sheet in a frame."""
    rows = pd.RangeIndex(sheet.first_row, sheet.first_row + sheet.n_rows)
    columns = {place: pd.Series(texts.to_pandas(), dtype="str") for place, texts in enumerate(sheet.columns)}
    cells = pd.DataFrame(columns, index=pd.RangeIndex(sheet.n_rows)).set_axis(rows, axis=0)
    marks = {}
    for place, texts in enumerate(sheet.columns) if sheet.typed else ():
        if pc.any(pc.match_substring_regex(texts, MARKS)).as_py():
            marks[place] = cells[place].str.extract(_AT_END, expand=False).dropna()
            cells[place] = unmarked(cells[place])
    return RawCells(file, sheet.sheet, cells, sheet.problems, sheet.merged, sheet.typed, marks)


def split_marks(rows: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame | None]:
    """Rows of text without their marks, and the marks of the columns that have any; None if none has."""
    marks = {
        name: found.fillna("")
        for name in rows
        if (found := rows[name].str.extract(_AT_END, expand=False)).notna().any()
    }
    if not marks:
        return rows, None
    return rows.assign(**{str(name): unmarked(rows[name]) for name in marks}), pd.DataFrame(marks)


def unmarked(texts: pd.Series) -> pd.Series:
    """The texts without what the file says of their cells."""
    return texts.str.replace(f"{MARKS}+$", "", regex=True)


def marked(raw: RawCells) -> RawCells:
    """The sheet with what its file says of a cell behind the cell's text, where it goes with it anywhere."""
    if not raw.marks:
        return raw
    cells = raw.cells.copy()
    for place, marks in raw.marks.items():
        cells.loc[marks.index, place] += marks
    return replace(raw, cells=cells)
