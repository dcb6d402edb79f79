"""Files in, verdicts out: what ``milesleft add`` does. One transaction for everything handed in."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd

from ingest.layouts.layout import Layout, load_layout
from ingest.store import Store
from ingest.store.transaction import Transaction
from ingest.verdicts.answering import keep_answers, must_be_asked
from ingest.verdicts.decide import Decision, decide
from ingest.verdicts.handed_in import HandedIn, read_files
from ingest.verdicts.look_report import LookReport, look_report
from ingest.verdicts.own_layouts import read_asking
from ingest.verdicts.read_again import READ_AGAIN, let_go, read_otherwise, waiting_rows
from ingest.verdicts.report import AddReport, report
from ingest.verdicts.touched import Tables

_TRIES = 3  # times that rows are judged because somebody else stored something meanwhile


def add_files(
    store: Store,
    paths: Iterable[Path | str],
    *,
    who: str = "",
    layout: Layout | Path | None = None,
    today: date | None = None,
    answers: Mapping[str, str] | None = None,
) -> AddReport:
    """Read files and folders and store their rows in one batch.

    Parameters
    ----------
    store : it is made if it does not exist.
    paths : files and folders; readings and what they refer to may come in any order.
    who : name for the record; the user of this process if empty.
    layout : a layout or its file, for sheets that are not written like the tables.
    today : day after which dates lie in the future; the present day if None.
    answers : id of a question that :func:`look_at_files` asks -> answer; kept with the rows.

    Returns
    -------
    AddReport : a verdict for every row.

    Raises
    ------
    UnreadableFile : nothing of what was handed in is a table; the message speaks of each file.
    WrongUsage : an answer to a question that is not asked, or that it does not offer.
    StoreBusy, StoreProblem : the store cannot be opened; nothing was stored.
    """
    today = today or datetime.now(UTC).date()
    handed_in = _read(store, paths, layout, today, answers or {})
    return add_rows(store, handed_in, who=who, today=today, answers=answers)


def look_at_files(
    store: Store,
    paths: Iterable[Path | str],
    *,
    layout: Layout | Path | None = None,
    today: date | None = None,
    answers: Mapping[str, str] | None = None,
) -> LookReport:
    """As :func:`add_files`, but nothing is stored: how every cell would be read, and what is asked."""
    today = today or datetime.now(UTC).date()
    return look_at_rows(
        store, _read(store, paths, layout, today, answers or {}), today=today, answers=answers
    )


def look_at_rows(
    store: Store, handed_in: HandedIn, *, today: date | None = None, answers: Mapping[str, str] | None = None
) -> LookReport:
    """As :func:`add_rows`, but nothing is stored."""
    decision = decide(handed_in.rows, _known(store), today or datetime.now(UTC).date(), answers)
    _must_be_asked(handed_in, decision, answers or {})
    return look_report(handed_in, decision)


def add_rows(
    store: Store,
    handed_in: HandedIn,
    *,
    who: str = "",
    today: date | None = None,
    answers: Mapping[str, str] | None = None,
) -> AddReport:
    """Judge and store rows that were read already; see :func:`add_files`.

    They are judged while others may use the store. If somebody stored something meanwhile they are judged
    again, the last time while nobody else can write.
    """
    today, answers = today or datetime.now(UTC).date(), dict(answers or {})
    about: dict[str, object] = {"files": sorted(handed_in.sheets["file"].unique())}
    about |= {"contents": handed_in.contents} | ({"answers": answers} if answers else {})
    for tries_left in reversed(range(_TRIES)):
        version, known = store.stored()
        decision = decide(handed_in.rows, known, today, answers)
        _must_be_asked(handed_in, decision, answers)
        with store.transaction("add", who, about) as batch:
            overtaken = batch.before != version
            if overtaken and tries_left:
                continue
            if overtaken:
                known = batch.stored()
                decision = decide(handed_in.rows, known, today, answers)
            decision.write(batch)
            for content in handed_in.pictures:
                batch.keep_picture(content)
            answered = [*handed_in.answered, *decision.answered]
            keep_answers(batch, answered, answers, known["answers"], who=who, today=today)
            ended = len(decision.released)
            if batch.changed:
                ended += _end_waiting(batch, handed_in, decision, known, today, answers)
            made = report(batch.batch if batch.changed else None, handed_in, decision)
            return replace(made, no_longer_wait=ended)
    raise AssertionError("the last try stores or raises")


def _end_waiting(
    batch: Transaction,
    handed_in: HandedIn,
    decision: Decision,
    before: Tables,
    today: date,
    answers: Mapping[str, str],
) -> int:
    """Let rows that waited go with what this call stores beside what was stored before; how many."""
    held = decision.after["held"]
    if waiting_rows(held).empty:
        return 0
    same = _of_same_content(batch.batches(), handed_in.contents)
    again = read_otherwise(decision, held, same)
    batch.settle(again)
    held = held.assign(outcome=held["outcome"].mask(held["held_id"].isin(again["held_id"]), READ_AGAIN))
    return len(again) + let_go(batch, before, decision.after | {"held": held}, today=today, answers=answers)


def _of_same_content(batches: pd.DataFrame, contents: Mapping[str, str]) -> list[tuple[int, str]]:
    """Batch and file of what was handed in before with the very content that it has now."""
    found = []
    for number, about in batches[["batch", "about"]].itertuples(index=False):
        before = json.loads(about).get("contents", {})
        found += [(int(number), name) for name, mark in contents.items() if before.get(name) == mark]
    return found


def _must_be_asked(handed_in: HandedIn, decision: Decision, answers: Mapping[str, str]) -> None:
    """Refuse answers to what neither the sheets nor their rows ask."""
    asked = [*handed_in.questions, *decision.questions]
    must_be_asked(asked, [*handed_in.answered, *decision.answered], answers)


def _known(store: Store) -> Tables:
    """Rows of every table that hold; a look makes no store."""
    if store.path.exists():
        return store.stored()[1]
    with TemporaryDirectory() as folder:
        return Store(Path(folder) / "empty.duckdb").stored()[1]


def _read(
    store: Store,
    paths: Iterable[Path | str],
    layout: Layout | Path | None,
    today: date,
    answers: Mapping[str, str],
) -> HandedIn:
    """What the files hold; without a layout, a sheet that is no table as it stands is asked about."""
    files = [Path(path) for path in paths]
    if layout is None:
        return read_asking(files, lambda: _known(store), today=today, answers=answers)
    return read_files(files, load_layout(layout) if isinstance(layout, Path) else layout)
