"""Everything out again, as files that ``add`` reads back to the very same rows."""

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import Literal

import pandas as pd
import xlsxwriter
from xlsxwriter.exceptions import FileCreateError

from ingest.errors import NotPossible
from ingest.machine import told_plainly
from ingest.names.as_written import as_written
from ingest.neutral import without_formulas
from ingest.schema import SOURCE, TABLES
from ingest.store import Store
from ingest.writing import TEXTS_STAY, whole_file, write_whole

Form = Literal["csv", "xlsx", "parquet"]
WORKBOOK = "milesleft.xlsx"
_MOST_ROWS = 1_048_576  # of one sheet: Microsoft, Excel specifications and limits
_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?")


def export(store: Store, folder: Path, form: Form = "csv", version: int | None = None) -> list[Path]:
    """Write every table of the store, and the rows that are held back, into a folder.

    Parameters
    ----------
    store : the store.
    folder : it is made; files of the same name in it are replaced, each in one step.
    form : csv or parquet, a file for each table; xlsx, one workbook with a sheet for each.
    version : the data as they were at that version; None for now.

    Returns
    -------
    list of Path : the files written. Adding them to an empty store gives the same rows: the text of a value
    is written as it came, and the rows held back once more with their text as it came.

    Raises
    ------
    NotPossible : a table has more rows than a sheet of a workbook holds.
    StoreBusy, StoreProblem : the store cannot be read.

    Notes
    -----
    In csv and xlsx a text that a spreadsheet could take for a formula (it begins with = + - @, tab or return)
    gets an apostrophe in front, which ``add`` takes off again (CWE-1236, improper neutralization of formula
    elements in a CSV file).
    """
    tables = texts(store, version)
    with told_plainly(folder, "Nothing was written."):
        folder.mkdir(parents=True, exist_ok=True)
    if form == "xlsx":
        path = folder / WORKBOOK
        with told_plainly(path, "The file was not written."):
            write_whole(path, _workbook(tables))
        return [path]
    paths = []
    for name, frame in tables.items():
        path = folder / f"{name}.{form}"
        with whole_file(path) as fresh:
            if form == "csv":
                without_formulas(frame).to_csv(fresh, index=False)
            else:
                frame.to_parquet(fresh, index=False)
        paths.append(path)
    return paths


def texts(store: Store, version: int | None = None) -> dict[str, pd.DataFrame]:
    """Tables as text, those without rows left out, and ``TABLE_held_back`` with rows that still wait."""
    known = store.stored_at(version)
    out = {}
    for table in TABLES:
        rows = known[table].sort_values([*TABLES[table].key, "row_id"], kind="stable")
        if len(rows):
            out[table] = as_written(table, rows)
    held = known["held"]
    for table in TABLES:
        waiting = held[(held["table_name"] == table) & (held["outcome"] == "")]
        if len(waiting):
            cells = pd.DataFrame([json.loads(raw) for raw in waiting["raw"]]).fillna("").astype("str")
            # The name sorts behind that of the table, so that of two rows that contradict the same one waits.
            out[f"{table}_held_back"] = cells.drop(columns=SOURCE, errors="ignore")
    return out


def _workbook(tables: dict[str, pd.DataFrame]) -> bytes:
    too_long = [name for name, frame in tables.items() if len(frame) >= _MOST_ROWS]
    if too_long:
        raise NotPossible(
            f"The table {too_long[0]} has {len(tables[too_long[0]]):,} rows; a sheet of a workbook holds "
            f"{_MOST_ROWS:,}. Export to csv or parquet."
        )
    out = BytesIO()  # a workbook on a full disk would print a traceback of its own when it is given up
    with (
        _machine_told(),
        xlsxwriter.Workbook(out, TEXTS_STAY | {"in_memory": False, "constant_memory": True}) as book,
    ):
        for name, frame in tables.items():
            sheet = book.add_worksheet(name)
            sheet.freeze_panes(1, 0)
            rows = [list(frame.columns), *without_formulas(frame).to_numpy().tolist()]
            for i, row in enumerate(rows):
                for j, text in enumerate(row):
                    if _is_number(text):
                        sheet.write_number(i, j, float(text))
                    elif text:
                        sheet.write_string(i, j, text)
    return out.getvalue()


@contextmanager
def _machine_told() -> Iterator[None]:
    """The writer of workbooks wraps what its scratch files met with; that itself is raised."""
    try:
        yield
    except FileCreateError as error:
        raise error.args[0] from None


def _is_number(text: str) -> bool:
    """Whether a workbook can keep the text as a number: 15 figures of it are read back."""
    return _NUMBER.fullmatch(text) is not None and text == f"{float(text):.15g}"
