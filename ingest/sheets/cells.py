"""What a file holds before anybody knows what it means: cells of text, hostile characters made visible."""

from dataclasses import dataclass, field

import pandas as pd

from ingest.neutral import quoted
from ingest.sheets.contents import Contents


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


def as_cells(file: str, sheet: Contents) -> RawCells:
    """The sheet in a frame."""
    rows = pd.RangeIndex(sheet.first_row, sheet.first_row + sheet.n_rows)
    columns = {place: pd.Series(texts.to_pandas(), dtype="str") for place, texts in enumerate(sheet.columns)}
    cells = pd.DataFrame(columns, index=pd.RangeIndex(sheet.n_rows)).set_axis(rows, axis=0)
    return RawCells(file, sheet.sheet, cells, sheet.problems, sheet.merged)
