"""Sheets of a railway's own make, read through its layout to tables of text.

Pure: cells in, tables out. A row of the result keeps the row number of the sheet; where columns are spread,
a sheet's row gives several.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from ingest.errors import UnreadableFile
from ingest.layouts.headings import split_unit
from ingest.layouts.layout import Layout, SheetLayout
from ingest.layouts.plain import RawTable, as_table, beyond_headings
from ingest.layouts.spread import spread_out, spread_positions
from ingest.layouts.text import key, like
from ingest.neutral import quoted
from ingest.sheets.cells import RawCells, column_letter
from ingest.sheets.readers import read_cells
from ingest.sheets.sheetxml import column_number

_MEASURED = ("value", "odometer", "distance")
_DITTO = {'"', "''", "”", "〃", "do", "do.", "ditto", '-"-'}


AS_IT_IS = Layout("", ())
"""The layout that says nothing: the headings of every sheet are its first filled row."""


def read_tables(path: Path, layout: Layout | None = None) -> list[RawTable]:
    """Tables of text in a file.

    Parameters
    ----------
    path : a CSV file, a workbook (.xlsx) or a Parquet file.
    layout : how its sheets are arranged; None: the headings are the first filled row of each sheet.

    Returns
    -------
    list of RawTable : one for a CSV file, one for each filled sheet of a workbook.

    Raises
    ------
    UnreadableFile : the file is no table, damaged, hostile, too large, holds nothing, or not what the layout
        names.
    """
    layout = layout or AS_IT_IS
    cells = read_cells(path, encoding=layout.encoding, delimiter=layout.delimiter)
    tables = apply_layout(cells, layout)
    if not tables and layout is AS_IT_IS:
        raise UnreadableFile(
            f"{quoted(path.name)} is empty; a table with headings in its first row was expected."
        )
    return tables


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
        table = as_table(sheet) if how is None else _read_sheet(sheet, how)
        if table is not None:
            tables.append(_finished(table, layout))
    return tables


def _read_sheet(sheet: RawCells, how: SheetLayout) -> RawTable | None:
    """One sheet, its blocks one after the other."""
    full = unmerged(sheet)
    blocks = _blocks(sheet, how)
    problems = dict(sheet.problems)
    parts = [part for block in blocks if (part := _read_block(sheet, block, full, how, problems)) is not None]
    if not parts:
        return None
    columns = list(dict.fromkeys(column for part in parts for column in part.columns))
    rows = pd.concat([part.reindex(columns=columns) for part in parts]).fillna("").astype("str")
    problems = {row: words for row, words in problems.items() if row in rows.index}
    return RawTable(sheet.file, sheet.sheet, columns, rows, problems, table=how.table)


def _blocks(sheet: RawCells, how: SheetLayout) -> list[pd.DataFrame]:
    """The sheet's cells cut into blocks; rows keep their numbers."""
    if how.blocks is None:
        return [sheet.cells]
    position = how.blocks.position
    if not 0 <= position < sheet.cells.shape[1]:
        raise UnreadableFile(f"{sheet.place} has no column {quoted(how.blocks.column)}, where blocks begin.")
    starts = np.flatnonzero([like(text, (how.blocks.starts,)) for text in sheet.cells[position]])
    if not len(starts):
        raise UnreadableFile(
            f"{sheet.place}: no cell of column {how.blocks.column} is like {quoted(how.blocks.starts)}, "
            "where a block "
            "begins by the layout."
        )
    ends = [*starts[1:], len(sheet.cells)]
    return [sheet.cells.iloc[start:end] for start, end in zip(starts, ends, strict=True)]


def _read_block(
    sheet: RawCells, cells: pd.DataFrame, full: pd.DataFrame, how: SheetLayout, problems: dict[int, str]
) -> pd.DataFrame | None:
    """Rows of one block under their headings, with what holds for all of them; None for an empty one.

    `full` are the sheet's cells with merged areas filled: so headings and labels reach over what they are
    merged over. A value is never taken twice because its cell is merged. What is wrong with a row is added to
    `problems`.
    """
    header = _header_rows(sheet, cells, how)
    if header is None:
        return None
    body = _body(cells, header, how)
    heads = full.loc[cells.index[header]]
    headings = [" ".join(filter(None, dict.fromkeys(column))) for column in heads.T.to_numpy(dtype=object)]
    problems |= beyond_headings(sheet, body, headings)
    names = _column_names(sheet, headings, how)
    spread = spread_positions(sheet, headings, names, how.spread)
    kept = [p for p in range(len(headings)) if p not in spread and (names[p] or (body[p] != "").any())]
    labels = [p for p in kept if not names[p].startswith(_MEASURED)]
    rows = body[kept].copy()
    rows[labels] = full.loc[body.index, labels]
    rows = rows.set_axis([names[p] or f"column {column_letter(p)}" for p in kept], axis=1)
    rows = _filled(_joined(rows), how.fill)
    if how.spread is not None:
        rows = spread_out(rows, body[spread], heads[spread], how)
    stated = {
        **{column: _cell(sheet, full.loc[cells.index], ref) for column, ref in how.cells.items()},
        **how.fixed,
    }
    return rows.assign(**{column: text for column, text in stated.items() if column not in rows.columns})


