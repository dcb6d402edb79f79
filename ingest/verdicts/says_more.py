"""Rows that say the same as another, or the same and more: an entry grows, and is never stored twice.

Columns such as the number of a part or the opening are filled in later, or by one sheet and not by another. A
row that leaves them empty says nothing about them; a row that fills what was empty takes the other's place.
"""

import numpy as np
import pandas as pd

SAID = {
    "readings": ("part_no", "opening", "found_or_left", "client_id"),
    "work": ("part_no", "opening", "why"),
}
"""Columns of a table in which an empty cell says nothing about the row being the same as another."""


def said_already(table: str, rows: pd.DataFrame, stored: pd.DataFrame, names: list[str]) -> pd.Index:
    """Labels of rows of which a stored one, or another of the call, says all that they say.

    Parameters
    ----------
    names : columns that must be equal for two rows to be the same.
    """
    pairs = _pairs(table, rows, pd.concat([stored, rows.assign(row_id=-1)], ignore_index=True), names)
    place = {label: i for i, label in enumerate(rows.index)}
    mine = pairs["at"].map(place).to_numpy(dtype=np.int64)
    theirs = pairs["other"].to_numpy(dtype=np.int64) - len(stored)
    covered, more = pairs["covered"].to_numpy(dtype=bool), pairs["more"].to_numpy(dtype=bool)
    known = covered & (theirs != mine) & ((theirs < mine) | more)
    labels: pd.Index = pd.Index(pairs.loc[known, "at"].unique())
    return labels


def completed(table: str, rows: pd.DataFrame, stored: pd.DataFrame, names: list[str]) -> pd.Series:
    """Rows that say what a stored row says, and more: row_id of the stored one, by the row's label."""
    if table not in SAID or rows.empty or not _any_said(table, rows):
        return pd.Series([], dtype="int64")
    pairs = _pairs(table, rows, stored.reset_index(drop=True), names)
    pairs = pairs[pairs["covers"]].drop_duplicates("at").drop_duplicates("row_id")
    return pd.Series(pairs["row_id"].to_numpy(), index=pd.Index(pairs["at"]), dtype="int64")


def speaks(table: str, rows: pd.DataFrame) -> bool:
    """Whether any row fills a column that others may leave empty."""
    return table in SAID and _any_said(table, rows)


def _any_said(table: str, rows: pd.DataFrame) -> bool:
    return bool((rows[list(SAID[table])] != "").to_numpy().any())


def _pairs(table: str, rows: pd.DataFrame, others: pd.DataFrame, names: list[str]) -> pd.DataFrame:
    """Each row beside each other that is the same in `names`: which of the two says all that the other says.

    Columns: at (label of the row), other (place), row_id; covered (the other says it all), covers (the row
    says all of the other), more (the other says more).
    """
    columns = list(SAID[table])
    left = rows[[*names, *columns]].assign(at=rows.index)
    right = others[[*names, *columns, "row_id"]].assign(other=np.arange(len(others)))
    pairs = left.merge(right, on=names, suffixes=("", "_other"))
    mine = pairs[columns].to_numpy(dtype=object)
    theirs = pairs[[f"{name}_other" for name in columns]].to_numpy(dtype=object)
    covered = ((mine == "") | (mine == theirs)).all(axis=1)
    covers = ((theirs == "") | (mine == theirs)).all(axis=1)
    return pairs[["at", "other", "row_id"]].assign(covered=covered, covers=covers, more=covered & ~covers)
