"""Rows of a table read with the whole sheet as evidence: cells, columns, then rows beside the history."""

from collections.abc import Mapping
from datetime import date

import pandas as pd

from ingest.look.judges import (
    CELL_JUDGES,
    HISTORY_JUDGES,
    NUMBER_JUDGES,
    PLACE_JUDGES,
    ROW_JUDGES,
    STAGE_JUDGES,
)
from ingest.look.looking import Looked, hold_asked, look
from ingest.schema import TABLES
from ingest.verdicts.again import SAME, corrected_since, known_again
from ingest.verdicts.normalise import Normalised, normalise
from ingest.verdicts.waiting import left_out_before


def read_over(
    table: str,
    raw: pd.DataFrame,
    known: Mapping[str, pd.DataFrame],
    *,
    today: date,
    answers: Mapping[str, str],
    unasked: pd.Index | None = None,
) -> tuple[Normalised, Looked]:
    """Typed rows of a table, and what the look at its sheets came to.

    Parameters
    ----------
    table, raw, known, today : as :func:`ingest.verdicts.normalise.normalise` takes them.
    answers : id of a question -> answer.
    unasked : labels of the rows of sheets that were settled before, as :func:`ingest.look.looking.look` takes
        them.

    Returns
    -------
    Rows whose question nobody has answered have its reason. What is known already is not asked about.
    """
    looked = look(CELL_JUDGES, table, raw, known, today=today, answers=answers, unasked=unasked)
    given = normalise(table, looked.raw, known, today=today)
    looked = _unasked(looked, given, known)
    rows, repeated = _sound(given, looked, known)
    for judges in (NUMBER_JUDGES, ROW_JUDGES, STAGE_JUDGES, PLACE_JUDGES, HISTORY_JUDGES):
        later = look(
            judges, table, looked.raw, _with_told(looked, known, today), today=today, answers=answers,
            rows=_with_twins(rows, repeated, table) if judges is ROW_JUDGES else rows, repeated=repeated,
            unasked=unasked,
        )  # fmt: skip
        looked = looked.then(later)
        if later.restated:
            given = normalise(table, looked.raw, known, today=today)
        if judges is not HISTORY_JUDGES and (later.questions or later.settled):
            rows, repeated = _sound(given, looked, known)
    looked = looked.without(decided_before(given, looked.asked, known))
    hold_asked(looked.questions, looked.raw, given.problems)
    return given, looked


def _with_told(looked: Looked, known: Mapping[str, pd.DataFrame], today: date) -> Mapping[str, pd.DataFrame]:
    """What is known, with the work that answers to earlier judges have told of."""
    told = [settled.more["work"] for settled in looked.settled if len(settled.more.get("work", ()))]
    if not told:
        return known
    rows = normalise("work", pd.concat(told, ignore_index=True), known, today=today).rows.assign(row_id=-1)
    work = known["work"]
    return {**known, "work": pd.concat([work, rows.reindex(columns=work.columns)], ignore_index=True)}


def _with_twins(rows: pd.DataFrame, repeated: pd.DataFrame, table: str) -> pd.DataFrame:
    """New rows, and those of the call that say the same: what is said of a column is said of both."""
    if table not in SAME or rows.empty or repeated.empty:
        return rows
    names = [*TABLES[table].key, SAME[table][0]]
    new, again = (pd.MultiIndex.from_frame(some[names]) for some in (rows, repeated))
    return pd.concat([rows, repeated[again.isin(new)]]).sort_index()


def decided_before(given: Normalised, labels: pd.Index, known: Mapping[str, pd.DataFrame]) -> pd.Index:
    """Of some rows, those of which somebody has said before what becomes of them.

    They say what a stored row said before it was corrected or withdrawn, or they were left out.
    """
    rows = given.rows[given.rows.index.isin(labels)]
    corrected = corrected_since(given.table, rows, known)
    return corrected.union(left_out_before(given, rows.index, known["held"])) if len(rows) else corrected


def _unasked(looked: Looked, given: Normalised, known: Mapping[str, pd.DataFrame]) -> Looked:
    """The look without questions about rows that are stored already, just as they are read unasked."""
    if not looked.questions:
        return looked
    sound = given.rows[~given.rows.index.isin(given.problems.rows())]
    again = known_again(given.table, sound, known[given.table])
    return looked.without(again.union(corrected_since(given.table, sound, known)))


def _sound(
    given: Normalised, looked: Looked, known: Mapping[str, pd.DataFrame]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The rows that are read and asked about by nobody: the new ones, and those that are stored."""
    out = given.problems.rows().union(looked.asked).union(looked.left_out)
    sound = given.rows[~given.rows.index.isin(out)]
    again = known_again(given.table, sound, known[given.table])
    gone = corrected_since(given.table, sound, known)
    return sound.loc[sound.index.difference(again).difference(gone)], sound.loc[again]
