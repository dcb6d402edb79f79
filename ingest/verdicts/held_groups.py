"""Rows that wait for one and the same reason, as one piece of work: grouped, and settled together."""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime

import pandas as pd

from ingest.errors import NotPossible
from ingest.neutral import harmless, neutral, visible
from ingest.schema import TABLES
from ingest.store import Store
from ingest.verdicts.judge import Judged, judge
from ingest.verdicts.normalise import normalise
from ingest.verdicts.read_again import cells_of, let_go, waiting_rows
from ingest.verdicts.undo import must_tell

_OWN = re.compile(r"'[^']*'|\([^()]*\)|[0-9][0-9.,:/-]*")
"""What of a reason speaks of one row alone: what was found, where else, figures and days."""


@dataclass(frozen=True)
class SettledRows:
    """What became of rows that were settled together.

    Attributes
    ----------
    batch : the batch; None where none could be.
    settled : numbers of the rows that no longer wait.
    left : number of a row that still waits -> why.
    also : how many others wait no longer, because they fit by what was stored.
    """

    batch: int | None
    settled: list[int]
    left: dict[int, str]
    also: int = 0


def grouped(held: pd.DataFrame) -> pd.DataFrame:
    """Held rows by reason.

    Parameters
    ----------
    held : as :func:`ingest.verdicts.corrections.held_rows` gives them.

    Returns
    -------
    The same frame, with ``like``: the number of the first row that waits for the same reason, and ``kind``:
    the reason without what is of one row alone. Rows that wait for the answer to one question share it.
    """
    kinds = [f"{table}: {kind_of(why)}" for table, why in zip(held["table"], held["why"], strict=True)]
    kind = pd.Series(kinds, held.index, dtype="str")
    return held.assign(kind=kind, like=held.groupby(kind)["held_id"].transform("min"))


def kind_of(why: str) -> str:
    """A reason without what speaks of one row alone; of a question its id stays."""
    question = re.search(r"question [a-z_]+-[0-9a-f]{10}", why)
    if question:
        return question.group()
    *parts, last = why.split(";")
    return _OWN.sub("…", ";".join([*(part.split(": ", 1)[0] for part in parts), last]))


def groups_of(held: pd.DataFrame) -> pd.DataFrame:
    """One row for each reason, the commonest first: like, rows, table, why (of its first row), files,
    can_accept."""
    if held.empty:
        return pd.DataFrame(columns=["like", "rows", "table", "why", "files", "can_accept"])
    by = grouped(held).groupby("like", sort=False)
    groups = by.agg(
        rows=("held_id", "size"),
        table=("table", "first"),
        why=("why", "first"),
        files=("file", lambda names: ", ".join(dict.fromkeys(names))),
        can_accept=("can_accept", "all"),
    )
    return groups.reset_index().sort_values(["rows", "like"], ascending=[False, True], ignore_index=True)


def rows_like(held: pd.DataFrame, number: int, cells: Mapping[str, str] | None = None) -> list[int]:
    """Numbers of the rows that wait for the same reason as one of them.

    Parameters
    ----------
    held : rows that wait.
    cells : column -> text that they must have, as it was written; all of them.

    Raises
    ------
    NotPossible : no such row waits, or none is like it with these cells.
    """
    named = grouped(held)
    row = named[named["held_id"] == number]
    if row.empty:
        raise NotPossible(f"No row {number} waits among those held back. 'milesleft held' lists them.")
    alike = named[named["kind"] == row["kind"].iloc[0]]
    wanted = {name: text.strip() for name, text in (cells or {}).items()}
    fits = [all(cells_.get(name, "") == text for name, text in wanted.items()) for cells_ in alike["cells"]]
    numbers = [int(held_id) for held_id in alike.loc[fits, "held_id"]]
    if not numbers:
        said = ", ".join(f"{neutral(name)}={neutral(text)}" for name, text in wanted.items())
        raise NotPossible(f"No row that waits like row {number} has {said}.")
    return numbers


