"""Hand made sheets over, answer what is asked by the truth, and hold what would be stored against it."""

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from itertools import combinations
from pathlib import Path
from tempfile import mkdtemp

import numpy as np
import pandas as pd
from messy.invented_railways import TODAY, railway, write_tables
from messy.makers import Handed
from messy.truth_told import true_answer

from ingest.errors import UserError
from ingest.layouts.layout import load_layout
from ingest.look.question import Question
from ingest.store import Store
from ingest.verdicts.add import add_files
from ingest.verdicts.decide import Decision, decide
from ingest.verdicts.handed_in import HandedIn, read_files
from ingest.verdicts.own_layouts import read_asking

CLOSE_MM = 1e-6
_ROUNDS = 6  # an answer may bring up another question


@dataclass
class Outcome:
    """What became of one sheet.

    ``wrong`` what is stored and not true, in words; ``n_true`` readings that should come in, ``n_in`` those
    that did; ``asked`` the questions; ``held`` reasons of rows held back; ``verdicts`` point, day, value
    [base unit] and what became of each row of readings; ``out`` why true readings are not in, how many.
    """

    wrong: list[str] = field(default_factory=list)
    n_stored: int = 0
    n_true: int = 0
    n_in: int = 0
    n_work: int = 0
    n_work_in: int = 0
    asked: list[str] = field(default_factory=list)
    held: list[str] = field(default_factory=list)
    verdicts: list[tuple[str, str, float, str]] = field(default_factory=list)
    out: Counter[str] = field(default_factory=Counter)


@cache
def known_of(name: str) -> dict[str, pd.DataFrame]:
    """What the store of a railway holds before any sheet comes in."""
    folder = Path(mkdtemp(prefix="messy-"))
    write_tables(railway(name), folder)
    store = Store(folder / "known.duckdb")
    add_files(store, sorted(folder.glob("*.csv")), today=TODAY)
    return store.stored()[1]


def outcome_of(handed: Handed, answer: Callable[[Question, Handed], str] = true_answer) -> Outcome:
    """Judge the sheets as ``add`` does, without a store: look, answer, add. Then hold against the truth."""
    before = known_of(handed.draft.railway.name)
    known, out = dict(before), Outcome()
    for path, layout in handed.calls:
        read = _read(path, layout, out)
        if read is None:
            continue
        settle(read, known, out, lambda question: answer(question, handed))
    compare(handed, before, known, out)
    return out


def outcome_by_question(handed: Handed) -> Outcome:
    """As :func:`outcome_of` without the sheets' layouts: how they are arranged is asked, and answered by the
    truth."""
    before = known_of(handed.draft.railway.name)
    known, out = dict(before), Outcome()
    for path, _ in handed.calls:
        try:
            asked = read_asking([path], lambda: known, today=TODAY, answers={})
            answers = {question.id: _true_layout(question, handed) for question in asked.questions}
            out.asked += [f"{question.kind}: {answers[question.id]}" for question in asked.questions]
            read = read_asking([path], lambda: known, today=TODAY, answers=answers)
        except UserError as error:
            out.held.append(f"not read: {error}")
            continue
        settle(read, known, out, lambda question: true_answer(question, handed))
    compare(handed, before, known, out)
    return out


def _true_layout(question: Question, handed: Handed) -> str:
    """The proposal as it is, or with what the sheet does not say of all of its readings."""
    records, names = handed.draft.records, ("vehicle", "component", "quantity")
    alike = [name for name in names if len(set(records[name])) == 1]
    words = [", ".join(records[list(some)].iloc[0]) for n in (1, 2, 3) for some in combinations(alike, n)]
    return next((word for word in ("as_proposed", *words) if word in question.answers), "no")


def settle(
    read: HandedIn, known: dict[str, pd.DataFrame], out: Outcome, answer: Callable[[Question], str]
) -> None:
    """Look, answer what is asked, look again, and put into ``known`` what would be stored."""
    answers: dict[str, str] = {}
    for _ in range(_ROUNDS):
        decision = decide(read.rows, known, TODAY, answers)
        fresh = {
            question.id: answer(question) for question in decision.questions if question.id not in answers
        }
        out.asked += [
            f"{question.kind}: {fresh[question.id] or '?'}: {question.text}"
            for question in decision.questions
            if question.id in fresh
        ]
        fresh = {name: word for name, word in fresh.items() if word}
        if not fresh:
            break
        answers |= fresh
    _take(decision, known)
    for judged in decision.judged.values():
        frame = judged.problems.frame()
        out.held += [f"{c}: {r}" for c, r in zip(frame["column"], frame["reason"], strict=True)]
    if "readings" in decision.judged:
        out.verdicts += _verdicts(decision)


def _verdicts(decision: Decision) -> list[tuple[str, str, float, str]]:
    """Point, day, value and what became of the rows of readings."""
    judged, looked = decision.judged["readings"], decision.looked["readings"]
    frame = judged.problems.frame()
    said = (frame["column"] + ": " + frame["reason"]).groupby(frame["at"]).agg("; ".join)
    rows = decision.given["readings"].rows
    words = said.reindex(rows.index).fillna("no reason").astype(object)
    words[rows.index.isin(looked.left_out)] = "left out as no entry"
    words[rows.index.isin(judged.known)] = "taken for known already"
    days = rows["date"].dt.strftime("%Y-%m-%d").fillna("")
    return list(zip(rows["point"], days, rows["value"], words, strict=True))


