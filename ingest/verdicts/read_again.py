"""What a call does for rows that wait: those that fit by now are stored, those read again wait no more.

A row that waits is judged again whenever something is stored or corrected that can touch it, in the same
batch (``ingest.verdicts.touched``); an undo stores nothing, so it only tells how many would fit
(:func:`would_fit`). It also ends its waiting when the same sheet was read in another way (with a layout) and
the row was taken so; or when the sheet was corrected where the row was at fault, and was added again.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pandas as pd

from ingest.schema import SOURCE, TABLES
from ingest.store import Store
from ingest.store.transaction import Transaction
from ingest.verdicts.decide import Decision, decide, together
from ingest.verdicts.normalise import Normalised
from ingest.verdicts.touched import ONLY_SEEN, Tables, touched
from ingest.verdicts.waiting import HELD_AGAIN

READ_AGAIN = "read again"
"""What became of a row whose sheet was read again in another way: how it was read before counts no more."""
_JUDGING = frozenset({"add", "mend", "accept", "change", "withdraw", "correct", "retry"})
"""Commands after which no row waits that would fit."""
_APART = frozenset({"keep a picture", "layout"})
"""Commands of which no verdict knows."""
_ALL_NEXT = "all that waits is judged next time"
_PLACE = ["source_file", "source_sheet", "source_row"]


def waiting_rows(held: pd.DataFrame) -> pd.DataFrame:
    """Held rows about which nothing has been decided yet."""
    return held[held["outcome"] == ""]


def raw_of(held: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Held rows as they were read from their files, by table, in the order in which tables are taken in."""
    parts = {}
    for table in TABLES:
        rows = held[held["table_name"] == table]
        if len(rows):
            parts[table] = cells_of(rows)
    return parts


def cells_of(held: pd.DataFrame) -> pd.DataFrame:
    """Held rows of one table as they were read from their files."""
    cells = pd.DataFrame([json.loads(text) for text in held["raw"]], index=held.index)
    return pd.concat([cells.fillna("").astype("str"), held[SOURCE]], axis=1).reset_index(drop=True)


def judged_again(
    held: pd.DataFrame,
    known: Mapping[str, pd.DataFrame],
    today: date,
    answers: Mapping[str, str],
    before: Tables | None = None,
    since: int = 0,
) -> Decision | None:
    """Verdicts on the rows that wait, beside what is stored by now; None where nothing comes of it.

    Parameters
    ----------
    held : all rows held back, and what became of them.
    known : rows of every table as they will hold, as :func:`ingest.verdicts.decide.after` gives them.
    before, since : rows of every table as they held when all rows that wait had been judged, by the batch of
        that number; then only those are judged that the difference can touch. None: all.
    """
    known = {**known, "held": held}
    waiting, decisions = waiting_rows(held), list[Decision]()
    again = waiting.assign(**{ONLY_SEEN: False})
    for table in (name for name in TABLES if (waiting["table_name"] == name).any()):
        if before is not None and (not decisions or len(decisions[-1].released)):
            again = touched(known["held"], before, known, since=since, today=str(today))
        rows = again[again["table_name"] == table]
        if len(rows):
            only_seen = {table: pd.Index(np.flatnonzero(rows[ONLY_SEEN]))}
            decisions.append(decide(raw_of(rows), known, today, answers, only_seen))
            known = decisions[-1].after
    if not decisions:
        return None
    decision = together(decisions)
    if decision.released.empty:
        return None
    fits = decision.released["outcome"] == "released"
    reason = decision.released["reason"].mask(fits, "fits what has been stored since")
    return replace(decision, released=decision.released.assign(reason=reason))


def let_go(
    batch: Transaction,
    before: Tables,
    after: Tables | None = None,
    *,
    today: date | None = None,
    answers: Mapping[str, str] | None = None,
) -> int:
    """Store what waits and fits by now, beside what a batch has stored so far; how many rows wait no longer.

    Parameters
    ----------
    before, after : rows of every table as they held when the batch began, and as they will hold; None: as
        the batch has stored them.
    today : later dates lie in the future; the present day if None.
    answers : those that the batch was given.

    Notes
    -----
    Rows that would take the place of one that the batch itself has brought wait for the next, which then
    judges all of them.
    """
    if waiting_rows(before["held"]).empty:
        return 0
    known = batch.stored() if after is None else after
    since = None if answers else _judged_by(batch.batches())
    fitting = judged_again(
        known["held"],
        known,
        today or datetime.now(UTC).date(),
        answers or {},
        None if since is None else before,
        since or 0,
    )
    if fitting is None:
        return 0
    if _replaces_others_than(fitting, before):
        batch.notes[_ALL_NEXT] = True
        return 0
    fitting.write(batch)
    return int((fitting.released["outcome"] != HELD_AGAIN).sum())


def _judged_by(batches: pd.DataFrame) -> int | None:
    """Number of the last batch, if it has judged what waits and finished with it; else None.

    Parameters
    ----------
    batches : newest first, as ``Transaction.batches`` gives them.
    """
    batches = batches[~batches["command"].isin(_APART)]
    if batches.empty:
        return None
    last = batches.iloc[0]
    done = last["command"] in _JUDGING and not json.loads(last["about"]).get(_ALL_NEXT)
    return int(last["batch"]) if done else None


