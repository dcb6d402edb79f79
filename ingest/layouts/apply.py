"""Sheets of a railway's own make, read through its layout to tables of text.

Pure: cells in, tables out. A row of the result keeps the row number of the sheet; where columns are spread,
a sheet's row gives several.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from ingest.errors import UnreadableFile
from ingest.layouts.blocks import find_blocks
from ingest.layouts.both_sides import SIDES, pair_named
from ingest.layouts.columns import name_columns
from ingest.layouts.headings import split_unit
from ingest.layouts.layout import Layout, SheetLayout
from ingest.layouts.plain import RawTable, as_tables, lines_of
from ingest.layouts.rows import for_all_rows, rows_of
from ingest.layouts.spread import spread_out
from ingest.layouts.text import like
from ingest.layouts.words import in_known_words
from ingest.neutral import quoted
from ingest.sheets.cells import RawCells, marked, split_marks
from ingest.sheets.readers import read_cells

AS_IT_IS = Layout("", ())
"""The layout that says nothing: the headings of every sheet are its first filled row."""


@dataclass(frozen=True)
class UnreadSheet:
    """A sheet that is no table, or not what the layout names, and why."""

    sheet: str
    reason: str


def read_tables(path: Path, layout: Layout | None = None) -> list[RawTable]:
    """Tables of text in a file, all of its sheets or none; see :func:`read_sheets`.

    Raises
    ------
    UnreadableFile : as :func:`read_sheets`, or one of the sheets cannot be read.
    """
    tables, unread = read_sheets(path, layout)
    if unread:
        raise UnreadableFile(unread[0].reason)
    return tables


def read_sheets(path: Path, layout: Layout | None = None) -> tuple[list[RawTable], list[UnreadSheet]]:
    """Tables of text in a file, and the sheets that are none: one bad sheet keeps no other out.

    Parameters
    ----------
    path : a CSV file, a workbook (.xlsx, .ods) or a Parquet file.
    layout : how its sheets are arranged; None: see :func:`ingest.layouts.plain.as_tables`.

    Returns
    -------
    Tables: one for a CSV file, one for each filled sheet of a workbook. Sheets that could not be read.

    Raises
    ------
    UnreadableFile : the file is no table, damaged, hostile, too large, or holds nothing.
    """
    layout = layout or AS_IT_IS
    tables: list[RawTable] = []
    unread: list[UnreadSheet] = []
    for sheet in read_cells(path, encoding=layout.encoding, delimiter=layout.delimiter):
        try:
            tables += apply_layout([sheet], layout)
        except UnreadableFile as error:
            unread.append(UnreadSheet(sheet.sheet or "", str(error)))
    if not (tables or unread) and layout is AS_IT_IS:
        raise UnreadableFile(
            f"{quoted(path.name)} is empty; a table with headings in its first row was expected."
        )
    return tables, unread


def apply_layout(sheets: Iterable[RawCells], layout: Layout) -> list[RawTable]:
    """Tables of text of the sheets that a layout describes.

    Parameters
    ----------
    sheets : cells of one file.
    layout : the first of its ``[[table]]`` whose ``sheet`` fits a sheet's name reads that sheet. A sheet
        that none fits, and that is not to be ignored, is read as it is.

    Returns
    -------
    list of RawTable : headings are the table's own where the layout says so, as written otherwise; with the
        date order and decimal mark that the layout states. The sheet's blocks are one table.

    Raises
    ------
    UnreadableFile : a heading, cell or block that the layout names is not in the sheet.
    """
    tables = []
    for sheet in sheets:
        if _named(sheet, layout.ignore):
            continue
        how = next((how for how in layout.tables if _named(sheet, (how.sheet,))), None)
        sheet = marked(sheet)
        for table in _tables(sheet, how):
            headings = [split_unit(name)[0] for name in table.rows.columns]
            rows = in_known_words(table.rows, headings, layout.words)
            rows, marks = split_marks(rows) if table.typed else (rows, None)
            table = replace(table, rows=rows, marks=marks)
            tables.append(replace(table, date_order=layout.dates, decimal=layout.decimal))
    return tables


def _tables(sheet: RawCells, how: SheetLayout | None) -> Iterator[RawTable]:
    """The tables of one sheet: as a part of the layout says, or as they stand."""
    if how is None:
        yield from as_tables(sheet)
    elif (table := _read_sheet(sheet, how)) is not None:
        yield table


def _read_sheet(sheet: RawCells, how: SheetLayout) -> RawTable | None:
    """One sheet, its blocks one after the other; None for an empty one."""
    parts, lines = [], []
    problems = dict(sheet.problems)
    for block in find_blocks(sheet, how):
        lines += [lines_of(block.whole[block.whole.index < block.heads.index[0]])]
        problems |= block.problems
        units = [split_unit(heading)[1] for heading in block.headings]
        columns = name_columns(sheet, block.headings, units, how)
        rows = rows_of(block, columns, how.fill)
        stated = for_all_rows(sheet, block, how) | _sides_of_values(block.headings, columns.names)
        if how.spread is not None:
            lines.append(lines_of(block.body[(block.body[columns.spread] == "").all(axis=1)]))
            rows = spread_out(rows, block.body[columns.spread], block.heads[columns.spread], how)
        parts.append(rows.assign(**{name: text for name, text in stated.items() if name not in rows}))
    if not parts:
        return None
    names = list(dict.fromkeys(name for part in parts for name in part.columns))
    rows = pd.concat([part.reindex(columns=names) for part in parts]).fillna("").astype("str")
    problems = {row: words for row, words in problems.items() if row in rows.index}
    words = "\n".join(dict.fromkeys(filter(None, lines)))
    return RawTable(
        sheet.file, sheet.sheet, names, rows, problems, table=how.table, typed=sheet.typed, words=words
    )


def _sides_of_values(headings: Sequence[str], names: Sequence[str]) -> dict[str, str]:
    """What the heading of the value says of both sides, as a column beside it."""
    said = [
        pair_named(h)[1] for h, name in zip(headings, names, strict=True) if split_unit(name)[0] == "value"
    ]
    return {SIDES: said[0]} if any(said[:1]) else {}


def _named(sheet: RawCells, patterns: Iterable[str]) -> bool:
    return like(sheet.sheet or "", patterns)