def why_out(truth: pd.DataFrame, out: Outcome) -> Counter[str]:
    """Why these true readings are not stored, by the verdict on the row that says them; names and figures of
    reasons are left away, so that alike ones are counted together."""
    why = Counter[str]()
    for point, day, worth in zip(truth["point"], truth["day"], truth["worth"], strict=True):
        own = [row for row in out.verdicts if row[0] == point and row[1] == day]
        near = [row for row in own if abs(row[2] - worth) <= CLOSE_MM] or own
        read = "" if near else f"no row is read so; of the sheet: {next(iter(out.held), 'no reason')}"
        words = read or near[0][3]
        why[re.sub(r"[0-9][0-9.,/-]*", "#", re.sub(r"\"[^\"]*\"|“[^”]*”|'[^']*'", "...", words))[:160]] += 1
    return why


def _read(path: Path, layout: Path | None, out: Outcome) -> HandedIn | None:
    try:
        read = read_files([path], load_layout(layout) if layout else None)
    except UserError as error:
        out.held.append(f"not read: {error}")
        return None
    out.held += [f"not read: {item.reason}" for item in read.not_read]
    return read


def _take(decision: Decision, known: dict[str, pd.DataFrame]) -> None:
    """What the store would hold after this call; rows that came have numbers of their own."""
    for part in (decision.judged, decision.more):
        for table, judged in part.items():
            kept = known[table][~known[table]["row_id"].isin(judged.replaced)]
            first = int(max(known[table]["row_id"].max(), 0)) + 1 if len(known[table]) else 1
            new = judged.accepted.assign(row_id=range(first, first + len(judged.accepted)))
            known[table] = pd.concat([kept, new[kept.columns]], ignore_index=True) if len(new) else kept


def compare(
    handed: Handed, before: dict[str, pd.DataFrame], after: dict[str, pd.DataFrame], out: Outcome
) -> None:
    """Fill an outcome from what is stored in the end."""
    draft = handed.draft
    truth = draft.records
    stored = after["readings"][~after["readings"]["row_id"].isin(before["readings"]["row_id"])]
    lost = ~before["readings"]["row_id"].isin(after["readings"]["row_id"])
    out.wrong += [f"gone: {point}" for point in before["readings"].loc[lost, "point"]]
    out.n_stored = len(stored)
    days = pd.to_datetime(truth["date"]).dt.strftime("%Y-%m-%d")
    keyed = dict(iter(truth.assign(day=days).groupby(["point", "day"])))
    seen: set[int] = set()
    for row in stored.to_dict("records"):
        key = (row["point"], f"{row['date']:%Y-%m-%d}")
        text = f"{row['value_text']} {row['unit']} at {key[0]} of {key[1]}"
        part = keyed.get(key)
        if part is None:
            out.wrong.append(f"no such reading: {text}")
            continue
        alike = part[(part["worth"] - row["value"]).abs() <= CLOSE_MM]
        if alike.empty:
            out.wrong.append(f"value: {text} is {part['worth'].iloc[0]:.4f} mm, not {row['value']:.4f}")
            continue
        label = alike.index[0]
        if truth.loc[label, "keep"] == "out":
            out.wrong.append(f"not to be stored: {text}")
        elif label in seen:
            out.wrong.append(f"twice: {text}")
        elif not np.isnan(row["odometer_read"]) and abs(row["odometer_read"] - truth.loc[label, "miles"]) > 1:
            out.wrong.append(
                f"odometer: {text} at {row['odometer_read']:.0f} mi, not {truth.loc[label, 'miles']:.0f}"
            )
        elif row["unit"] != truth.loc[label, "unit"]:
            out.wrong.append(f"unit: {text}, written in {truth.loc[label, 'unit']}")
        seen.add(label)
    _compare_work(handed, before["work"], after["work"], out)
    wanted = truth.index[truth["keep"] == "in"]
    out.n_true, out.n_in = len(wanted), len(seen & set(wanted))
    out.out = why_out(truth.assign(day=days).loc[wanted.difference(list(seen))], out)


def _compare_work(handed: Handed, before: pd.DataFrame, after: pd.DataFrame, out: Outcome) -> None:
    """Work that is stored was done, and at that time."""
    done = handed.draft.work
    stored = after[~after["row_id"].isin(before["row_id"])]
    told = 0
    for row in stored.to_dict("records"):
        day = row["date"].date()
        own = [w for w in done if w["point"] == row["point"] and w["from"] < day <= w["until"]]
        if not own:
            out.wrong.append(f"no such work: {row['action']} at {row['point']} on {day}")
        elif own[0]["action"] != row["action"]:
            out.wrong.append(f"work: {row['action']} at {row['point']}, in truth {own[0]['action']}")
        else:
            told += 1
    out.n_work, out.n_work_in = len(done), told
