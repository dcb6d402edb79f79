"""Held-back rows as a work list, and changes to stored rows. Nothing is overwritten.

Every correction is a batch of its own that keeps who, when, why and what was put in place of what; the text
that came in stays with the held row, or with the retracted row, for good.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pandas as pd

from ingest.errors import NotPossible
from ingest.look.question import Question
from ingest.names.as_written import as_written
from ingest.neutral import harmless, visible
from ingest.schema import SOURCE, TABLES
from ingest.store import Store
from ingest.verdicts.answering import keep_answers, must_be_asked
from ingest.verdicts.decide import decide
from ingest.verdicts.held_groups import open_question
from ingest.verdicts.judge import Judged, judge
from ingest.verdicts.normalise import normalise
from ingest.verdicts.read_again import cells_of, let_go, raw_of, waiting_rows
from ingest.verdicts.undo import check_whole, must_tell
from ingest.verdicts.waiting import HELD_AGAIN

_SHEET = ["table_name", "source_file", "source_sheet"]


def held_rows(store: Store, *, waiting: bool = True, version: int | None = None) -> pd.DataFrame:
    """Rows held back.

    Parameters
    ----------
    store : the store.
    waiting : only those about which nothing has been decided yet.
    version : as it was at that data version; None for now.

    Returns
    -------
    Frame: held_id, batch, table, file, sheet, row, cells (dict heading -> text as it came), reasons (list of
    dicts column, found, reason, firm), why (the reasons as one text), can_accept (only doubts speak against
    it), outcome (empty while it waits), settled_in (batch), settled_because, mended (dict).
    """
    held = store.held(version)
    if waiting:
        held = held[held["outcome"] == ""]
    reasons = [json.loads(text) for text in held["reasons"]]
    names = {"table_name": "table", "source_file": "file", "source_sheet": "sheet", "source_row": "row"}
    out = held.rename(columns=names).drop(columns=["raw", "reasons", "mended"])
    raw = [json.loads(text) for text in held["raw"]]
    cells = [{k: v for k, v in row.items() if not k.startswith(":")} for row in raw]
    out["cells"] = _objects(cells, held.index)
    out["reasons"] = _objects(reasons, held.index)
    out["why"] = pd.Series(
        ["; ".join(f"{r['column']}: {r['reason']}" for r in row) for row in reasons], held.index, dtype="str"
    )
    out["can_accept"] = pd.Series(
        [not any(r["firm"] for r in row) for row in reasons], held.index, dtype=bool
    )
    out["mended"] = _objects([json.loads(text or "{}") for text in held["mended"]], held.index)
    return out.reset_index(drop=True)


def mend(
    store: Store,
    held_id: int,
    changes: Mapping[str, str],
    *,
    reason: str,
    who: str = "",
    today: date | None = None,
) -> int:
    """Put other text in place of cells of a held row and store it.

    Parameters
    ----------
    store : the store.
    held_id : as :func:`held_rows` names it.
    changes : column of the table -> text to be read instead (``{"value": "1 3/8", "date": "1998-05-03"}``).
    reason : why; kept.
    who : who; the user of this process if empty.
    today : later dates lie in the future; the present day if None.

    Returns
    -------
    int : the batch.

    Raises
    ------
    NotPossible : there is no such row waiting, or it would still be held back; the message says why.
    """
    return _settle(store, held_id, ("mended", dict(changes)), (reason, who), today)


def accept(store: Store, held_id: int, *, reason: str, who: str = "", today: date | None = None) -> int:
    """Store a held row as it is, where only doubts spoke against it; see :func:`mend`."""
    return _settle(store, held_id, ("accepted", {}), (reason, who), today)


def dismiss(store: Store, held_ids: Iterable[int], *, reason: str, who: str = "") -> int:
    """Settle held rows as not to be used; they stay on record. Returns the batch.

    Raises
    ------
    NotPossible : one of the rows does not wait, or no reason is given.
    """
    wanted, reason = list(held_ids), harmless(reason)
    must_tell(reason)
    with store.transaction("dismiss", who, {"held_ids": wanted, "reason": reason}) as batch:
        held = batch.stored()["held"]
        for held_id in wanted:
            _waiting(held, held_id)
        rows = pd.DataFrame({"held_id": wanted}).assign(outcome="dismissed", reason=reason, mended="")
        batch.settle(rows)
        return batch.batch


def retry(
    store: Store, *, who: str = "", today: date | None = None, answers: Mapping[str, str] | None = None
) -> tuple[int, int]:
    """Judge all waiting rows again and store what has become good.

    Parameters
    ----------
    answers : id of a question for which rows wait -> answer; kept, as those given when files are added.

    Returns
    -------
    How many no longer wait, how many still do.

    Raises
    ------
    WrongUsage : an answer to a question for which no row waits, or that it does not offer.
    """
    today, answers = today or datetime.now(UTC).date(), dict(answers or {})
    with store.transaction("retry", who, {"answers": answers} if answers else None) as batch:
        known = batch.stored()
        waiting = waiting_rows(known["held"])
        if waiting.empty:
            must_be_asked((), (), answers)
            return 0, 0
        decision = decide(raw_of(waiting), known, today, answers)
        must_be_asked(decision.questions, decision.answered, answers)
        released = decision.released
        fits = released["outcome"] == "released"
        released = released.assign(reason=released["reason"].mask(fits, "fits what has been stored since"))
        replace(decision, released=released).write(batch)
        keep_answers(batch, decision.answered, answers, known["answers"], who=who, today=today)
        gone = int((released["outcome"] != HELD_AGAIN).sum())
        return gone, len(waiting) - gone


def open_questions(store: Store, today: date | None = None) -> tuple[Question, ...]:
    """Questions for whose answer rows wait, as :func:`retry` takes it.

    The sheets of those rows are looked at, and no others; what would be asked of rows that wait for something
    else is not a question yet.
    """
    known = store.stored()[1]
    waiting = waiting_rows(known["held"])
    asked = waiting["reasons"].str.contains('"question"', regex=False)
    sheets = pd.MultiIndex.from_frame(waiting[_SHEET])
    rows = waiting[sheets.isin(sheets[asked])]
    if rows.empty:
        return ()
    looked = decide(raw_of(rows), known, today or datetime.now(UTC).date(), {}).looked
    for_an_answer = {
        table: set(np.flatnonzero(asked[of.index])) for table, of in rows.groupby("table_name", sort=False)
    }
    return tuple(
        question
        for table, look in looked.items()
        for question in look.questions
        if not for_an_answer[table].isdisjoint(question.at)
    )


def change_row(
    store: Store,
    table: str,
    row_id: int,
    changes: Mapping[str, str],
    *,
    reason: str,
    who: str = "",
    today: date | None = None,
) -> int:
    """Put other text in place of cells of a stored row: the old row is retracted, a new one stored.

    Parameters and errors as for :func:`mend`; ``row_id`` as ``Store.read`` gives it.
    """
    must_tell(reason)
    about = {"table": table, "row_id": row_id, "changes": dict(changes), "reason": reason}
    with store.transaction("change", who, about) as batch:
        before = batch.stored()
        known = dict(before)
        old = _stored_row(known, table, row_id)
        raw = as_written(table, old).assign(**_allowed(table, changes))
        raw = pd.concat([raw, old[SOURCE]], axis=1).reset_index(drop=True)
        known[table] = known[table][known[table]["row_id"] != row_id]
        judged = _judge_one(table, raw, known, today, accept=True)
        batch.replace(table, pd.concat([old["row_id"], judged.replaced]), judged.accepted)
        check_whole(batch, before)
        let_go(batch, before, today=today)
        return batch.batch


def withdraw_row(store: Store, table: str, row_id: int, *, reason: str, who: str = "") -> int:
    """Retract a stored row with a reason; older versions keep it. Errors as for :func:`mend`."""
    must_tell(reason)
    with store.transaction("withdraw", who, {"table": table, "row_id": row_id, "reason": reason}) as batch:
        before = batch.stored()
        batch.retract(table, _stored_row(before, table, row_id)["row_id"])
        check_whole(batch, before)
        let_go(batch, before)
        return batch.batch


def _settle(
    store: Store, held_id: int, what: tuple[str, dict[str, str]], note: tuple[str, str], today: date | None
) -> int:
    (outcome, changes), (reason, who) = harmless(what), harmless(note)
    must_tell(reason)
    about = {"held_id": held_id, "changes": changes, "reason": reason}
    command = {"mended": "mend", "accepted": "accept"}[outcome]
    with store.transaction(command, who, about) as batch:
        known = batch.stored()
        row = _waiting(known["held"], held_id)
        if asked := open_question(str(row["reasons"].iloc[0]), changes):
            raise NotPossible(f"Row {held_id} cannot be stored: {asked}")
        table = str(row["table_name"].iloc[0])
        raw = cells_of(row).assign(**_allowed(table, changes))
        if changes:
            raw = raw.drop(columns=":problem", errors="ignore")
        judged = _judge_one(table, raw, known, today, accept=outcome == "accepted")
        batch.replace(table, judged.replaced, judged.accepted)
        settled = pd.DataFrame({"held_id": [held_id]})
        batch.settle(settled.assign(outcome=outcome, reason=reason, mended=json.dumps(changes)))
        let_go(batch, known, today=today)
        return batch.batch


def _judge_one(
    table: str, raw: pd.DataFrame, known: dict[str, pd.DataFrame], today: date | None, *, accept: bool
) -> Judged:
    """Verdict on one row, which must be to store it."""
    given = normalise(table, raw, known, today=today or datetime.now(UTC).date())
    judged = judge(given, known, accept=accept)
    if judged.accepted.empty:
        reasons = judged.problems.frame()
        if reasons.empty:
            raise NotPossible("The row would be the same as one that is stored already. Dismiss it instead.")
        words = "; ".join(reasons["column"] + ": " + reasons["reason"])
        raise NotPossible(f"The row would still be held back: {words}.")
    return judged


def _waiting(held: pd.DataFrame, held_id: int) -> pd.DataFrame:
    row = held[(held["held_id"] == held_id) & (held["outcome"] == "")]
    if row.empty:
        raise NotPossible(f"No row {held_id} waits among those held back. 'milesleft held' lists them.")
    return row


def _stored_row(known: dict[str, pd.DataFrame], table: str, row_id: int) -> pd.DataFrame:
    rows = known[table]
    row = rows[rows["row_id"] == row_id]
    if row.empty:
        raise NotPossible(f"The table {table} holds no row {row_id} now; it may have been changed meanwhile.")
    return row


def _allowed(table: str, changes: Mapping[str, str]) -> dict[str, str]:
    unknown = [name for name in changes if name not in TABLES[table].public]
    if unknown:
        columns = ", ".join(TABLES[table].public)
        raise NotPossible(f"The table {table} has no column {', '.join(unknown)}. Its columns: {columns}.")
    return {name: visible(text) for name, text in changes.items()}


def _objects(values: Sequence[object], index: pd.Index) -> pd.Series:
    return pd.Series(values, index=index, dtype=object)
