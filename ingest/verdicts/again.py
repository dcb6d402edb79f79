"""Rows that come again: the same once more, a new version, or a contradiction."""

from collections.abc import Mapping
from contextlib import nullcontext

import numpy as np
import pandas as pd

from ingest.figures import limit
from ingest.names.points import by_point
from ingest.problems import POINT, Problems
from ingest.schema import TABLES
from ingest.verdicts.says_more import completed, said_already, speaks

SAME = {
    "mileage": ["odometer_read", "service_days", "distance", "event"],
    "work": ["value_before", "value_after"],
    "readings": ["value", "odometer_read", "gauge", "observer"],
}
"""What must agree, beside the key, for a row to be the same as another; a note is no part of it, and what
``ingest.verdicts.says_more`` lists only where both fill it."""


def known_again(table: str, rows: pd.DataFrame, stored: pd.DataFrame) -> pd.Index:
    """Labels of rows that say what is stored already, or what an earlier row of the call says.

    Where equal rows count (gifts, findings), as many of them are known as are stored.
    """
    names = _identity(table)
    if TABLES[table].again == "counts":
        return _counted(rows[names], stored[names])
    if speaks(table, rows):
        return said_already(table, rows, stored, names)
    both = pd.concat([stored[names], rows[names]], ignore_index=True)
    return rows.index[both.duplicated(names).to_numpy()[len(stored) :]]


def corrected_since(table: str, rows: pd.DataFrame, known: Mapping[str, pd.DataFrame]) -> pd.Index:
    """Labels of rows that say what a stored row said before somebody corrected or withdrew it.

    What was decided then holds: an old sheet that is added again brings nothing back. An undo of the
    correction does.
    """
    before = known.get("corrected")
    if table not in SAME or before is None or rows.empty:
        return rows.index[:0]
    names = _identity(table)
    before = before.loc[before["table_name"] == table, names]
    if before.empty:
        return rows.index[:0]
    before = before.astype(rows[names].dtypes)
    # What still stands was not corrected: a row that said more took the place of one that said less.
    stands = known[table][names].astype(rows[names].dtypes)
    before = before[~pd.concat([stands, before]).duplicated().to_numpy()[len(stands) :]]
    if before.empty:
        return rows.index[:0]
    both = pd.concat([before, rows[names]], ignore_index=True)
    return rows.index[both.duplicated(names).to_numpy()[len(before) :]]


def hold_contradictions(
    table: str,
    rows: pd.DataFrame,
    known: dict[str, pd.DataFrame],
    problems: Problems,
    *,
    repeated: pd.DataFrame,
) -> pd.Series:
    """Hold back rows that contradict another of the same key; row_id of stored rows that are replaced.

    `repeated` are the rows of the call that are known already: a new version beside them contradicts them, or
    a file that holds both would replace one by the other each time that it is added.
    """
    key, stored = list(TABLES[table].key), known[table]
    nothing = pd.Series([], dtype="int64")
    if TABLES[table].again == "counts":
        return nothing
    shared = pd.concat([stored[key], rows[key]], ignore_index=True).duplicated(key, keep=False).to_numpy()
    old, new = stored[shared[: len(stored)]], rows[shared[len(stored) :]]
    if new.empty:
        return nothing
    if TABLES[table].again == "replaces":
        call = pd.concat([repeated, new])
        later = call.duplicated(key).to_numpy()[len(repeated) :]
        first = pd.concat([repeated, new[~later]])
        _hold(new[later], _pairs(new[later], first, key), key, problems)
        taken = pd.concat([new.loc[~later, key], old[key]]).duplicated(key).to_numpy()[int((~later).sum()) :]
        return old["row_id"][taken]
    grown = completed(table, new, old, _identity(table))
    _hold_against(table, new, old[~old["row_id"].isin(grown)], known, problems)
    left = new[~new.index.isin(problems.rows(firm=False))]
    first = left.drop_duplicates(key)
    _hold_against(table, left.drop(first.index), first, known, problems)
    return grown[~grown.index.isin(problems.rows(firm=False))]


def _counted(rows: pd.DataFrame, stored: pd.DataFrame) -> pd.Index:
    """Labels of as many of equal rows as are stored."""
    if rows.empty or stored.empty:
        return rows.index[:0]
    names = list(rows.columns)
    have = stored.groupby(names, dropna=False).size().rename("_have").reset_index()
    count = rows.merge(have, on=names, how="left")["_have"].fillna(0).to_numpy(dtype=np.int64)
    place = rows.groupby(names, dropna=False).cumcount().to_numpy(dtype=np.int64)
    known: pd.Index = rows.index[place < count]
    return known


def _identity(table: str) -> list[str]:
    if table in SAME:
        return [*TABLES[table].key, *SAME[table]]
    return list(TABLES[table].public)


def _pairs(rows: pd.DataFrame, others: pd.DataFrame, key: list[str]) -> pd.DataFrame:
    """Each row beside each other row of its key; ``at`` is the row's label."""
    return rows.assign(at=rows.index).merge(others, on=key, suffixes=("", "_other"))


def _hold_against(
    table: str, rows: pd.DataFrame, others: pd.DataFrame, known: dict[str, pd.DataFrame], problems: Problems
) -> None:
    key = list(TABLES[table].key)
    pairs = _pairs(rows, others, key)
    if table == "readings":
        pairs = pairs[_disagree(pairs, known)]
    _hold(rows, pairs, key, problems)


def _disagree(pairs: pd.DataFrame, known: dict[str, pd.DataFrame]) -> pd.Series:
    """Whether two readings of one point on one day differ by more than the gauge explains.

    Two readings on a day of work at that point may be before and after it: they do not contradict, nor do one
    as found and one as left.
    """
    points = by_point(known["wear_points"])
    sd = pairs["point"].map(points["gauge_sd"]).astype("float64")
    span = pairs["point"].map((points["condemning_limit"] - points["new_value"]).abs()).astype("float64")
    allowed = limit("reading", "disagree_after") * np.sqrt(2) * sd
    allowed = allowed.fillna(limit("reading", "gauge_share") * span).fillna(0.0)
    work = pd.MultiIndex.from_frame(known["work"][["point", "date"]])
    on_day_of_work = pd.MultiIndex.from_frame(pairs[["point", "date"]]).isin(work)
    stages = pairs[["found_or_left", "found_or_left_other"]]
    before_and_after = (stages != "").all(axis=1) & (stages.iloc[:, 0] != stages.iloc[:, 1])
    apart: pd.Series = (pairs["value"] - pairs["value_other"]).abs() > allowed * (1 + 1e-9)
    return apart & ~on_day_of_work & ~before_and_after


def _hold(rows: pd.DataFrame, pairs: pd.DataFrame, key: list[str], problems: Problems) -> None:
    """Reasons that name the other row, one for each contradicting row."""
    pairs = pairs.drop_duplicates("at")
    if pairs.empty:
        return
    column = "value" if "value" in rows else key[0]
    where = pairs["source_file_other"] + ", row " + pairs["source_row_other"].astype("str")
    what = " and ".join(key)
    words = f"another row of the same {what} says otherwise (" + where + ")"
    if "value_text" in pairs:
        words = words + ": " + pairs["value_text_other"] + " " + pairs["unit_other"]
    words = words + "; one of them is wrong"
    found = pairs["value_text"] if "value_text" in pairs else pairs[key[0]].astype("str")
    # Of two values both may stand: one of two readings of a day is then set aside as wild.
    with problems.waiting_for(POINT), problems.doubts() if column == "value" else nullcontext():
        problems.add(pd.Index(pairs["at"]), column, found, words)
