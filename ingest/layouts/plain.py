"""A sheet as a table of text under headings; without a layout these are its first row that is not empty."""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from ingest.errors import UnreadableFile
from ingest.layouts.blocks import beyond_headings
from ingest.neutral import quoted
from ingest.sheets.cells import RawCells
from ingest.sheets.contents import column_letter


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


def as_table(raw: RawCells) -> RawTable | None:
    """The sheet as a table whose headings are its first row that is not empty; None for an empty sheet.

    Raises
    ------
    UnreadableFile : two filled columns under one heading.
    """
    filled = (raw.cells != "").any(axis=1).to_numpy()
    if not filled.any():
        return None
    header = int(np.argmax(filled))
    body = raw.cells.iloc[header + 1 :]
    body = body[filled[header + 1 :]]
    headings = [" ".join(str(text).split()) for text in raw.cells.iloc[header]]
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