def settle_many(
    store: Store,
    held_ids: Iterable[int],
    outcome: str,
    changes: Mapping[str, str] | None = None,
    *,
    reason: str,
    who: str = "",
    today: date | None = None,
) -> SettledRows:
    """Settle rows that wait, all in one batch: those that can be are stored, the others still wait.

    Parameters
    ----------
    held_ids : their numbers.
    outcome : ``mended`` (with other text in some cells), ``accepted`` (as they are, against doubts) or
        ``dismissed`` (not to be used).
    changes : column -> text that is put in it in every row; only for ``mended``.
    reason : why; kept.

    Raises
    ------
    NotPossible : a row does not wait, there is no such column, or no reason is given.
    """
    wanted, changes = list(dict.fromkeys(held_ids)), {k: visible(v) for k, v in (changes or {}).items()}
    reason = harmless(reason)
    must_tell(reason)
    about = {"held_ids": wanted, "reason": reason} | ({"changes": changes} if changes else {})
    command = {"mended": "mend", "accepted": "accept", "dismissed": "dismiss"}[outcome]
    with store.transaction(command, who, harmless(about)) as batch:
        known = batch.stored()
        held = waiting_rows(known["held"])
        gone = sorted(set(wanted) - set(held["held_id"]))
        if gone:
            raise NotPossible(f"No row {gone[0]} waits among those held back. 'milesleft held' lists them.")
        rows = held[held["held_id"].isin(wanted)]
        settled, left = (rows["held_id"].tolist(), {}) if outcome == "dismissed" else ([], dict[int, str]())
        for table in dict.fromkeys(rows["table_name"]) if outcome != "dismissed" else ():
            part = rows[rows["table_name"] == table].reset_index(drop=True)
            judged, why = _judged(str(table), part, changes, (known, today), accept=outcome == "accepted")
            batch.replace(str(table), judged.replaced, judged.accepted)
            settled += part.loc[judged.accepted.index, "held_id"].tolist()
            left |= why
        said = pd.DataFrame({"held_id": settled}).assign(outcome=outcome, reason=reason)
        batch.settle(said.assign(mended=json.dumps(changes) if outcome == "mended" else ""))
        also = let_go(batch, known, today=today) if settled and outcome != "dismissed" else 0
        return SettledRows(batch.batch if settled else None, [int(number) for number in settled], left, also)


def open_question(reasons: str, changes: Mapping[str, str]) -> str:
    """Why a row that waits for an answer cannot be stored yet; empty where it waits for none.

    Parameters
    ----------
    reasons : as they are held (JSON).
    changes : columns that are put right; a question about one of them is answered by that, and one about the
        unit of a value by the unit.
    """
    asked = [reason for reason in json.loads(reasons) if reason.get("question")]
    about = [{str(reason["column"]), str(reason["question"]).rpartition("-")[0]} for reason in asked]
    left = [reason for reason, names in zip(asked, about, strict=True) if not names & set(changes)]
    return f"its question must be answered first: {left[0]['reason']}" if left else ""


def _judged(
    table: str,
    held: pd.DataFrame,
    changes: Mapping[str, str],
    against: tuple[Mapping[str, pd.DataFrame], date | None],
    *,
    accept: bool,
) -> tuple[Judged, dict[int, str]]:
    """Verdict on the rows of one table with the changes in them, and why some of them still wait."""
    unknown = [name for name in changes if name not in TABLES[table].public]
    if unknown:
        columns = ", ".join(TABLES[table].public)
        raise NotPossible(f"The table {table} has no column {', '.join(unknown)}. Its columns: {columns}.")
    known, today = dict(against[0]), against[1] or datetime.now(UTC).date()
    asked = held["reasons"].map(lambda reasons: open_question(reasons, changes))
    raw = cells_of(held).assign(**changes)
    raw = raw.drop(columns=":problem", errors="ignore") if changes else raw
    given = normalise(table, raw[(asked == "").to_numpy()], known, today=today)
    judged = judge(given, known, accept=accept)
    problems = judged.problems.frame()
    words = (problems["column"] + ": " + problems["reason"]).groupby(problems["at"]).agg("; ".join)
    left = {}
    for label in held.index.difference(judged.accepted.index):
        same = "it says the same as a row that is stored already; dismiss it instead"
        left[int(held.loc[label, "held_id"])] = asked[label] or words.get(label, same)
    return judged, left
