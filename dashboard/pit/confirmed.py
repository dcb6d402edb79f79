"""Entries of phones taken in: each is stored or held back once, and confirmed by its own number."""

import threading
from collections.abc import Sequence
from datetime import date
from typing import Any

import pandas as pd

from dashboard.pit.entries import READING, TABLE, Entry, handed_in
from ingest.store import Store
from ingest.store.store import now
from ingest.verdicts.add import add_rows
from ingest.verdicts.remeasure import AGAIN, news
from ingest.verdicts.report import ALREADY_KNOWN, AddReport

OTHER = "refused"
"""Verdict on a number under which something else came in before: a phone gives each entry its own."""
ONE_AT_A_TIME = threading.Lock()
"""Two messages with the same entries must not both find them new."""


def take_in(store: Store, entries: Sequence[Entry], who: str, today: date) -> list[dict[str, Any]]:
    """Store entries as one batch, unless they came in before; what became of each, in their order.

    Returns
    -------
    For each entry id, verdict (accepted, held back, already known, refused), reasons, batch (0: none), again
    (whether it lies far from what was expected) and others: what others read there on that day.
    """
    with ONE_AT_A_TIME:
        seen = _seen(store, entries)
        new = [each for each in entries if each.id not in seen]
        stamp = f"{now():%Y-%m-%d %H:%M:%S}"
        known = store.read("wear_points") if new else pd.DataFrame()
        made = add_rows(store, handed_in(new, known, stamp), who=who, today=today) if new else None
    verdicts = {} if made is None else _verdicts(made, new)
    far = _far(store, made)
    others = _others(store, entries)
    return [
        {
            "id": entry.id,
            **(verdicts.get(entry.id) or _before(seen[entry.id])),
            "again": entry.kind == READING and (entry.said["point"], entry.said["date"]) in far,
            "others": others.get(entry.id, []),
        }
        for entry in entries
    ]


def _seen(store: Store, entries: Sequence[Entry]) -> dict[str, str]:
    """Verdict on each entry whose number came in before."""
    seen: dict[str, str] = {}
    for kind in (READING, "cracked"):
        asked = {each.id: each for each in entries if each.kind == kind}
        if not asked:
            continue
        found = store.entries_of(TABLE[kind], list(asked))
        for number, rows in found.groupby("client_id"):
            entry = asked[str(number)]
            same = rows["point"] == entry.said["point"]
            if kind == READING:
                same &= rows["said"] == entry.said["value"]
            seen[str(number)] = ALREADY_KNOWN if same.any() else OTHER
    return seen


def _before(verdict: str) -> dict[str, Any]:
    """What is said of an entry whose number came in before."""
    return {"verdict": verdict, "reasons": "", "batch": 0}


def _verdicts(made: AddReport, entries: Sequence[Entry]) -> dict[str, dict[str, Any]]:
    """Verdict, reasons and batch by the number of the entry."""
    out = {}
    for row in made.verdicts.to_dict("records"):
        entry = entries[int(row["row"]) - 1]
        told = {"verdict": row["verdict"], "reasons": row["reasons"], "batch": made.batch or 0}
        out[entry.id] = told
    return out


def _far(store: Store, made: AddReport | None) -> set[tuple[str, str]]:
    """Point and day of the new readings that wait to be measured again."""
    if made is None or made.batch is None:
        return set()
    told = news(store, made.batch)
    told = told[told["new"] & (told["state"] == AGAIN)]
    return {(str(row["point"]), f"{row['date']:%Y-%m-%d}") for row in told.to_dict("records")}


def _others(store: Store, entries: Sequence[Entry]) -> dict[str, list[str]]:
    """What is stored of the same wear point and day under other numbers, in words."""
    readings = [each for each in entries if each.kind == READING]
    if not readings:
        return {}
    points = sorted({each.said["point"] for each in readings})
    stored = store.read_of_points(points, "readings")["readings"]
    days = stored["date"].dt.strftime("%Y-%m-%d")
    sent = {each.id for each in readings}
    out = {}
    for entry in readings:
        same = (stored["point"] == entry.said["point"]) & (days == entry.said["date"])
        rows = stored[same & ~stored["client_id"].isin(sent)]
        out[entry.id] = [_in_words(row) for row in rows.to_dict("records")]
    return out


def _in_words(row: dict[Any, Any]) -> str:
    text = str(row["value_text"])
    unit = "" if any(c.isalpha() or c in "\"'%°" for c in text) else f" {row['unit']}"
    by = f", read by {row['observer']}" if row["observer"] else ""
    return f"{text}{unit}{by}"
