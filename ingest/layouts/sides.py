"""A column that says left or right beside the position: it belongs to the position, whatever its heading."""

from dataclasses import replace

import pandas as pd

from ingest.errors import UnknownTable
from ingest.layouts.both_sides import with_value_of_both
from ingest.layouts.headings import Recognised, recognise, split_unit
from ingest.layouts.plain import RawTable
from ingest.layouts.side_words import side_headings, side_languages
from ingest.layouts.text import key
from ingest.schema import TABLES

POSITION = "position"
_LETTER = 2
"""Characters up to which a word is an abbreviation, that stands for a side only beside the other side's."""


def with_sides(rows: pd.DataFrame, position: str | None) -> pd.DataFrame:
    """The rows with such a column joined to the position: ``driver 2`` and ``L`` is ``driver 2 left``.

    Parameters
    ----------
    rows : text under headings as written.
    position : the heading that is the position, None if there is none: then the side is the position.
    """
    for heading in rows.columns:
        if key(split_unit(str(heading))[0]) not in side_headings() or heading == position:
            continue
        side = _sides(rows[heading])
        if side is None:
            continue
        joined = side if position is None else _joined(rows[position], side)
        rows = rows.drop(columns=heading)
        return rows.assign(**{position or POSITION: joined.astype("str")})
    return rows


def _joined(position: pd.Series, side: pd.Series) -> pd.Series:
    """Positions with their side, where they do not say it already."""
    pairs = list(zip(position, side, strict=True))
    said = {
        (where, hand): where if hand in where.lower().split() else f"{where} {hand}".strip()
        for where, hand in set(pairs)
    }
    return pd.Series([said[pair] for pair in pairs], position.index, dtype="str")


def recognised(table: RawTable) -> tuple[RawTable, Recognised]:
    """The table with sides joined to its positions, and what its headings are.

    Raises
    ------
    UnknownTable : its headings are those of no table, nor with such a column taken for the position.
    """
    found, refused = _understood(table)
    if found is None or (found.table == "readings" and "value" not in found.renames.values()):
        pairs = with_value_of_both(table)
        if pairs is not table:
            return recognised(pairs)
    if found is None:
        rows = with_sides(table.rows, None)
        if rows is table.rows:
            raise UnknownTable(refused)
        return _again(table, rows, table.table)
    if POSITION not in (*TABLES[found.table].parts, *TABLES[found.table].public):
        return table, found
    headings = {column: heading for heading, column in found.renames.items()}
    rows = with_sides(table.rows, headings.get(POSITION))
    return (table, found) if rows is table.rows else _again(table, rows, found.table)


def _understood(table: RawTable) -> tuple[Recognised | None, str]:
    """What its headings are, or why they are those of no table."""
    try:
        return recognise(table.columns, table.table), ""
    except UnknownTable as error:
        return None, str(error)


def _again(table: RawTable, rows: pd.DataFrame, name: str | None) -> tuple[RawTable, Recognised]:
    table = replace(table, rows=rows, columns=[str(heading) for heading in rows.columns])
    return table, recognise(table.columns, name)


def _sides(cells: pd.Series) -> pd.Series | None:
    """``left`` or ``right`` for each cell, "" for empty ones; None where another word stands among them."""
    said = {key(cell) for cell in cells.unique()} - {""}
    for language, sides in side_languages().items():
        if not said or not said <= set(sides):
            continue
        both = len({sides[word] for word in said}) == 2  # left and right
        if both or all(len(word) > _LETTER or language == "en" for word in said):
            return cells.map({cell: sides.get(key(cell), "") for cell in cells.unique()}).astype("str")
    return None
