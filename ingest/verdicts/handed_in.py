"""Files to rows of text by table: read, and recognised by their headings. Nothing is understood yet."""

import hashlib
from collections import Counter
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from ingest.errors import UnknownTable, UnreadableFile
from ingest.layouts.apply import read_sheets
from ingest.layouts.both_sides import with_both_sides
from ingest.layouts.headings import NOTE, Recognised
from ingest.layouts.layout import Layout
from ingest.layouts.plain import RawTable
from ingest.layouts.rows import (
    with_days_above,
    with_repeats,
    with_units_of_quantities,
    without_quantity_of_numbers,
)
from ingest.layouts.sides import recognised
from ingest.layouts.stages import by_stages
from ingest.layouts.told_by_file import told_by_file
from ingest.look.no_entries import says_sound
from ingest.look.question import Question, mark_of
from ingest.look.sheet import SHEET_KIND
from ingest.neutral import quoted, visible, with_formulas
from ingest.notation.behind_values import with_marks_behind
from ingest.notation.stated import TITLE, WORDS
from ingest.schema import TABLES
from ingest.sheets.readers import find_files

SHEETS = ["file", "sheet", "table", "not_used"]
"""Columns that say what a sheet is; not_used: its headings that are no column of the table."""

_REPEATED = {"date", "point", "vehicle", "component", "position", "quantity", "unit", "gauge", "observer"}
"""Columns in which a ditto mark repeats the cell above: what rows are about, never what was measured."""

_MARK = 20
"""Figures of a mark: no two contents that anybody meets share it."""


@dataclass(frozen=True)
class NotRead:
    """A file or sheet that was not taken, and why; ``question``: id of one whose answer would read it."""

    file: str
    sheet: str
    reason: str
    question: str = ""


@dataclass(frozen=True)
class HandedIn:
    """Everything that was read from files.

    Attributes
    ----------
    rows : table -> its rows as text, in the order in which tables are taken in; columns as
        :func:`ingest.verdicts.normalise.normalise` takes them, labels 0, 1, ... within a table.
    sheets : ``SHEETS``, one row for each sheet that is a table.
    not_read : files and sheets that are none.
    contents : file -> a mark of its content, for those whose name no other file of the call has.
    pictures : content of pictures that the rows name; kept in the transaction that stores the rows.
    questions, answered : what is asked about sheets that were not read for it, and what was answered.
    """

    rows: dict[str, pd.DataFrame]
    sheets: pd.DataFrame
    not_read: tuple[NotRead, ...] = ()
    contents: dict[str, str] = field(default_factory=dict)
    pictures: tuple[bytes, ...] = ()
    questions: tuple[Question, ...] = ()
    answered: tuple[tuple[Question, str], ...] = ()


_NO_ROWS = "no sheet of the file holds rows under this layout; it is empty, or the layout leaves it out"


def read_files(
    paths: Iterable[Path], layout: Layout | None = None, *, of_file: Mapping[Path, Layout] | None = None
) -> HandedIn:
    """Read every sheet of files and folders and recognise its table by its headings.

    Parameters
    ----------
    layout : for all of them, except those that `of_file` has one of their own for.

    Raises
    ------
    UnreadableFile : a path does not exist, or nothing of all is a table; the message speaks of each file.
    """
    return checked(read_each(paths, layout, of_file=of_file))


def checked(handed_in: HandedIn) -> HandedIn:
    """What was read, unless it is nothing.

    Raises
    ------
    UnreadableFile : nothing of all is a table; the message speaks of each file.
    """
    if not handed_in.rows:
        reasons = [item.reason for item in handed_in.not_read] or [
            "There are no files to read there. Name files (.csv, .xlsx) or a folder of them."
        ]
        raise UnreadableFile("\n".join(reasons))
    return handed_in