def _header_rows(sheet: RawCells, cells: pd.DataFrame, how: SheetLayout) -> list[int] | None:
    """Places of the rows of headings within the block."""
    if how.header:
        if max(how.header) > len(cells):
            raise UnreadableFile(
                f"{sheet.place} has no row {max(how.header)}; the layout expects headings there."
            )
        return [row - 1 for row in how.header]
    filled = np.flatnonzero((cells != "").any(axis=1))
    return [int(filled[0])] if len(filled) else None


def _body(cells: pd.DataFrame, header: Sequence[int], how: SheetLayout) -> pd.DataFrame:
    """The filled rows of data."""
    body = cells.iloc[max(how.first - 1, 0) if how.first else max(header) + 1 :]
    begins = [next((text for text in row if text), "") for row in body.to_numpy(dtype=object)]
    end = next((place for place, text in enumerate(begins) if like(text, how.until)), len(begins))
    wanted = [place < end and text != "" and not like(text, how.skip) for place, text in enumerate(begins)]
    return body[np.array(wanted, dtype=bool)]


def _column_names(sheet: RawCells, headings: Sequence[str], how: SheetLayout) -> list[str]:
    """What each column is called: the table's column where the layout says so, its unit kept beside it."""
    given = {key(heading): column for heading, column in how.columns.items()}
    missing = [heading for heading in how.columns if key(heading) not in {key(h) for h in headings}]
    letters = {word: column_number(word) - 1 for word in missing if re.fullmatch("[A-Z]{1,2}", word)}
    lost = [heading for heading in missing if not 0 <= letters.get(heading, -1) < len(headings)]
    if lost:
        present = ", ".join(quoted(heading, 30) for heading in headings if heading)
        raise UnreadableFile(
            f"{sheet.place} has no column headed {quoted(lost[0])}, which the layout names; found: {present}."
        )
    names = []
    for p, heading in enumerate(headings):
        lettered = next((how.columns[word] for word, place in letters.items() if place == p), "")
        column = given.get(key(heading)) or lettered
        unit = split_unit(heading)[1]
        names.append((f"{column} [{unit}]" if unit and column != "unit" else column) if column else heading)
    return names


def _joined(rows: pd.DataFrame) -> pd.DataFrame:
    """Columns of one name as one column, their texts side by side: ``driver 2`` and ``L``."""
    if rows.columns.is_unique:
        return rows
    texts: dict[str, pd.Series] = {}
    for place, name in enumerate(rows.columns):
        part = rows.iloc[:, place]
        texts[name] = (texts[name] + " " + part).str.strip() if name in texts else part
    return pd.DataFrame(texts)


def _filled(rows: pd.DataFrame, fill: Sequence[str]) -> pd.DataFrame:
    """Columns whose empty cells and ditto marks repeat the cell above."""
    out = rows.copy()
    for column in [name for name in rows.columns if name in fill]:
        again = out[column].str.lower().isin(_DITTO) | (out[column] == "")
        out[column] = out[column].mask(again).ffill().fillna("")
    return out


def _cell(sheet: RawCells, cells: pd.DataFrame, reference: str) -> str:
    """Text of one cell of the block, if there is such a cell."""
    letters = reference.rstrip("0123456789")
    if column_number(letters) > cells.shape[1] or int(reference[len(letters) :]) > len(cells):
        raise UnreadableFile(f"{sheet.place} has no cell {quoted(reference)}, which the layout names.")
    return cell_text(cells, reference)


def cell_text(cells: pd.DataFrame, reference: str) -> str:
    """Text of one cell (``B2``, counted from the first row of `cells`), without the label before its
    colon."""
    letters = reference.rstrip("0123456789")
    text = str(cells.iloc[int(reference[len(letters) :]) - 1, column_number(letters) - 1])
    return re.sub(r"^[^\W\d][^\d:]*:\s*", "", text)


def _finished(table: RawTable, layout: Layout) -> RawTable:
    """The table with the railway's own words replaced and what the layout states."""
    rows = table.rows
    for column, words in layout.words.items():
        places = [p for p, name in enumerate(rows.columns) if key(split_unit(name)[0]) == key(column)]
        for p in places:
            rows = rows.assign(**{rows.columns[p]: _in_own_words(rows.iloc[:, p], words)})
    return RawTable(
        table.file,
        table.sheet,
        list(rows.columns),
        rows,
        table.problems,
        layout.dates,
        layout.decimal,
        table.table,
    )


def _in_own_words(column: pd.Series, words: Mapping[str, str]) -> pd.Series:
    """The whole text where it is one of the words, otherwise each word of it that is."""
    meant = {key(word): meaning for word, meaning in words.items()}

    def translated(text: str) -> str:
        parts = (meant.get(key(part), part) for part in text.split())
        return meant.get(key(text)) or " ".join(parts)

    return column.map({text: translated(text) for text in column.unique()}).astype("str")


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


def _named(sheet: RawCells, patterns: Iterable[str]) -> bool:
    return like(sheet.sheet or "", patterns)