def let_go_by(store: Store, batch: int) -> int:
    """How many rows that waited a batch has let go, because they fit by then."""
    held = store.held()
    return int(((held["settled_in"] == batch) & (held["outcome"] == "released")).sum())


def would_fit(store: Store, today: date | None = None) -> int:
    """How many rows wait that would be stored if they were judged again now."""
    known = store.stored()[1]
    fitting = judged_again(known["held"], known, today or datetime.now(UTC).date(), {})
    return 0 if fitting is None else int((fitting.released["outcome"] == "released").sum())


def _replaces_others_than(decision: Decision, before: Mapping[str, pd.DataFrame]) -> bool:
    """Whether rows would take the place of some that the batch itself has brought; they wait for the next."""
    return any(
        (~judged.replaced.isin(before[table]["row_id"])).any()
        for part in (decision.judged, decision.more)
        for table, judged in part.items()
    )


def read_otherwise(decision: Decision, held: pd.DataFrame, same: Iterable[tuple[int, str]]) -> pd.DataFrame:
    """Waiting rows whose sheet was read again, as ``Transaction.settle`` takes them.

    Parameters
    ----------
    decision : verdicts on the rows of this call.
    held : all rows held back, those that this call released marked so.
    same : batch and file of held rows whose file had the very content that was handed in now.
    """
    waiting = waiting_rows(held)
    if waiting.empty:
        return pd.DataFrame({"held_id": [], "outcome": [], "reason": [], "mended": []}).astype(
            {"held_id": "int64"}
        )
    from_same = pd.MultiIndex.from_frame(waiting[["batch", "source_file"]]).isin(list(same))
    words: dict[int, str] = {}
    for table, given in decision.given.items():
        rows = waiting[waiting["table_name"] == table]
        if rows.empty:
            continue
        sound, bad = _sound(decision, table), _held_anew(decision, table)
        words |= _taken_otherwise(rows[from_same[waiting.index.get_indexer(rows.index)]], given, sound, bad)
        words |= _corrected_in_sheet(rows[~rows["held_id"].isin(words)], given, sound)
    settled = pd.DataFrame({"held_id": pd.Series(list(words), dtype="int64"), "reason": list(words.values())})
    return settled.assign(outcome=READ_AGAIN, mended="")


def _sound(decision: Decision, table: str) -> pd.Index:
    """Labels of the rows that are stored now, by this call or before."""
    judged = decision.judged[table]
    return judged.accepted.index.union(judged.known).difference(judged.problems.rows())


def _held_anew(decision: Decision, table: str) -> pd.DataFrame:
    """Places of rows of this call that do not do."""
    given, problems = decision.given[table], decision.judged[table].problems
    return given.raw.loc[problems.rows(), _PLACE]


def _taken_otherwise(
    waiting: pd.DataFrame, given: Normalised, sound: pd.Index, bad: pd.DataFrame
) -> dict[int, str]:
    """Rows whose place in the very same file gave only rows that are stored now."""
    if waiting.empty:
        return {}
    at = pd.MultiIndex.from_frame(waiting[_PLACE])
    good = at.isin(pd.MultiIndex.from_frame(given.raw.loc[sound, _PLACE]))
    solved = good & ~at.isin(pd.MultiIndex.from_frame(bad))
    return dict.fromkeys(
        waiting.loc[solved, "held_id"].tolist(), "the sheet was read in another way, and is stored"
    )


def _corrected_in_sheet(waiting: pd.DataFrame, given: Normalised, sound: pd.Index) -> dict[int, str]:
    """Rows that came again from a file and sheet of that name, other only in the cells that were at fault.

    What a row is about (its key) must be the same: a fault in it leaves open whether it is the same row.
    """
    table = TABLES[given.table]
    fixed = {*table.key, *table.parts}
    rows = given.raw.loc[sound]
    names = [name for name in rows.columns if name in table.public or name in table.parts]
    found: dict[int, str] = {}
    seen: dict[frozenset[str], set[tuple[object, ...]]] = {}
    for held in waiting.to_dict("records"):
        faults = frozenset(str(reason["column"]) for reason in json.loads(held["reasons"]))
        if not faults or faults & fixed or not faults <= set(table.public):
            continue
        others = [name for name in names if name not in faults]
        if faults not in seen:
            places = rows[["source_file", "source_sheet"]].to_numpy(dtype=object)
            cells = rows[others].to_numpy(dtype=object)
            seen[faults] = {(*place, *row) for place, row in zip(places, cells, strict=True)}
        cells_then = json.loads(held["raw"])
        then = {name for name in cells_then if name in table.public or name in table.parts} - faults
        said = tuple(cells_then.get(name, "") for name in others)
        if then <= set(others) and (held["source_file"], held["source_sheet"], *said) in seen[faults]:
            found[int(held["held_id"])] = "corrected in the sheet, and added again"
    return found