def read_each(
    paths: Iterable[Path], layout: Layout | None = None, *, of_file: Mapping[Path, Layout] | None = None
) -> HandedIn:
    """As :func:`read_files`, whether or not anything is a table."""
    parts: dict[str, list[pd.DataFrame]] = {}
    sheets: list[tuple[str, str, str, str]] = []
    not_read: list[NotRead] = []
    files = find_files(paths)
    for path in files:
        try:
            check_name(path)
            tables, unread = read_sheets(path, (of_file or {}).get(path, layout))
        except UnreadableFile as error:
            not_read.append(NotRead(visible(path.name), "", str(error)))
            continue
        not_read += [NotRead(visible(path.name), item.sheet, item.reason) for item in unread]
        if not (tables or unread):
            not_read.append(NotRead(visible(path.name), "", f"{quoted(path.name)}: {_NO_ROWS}."))
        for table in tables:
            if [str(heading).strip().lower() for heading in table.columns] == [NOTE]:
                continue
            sheet = table.sheet or ""
            try:
                table, found, rows = as_rows(table)
            except UnknownTable as error:
                not_read.append(NotRead(table.file, sheet, str(error)))
                continue
            parts.setdefault(found.table, []).append(rows)
            unused = [name for name in found.unknown if not name.startswith((":", "unit:"))]
            sheets.append((table.file, sheet, found.table, ", ".join(unused)))
    of_table = {
        table: pd.concat(parts[table], ignore_index=True).fillna("") for table in TABLES if table in parts
    }
    return HandedIn(of_table, pd.DataFrame(sheets, columns=SHEETS), tuple(not_read), _marks(files))


def as_rows(table: RawTable) -> tuple[RawTable, Recognised, pd.DataFrame]:
    """A table of text with its headings understood, and its rows as ``HandedIn`` has them.

    Raises
    ------
    UnknownTable : its headings are those of no table.
    """
    parts = [without_quantity_of_numbers(*recognised(part)) for part in by_stages(table) or [table]]
    rows = pd.concat([_rows(*part).fillna("") for part in parts], ignore_index=True)
    if len(parts) > 1:
        rows = rows.fillna("").sort_values("source_row", kind="stable", ignore_index=True)
    return (*parts[0], rows)


def _marks(paths: list[Path]) -> dict[str, str]:
    """File -> a mark of its content."""
    names = Counter(visible(path.name) for path in paths)
    marks = {}
    for path in paths:
        if names[visible(path.name)] == 1:
            with suppress(OSError), path.open("rb") as file:
                marks[visible(path.name)] = hashlib.file_digest(file, "sha256").hexdigest()[:_MARK]
    return marks


def check_name(path: Path) -> None:
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
    rows = with_repeats(table.rows.rename(columns=found.renames), _REPEATED)
    rows = rows.apply(with_formulas)
    if table.typed:
        marks = None if table.marks is None else table.marks.rename(columns=found.renames)
        told = told_by_file(marks, rows.index, TABLES[found.table].public)
        # Rows that went out waiting come in again with what was told of them then.
        rows = pd.concat([rows, told[told.columns.difference(rows.columns, sort=False)]], axis=1)
    rows = with_days_above(rows) if found.table == "readings" else rows
    rows = with_marks_behind(rows, says_sound) if found.table == "readings" else rows
    if found.table == "readings" and "value" not in found.units:
        rows = with_units_of_quantities(rows)
    for column, unit in found.units.items():
        rows[f"unit:{column}"] = unit
    rows = rows.assign(
        source_file=table.file, source_sheet=table.sheet or "", source_row=table.rows.index.to_numpy()
    )
    stated = {":order": table.date_order or "", ":decimal": "," if table.decimal == "," else ""}
    stated |= {TITLE: table.title, WORDS: table.words} if found.table == "readings" else {}
    stated[SHEET_KIND] = mark_of([found.table, *table.columns])
    rows = rows.assign(**{name: word for name, word in stated.items() if word and name not in rows})
    if table.problems:
        rows[":problem"] = rows["source_row"].map(table.problems).fillna("").astype("str")
    return with_both_sides(rows) if found.table == "readings" else rows
