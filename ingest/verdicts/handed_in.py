"""Files to rows of text by table: read, and recognised by their headings. Nothing is understood yet."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from ingest.errors import UnknownTable, UnreadableFile
from ingest.layouts.apply import read_tables
from ingest.layouts.headings import Recognised, recognise
from ingest.layouts.layout import Layout
from ingest.layouts.plain import RawTable
from ingest.neutral import quoted, visible, with_formulas
from ingest.schema import TABLES
from ingest.sheets.readers import find_files

SHEETS = ["file", "sheet", "table", "not_used"]
"""Columns that say what a sheet is; not_used: its headings that are no column of the table."""


@dataclass(frozen=True)
class NotRead:
    """A file or sheet that was not taken, and why."""

    file: str
    sheet: str
    reason: str


@dataclass(frozen=True)
class HandedIn:
    """Everything that was read from files.

    Attributes
    ----------
    rows : table -> its rows as text, in the order in which tables are taken in; columns as
        :func:`ingest.verdicts.normalise.normalise` takes them, labels 0, 1, ... within a table.
    sheets : ``SHEETS``, one row for each sheet that is a table.
    not_read : files and sheets that are none.
    """

    rows: dict[str, pd.DataFrame]
    sheets: pd.DataFrame
    not_read: tuple[NotRead, ...] = ()


def read_files(paths: Iterable[Path], layout: Layout | None = None) -> HandedIn:
    """Read every sheet of files and folders and recognise its table by its headings.

    Raises
    ------
    UnreadableFile : a path does not exist, or nothing of all is a table; the message speaks of each file.
    """
    parts: dict[str, list[pd.DataFrame]] = {}
    sheets: list[tuple[str, str, str, str]] = []
    not_read: list[NotRead] = []
    for path in find_files(paths):
        try:
            _check_name(path)
            tables = read_tables(path, layout)
        except UnreadableFile as error:
            not_read.append(NotRead(visible(path.name), "", str(error)))
            continue
        if not tables:
            words = (
                "no sheet of the file holds rows under this layout; it is empty, or the layout leaves it out"
            )
            not_read.append(NotRead(visible(path.name), "", f"{quoted(path.name)}: {words}."))
        for table in tables:
            sheet = table.sheet or ""
            try:
                found = recognise(table.columns, table.table)
            except UnknownTable as error:
                not_read.append(NotRead(table.file, sheet, str(error)))
                continue
            parts.setdefault(found.table, []).append(_rows(table, found))
            unused = [name for name in found.unknown if not name.startswith((":", "unit:"))]
            sheets.append((table.file, sheet, found.table, ", ".join(unused)))
    if not parts:
        reasons = [item.reason for item in not_read] or [
            "There are no files to read there. Name files (.csv, .xlsx) or a folder of them."
        ]
        raise UnreadableFile("\n".join(reasons))
    rows = {
        table: pd.concat(parts[table], ignore_index=True).fillna("") for table in TABLES if table in parts
    }
    return HandedIn(rows, pd.DataFrame(sheets, columns=SHEETS), tuple(not_read))


def _check_name(path: Path) -> None:
    """Refuse a file whose name is no text: rows could not say where they came from."""
    try:
        path.name.encode()
    except UnicodeEncodeError:
        raise UnreadableFile(
            f"{quoted(path.name)} was not read: its name is not written in UTF-8. Rename the file and add it "
            "again."
        ) from None


def _rows(table: RawTable, found: Recognised) -> pd.DataFrame:
    """Rows under the names of the table's columns, with their place and what was stated about the sheet."""
    rows = table.rows.rename(columns=found.renames).apply(with_formulas)
    for column, unit in found.units.items():
        rows[f"unit:{column}"] = unit
    rows = rows.assign(
        source_file=table.file, source_sheet=table.sheet or "", source_row=table.rows.index.to_numpy()
    )
    stated = {":order": table.date_order or "", ":decimal": "," if table.decimal == "," else ""}
    rows = rows.assign(**{name: word for name, word in stated.items() if word})
    if table.problems:
        rows[":problem"] = rows["source_row"].map(table.problems).fillna("").astype("str")
    return rows
