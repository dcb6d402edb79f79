"""A sheet of a railway's own make cut into blocks, each with its headings and the rows of data below them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ingest.errors import UnreadableFile
from ingest.layouts.layout import SheetLayout
from ingest.layouts.text import like
from ingest.neutral import quoted
from ingest.sheets.cells import RawCells, unmarked

_MOST_TITLES = 8
"""Lines above the headings that are passed over where a layout does not say in which row they stand."""


@dataclass(frozen=True)
class Block:
    """One block of a sheet; rows keep the numbers of the sheet, columns are positions.

    ``whole`` are its cells with merged areas filled: so headings and labels reach over what they are merged
    over. ``heads`` are the rows of headings of it, ``headings`` these joined, one for each column. ``body``
    are the filled rows of data as they stand: a value is never taken twice because its cell is merged.
    ``problems`` row → why it must be held back.
    """

    whole: pd.DataFrame
    heads: pd.DataFrame
    headings: list[str]
    body: pd.DataFrame
    problems: dict[int, str]


def find_blocks(sheet: RawCells, how: SheetLayout) -> Iterator[Block]:
    """The blocks of a sheet that hold anything, from top to bottom.

    Raises
    ------
    UnreadableFile : no block begins where the layout says so, or a row of headings lies beyond its end.
    """
    full = unmerged(sheet)
    for cells in _cut(sheet, how):
        header = _header_rows(sheet, cells, how)
        if header is None:
            continue
        heads = full.loc[cells.index[header]].apply(unmarked)
        headings = [
            " ".join(filter(None, dict.fromkeys(column))) for column in heads.T.to_numpy(dtype=object)
        ]
        body = _body(cells, header, how)
        problems = beyond_headings(sheet, body, headings)
        yield Block(full.loc[cells.index], heads, headings, body, problems)


def unmerged(sheet: RawCells) -> pd.DataFrame:
    """The cells with the text of each merged area in all of it."""
    if not sheet.merged:
        return sheet.cells
    grid = sheet.cells.to_numpy(dtype=object).copy()
    above = int(sheet.cells.index[0])
    for first_row, first_column, last_row, last_column in sheet.merged:
        inside = grid[max(first_row - above, 0) : last_row - above + 1, first_column : last_column + 1]
        if inside.size:
            inside[...] = inside[0, 0]
    return pd.DataFrame(grid, sheet.cells.index, sheet.cells.columns, dtype="str")


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


def _cut(sheet: RawCells, how: SheetLayout) -> list[pd.DataFrame]:
    """The sheet's cells cut into blocks; rows keep their numbers."""
    if how.blocks is None:
        return [sheet.cells]
    position = how.blocks.position
    if not 0 <= position < sheet.cells.shape[1]:
        raise UnreadableFile(f"{sheet.place} has no column {quoted(how.blocks.column)}, where blocks begin.")
    starts = np.flatnonzero([like(text, how.blocks.starts) for text in unmarked(sheet.cells[position])])
    if not len(starts):
        raise UnreadableFile(
            f"{sheet.place}: no cell of column {how.blocks.column} is like "
            f"{' or '.join(map(quoted, how.blocks.starts))}, "
            "where a block "
            "begins by the layout."
        )
    ends = [*starts[1:], len(sheet.cells)]
    return [sheet.cells.iloc[start:end] for start, end in zip(starts, ends, strict=True)]


def _header_rows(sheet: RawCells, cells: pd.DataFrame, how: SheetLayout) -> list[int] | None:
    """Places of the rows of headings within the block."""
    if how.header:
        if max(how.header) > len(cells):
            raise UnreadableFile(
                f"{sheet.place} has no row {max(how.header)}; the layout expects headings there."
            )
        return [row - 1 for row in how.header]
    filled = np.flatnonzero((cells != "").any(axis=1))
    if not len(filled):
        return None
    first = next((p for p in filled[:_MOST_TITLES] if int((cells.iloc[p] != "").sum()) > 1), filled[0])
    named = set(unmarked(cells.iloc[first])) & set(how.columns)
    return [int(first if named else filled[0])]  # titles stand above the headings that the layout names


def _body(cells: pd.DataFrame, header: Sequence[int], how: SheetLayout) -> pd.DataFrame:
    """The filled rows of data."""
    body = cells.iloc[max(how.first - 1, 0) if how.first else max(header) + 1 :]
    begins = [next((text for text in row if text), "") for row in body.to_numpy(dtype=object)]
    begins = list(unmarked(pd.Series(begins, dtype="str")))
    end = next((place for place, text in enumerate(begins) if like(text, how.until)), len(begins))
    wanted = [place < end and text != "" and not like(text, how.skip) for place, text in enumerate(begins)]
    return body[np.array(wanted, dtype=bool)]
