"""One sheet as its judges see it: its rows as text, as typed rows once they are read, and what is stored."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date

import numpy as np
import pandas as pd

from ingest.notation.stated import REMARK, note_with

SHEET_KIND = ":sheet_kind"
"""Column of the rows that carries the mark of their kind of sheet; made when the headings are read."""

MEASURED = {"readings": ("value",), "work": ("value_before", "value_after")}
"""Columns that hold values of wear points, by table."""


@dataclass(frozen=True)
class Sheet:
    """The rows that one sheet of one file gives to one table.

    Attributes
    ----------
    table : key of ``ingest.schema.TABLES``.
    file, sheet : where it was read.
    kind : mark of the kind of sheet: what its headings share.
    raw : rows as text under the table's columns, with what was stated about them (``unit:NAME`` by the
        heading of NAME; columns that begin with ``:``), and source_file, source_sheet, source_row.
    known : rows of every table that hold, as ``ingest.store.Store.stored`` gives them, and those that the
        same call brought earlier (row_id -1).
    today : later days lie in the future.
    rows : typed rows in base units, only those that are new and have neither a reason to be held back nor an
        open question; None while the columns are being judged. Labels are those of ``raw``.
    repeated : typed rows that say what is stored already.
    beside : ``rows`` of all sheets of the call; labels tell which are of this one.
    texts : columns of ``raw`` that a judge has asked for, so that the next need not trim them again.
    """

    table: str
    file: str
    sheet: str
    kind: str
    raw: pd.DataFrame
    known: Mapping[str, pd.DataFrame]
    today: date
    rows: pd.DataFrame | None = None
    repeated: pd.DataFrame | None = None
    beside: pd.DataFrame | None = None
    texts: dict[str, pd.Series] = field(default_factory=dict, repr=False, compare=False)

    def text(self, name: str) -> pd.Series:
        """Cells of a column, trimmed; empty texts where the sheet has no such column. Not to be changed."""
        if name not in self.texts:
            cells = self.raw[name] if name in self.raw else pd.Series("", self.raw.index, dtype="str")
            if name == "note" and REMARK in self.raw:
                cells = note_with(self.raw, REMARK)
            self.texts[name] = cells.fillna("").astype("str").str.strip() if name in self.raw else cells
        return self.texts[name]


def sheets_of(
    table: str,
    raw: pd.DataFrame,
    known: Mapping[str, pd.DataFrame],
    today: date,
    rows: pd.DataFrame | None = None,
    repeated: pd.DataFrame | None = None,
    beside: pd.DataFrame | None = None,
) -> Iterator[Sheet]:
    """The sheets of a table's rows, in the order in which they came; the last three are typed rows."""
    if raw.empty:
        return
    of_file, files = pd.factorize(raw["source_file"])
    of_sheet, sheets = pd.factorize(raw["source_sheet"])
    code, pairs = pd.factorize(of_file * np.int64(len(sheets) + 1) + of_sheet)
    names = [
        (files[int(at)], sheets[int(of)]) for at, of in zip(*np.divmod(pairs, len(sheets) + 1), strict=True)
    ]
    order = np.argsort(code, kind="stable")
    starts = np.searchsorted(code[order], np.arange(len(names) + 1))
    for number, (file, sheet) in enumerate(names):
        part = raw.iloc[np.sort(order[starts[number] : starts[number + 1]])] if len(names) > 1 else raw
        typed, again = (
            some if some is None or len(names) == 1 else some[some.index.isin(part.index)]
            for some in (rows, repeated)
        )
        kind = str(part[SHEET_KIND].iloc[0]) if SHEET_KIND in part else ""
        yield Sheet(table, str(file), str(sheet), kind, part, known, today, typed, again, beside)
