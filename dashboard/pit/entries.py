"""What a phone sends, checked as foreign text and made into rows of tables. Nothing is judged here."""

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd

from ingest.errors import WrongUsage
from ingest.look.question import mark_of
from ingest.look.sheet import SHEET_KIND
from ingest.neutral import harmless
from ingest.notation.stated import DECIMAL
from ingest.verdicts.handed_in import SHEETS, HandedIn

READING, NOT_REACHED, CRACKED = "reading", "not reached", "cracked"
KINDS = (READING, NOT_REACHED, CRACKED)
TABLE = {READING: "readings", NOT_REACHED: "events", CRACKED: "defects"}
_LONGEST = {
    "point": 200,
    "date": 10,
    "value": 80,
    "unit": 24,
    "odometer": 20,
    "gauge": 100,
    "observer": 100,
    "note": 1000,
}
"""Texts of an entry and how long each may be. [characters]"""
_ID = re.compile(r"[A-Za-z0-9-]{8,64}")
FILE = "at the engine"


@dataclass(frozen=True)
class Entry:
    """One thing that somebody noted at the engine; ``said`` holds the texts of ``_LONGEST``."""

    id: str
    kind: str
    said: Mapping[str, str]


def entries_of(body: bytes, most: int) -> list[Entry]:
    """The entries of a message.

    Parameters
    ----------
    body : JSON: ``{"entries": [{"id", "kind", "point", "date", "value", ...}]}``; texts all.
    most : entries that one message may have.

    Raises
    ------
    WrongUsage : it is none such; the message says which entry is wrong, and how.
    """
    try:
        told = json.loads(body)
    except (ValueError, RecursionError):
        raise WrongUsage("The message is no JSON. Load the page again.") from None
    listed = told.get("entries") if isinstance(told, dict) else None
    if not isinstance(listed, list) or not listed:
        raise WrongUsage("The message holds no entries. Load the page again.")
    if len(listed) > most:
        raise WrongUsage(f"The message holds {len(listed):,} entries; at most {most:,} are taken at once.")
    found = [_entry(each, place) for place, each in enumerate(listed, start=1)]
    if len({each.id for each in found}) < len(found):
        raise WrongUsage("Two entries of the message have the same number. Load the page again.")
    return found


def _entry(told: object, place: int) -> Entry:
    where = f"Entry {place}"
    if not isinstance(told, dict):
        raise WrongUsage(f"{where} is no entry. Load the page again.")
    number, kind = checked_id(told.get("id"), where), told.get("kind")
    if kind not in KINDS:
        raise WrongUsage(f"{where} is of no known kind. Expected one of: {', '.join(KINDS)}.")
    said = checked_texts(told, where)
    if kind == READING and not said["value"]:
        raise WrongUsage(f"{where} holds no value.")
    return Entry(number, str(kind), said)


def checked_id(told: object, where: str) -> str:
    """The number that a device gave an entry; WrongUsage if it is none."""
    if not isinstance(told, str) or not _ID.fullmatch(told):
        raise WrongUsage(f"{where} has no number of its own. Load the page again.")
    return told


def checked_texts(told: Mapping[Any, Any], where: str) -> dict[str, str]:
    """The texts of an entry, none too long; WrongUsage where it names no wear point or no day."""
    said = {name: _text(told.get(name, ""), f"{where}, {name}", most) for name, most in _LONGEST.items()}
    try:
        date.fromisoformat(said["date"])
    except ValueError:
        raise WrongUsage(f"{where}: its day is none. Expected a day like 2026-05-01.") from None
    if not said["point"]:
        raise WrongUsage(f"{where} names no wear point.")
    return said


def _text(told: object, where: str, most: int) -> str:
    if not isinstance(told, str):
        raise WrongUsage(f"{where}: expected a text.")
    if len(told) > most:
        raise WrongUsage(f"{where}: longer than {most} characters. Write it shorter.")
    return str(harmless(" ".join(told.split())))


def has_decimal_comma(value: str) -> bool:
    """Whether a comma in a value typed at the engine marks decimals: nobody types thousands there."""
    return "," in value and "." not in value


def handed_in(entries: Sequence[Entry], points: pd.DataFrame, stamp: str) -> HandedIn:
    """Rows as text by table, each with the place of its entry among `entries` as the number of its row.

    Parameters
    ----------
    points : wear points on record: point, vehicle, component, position.
    stamp : when they came in; it names the source of the rows.
    """
    names = points[["point", "vehicle", "component", "position"]].astype("str")
    about = {row["point"]: row for row in names.to_dict("records")}
    rows: dict[str, list[dict[str, object]]] = {}
    for place, entry in enumerate(entries, start=1):
        row = _MADE[entry.kind](entry, about.get(entry.said["point"], {}))
        origin = {"source_file": f"{FILE} {stamp}", "source_sheet": "", "source_row": place}
        rows.setdefault(TABLE[entry.kind], []).append({**row, **origin})
    frames = {table: _frame(table, listed) for table, listed in sorted(rows.items(), reverse=True)}
    sheets = [(f"{FILE} {stamp}", "", table, "") for table in frames]
    return HandedIn(frames, pd.DataFrame(sheets, columns=SHEETS))


def _frame(table: str, rows: list[dict[str, object]]) -> pd.DataFrame:
    frame = pd.DataFrame(rows)
    kinds = {name: "str" for name in frame if name != "source_row"}
    frame = frame.astype(kinds)
    return frame.assign(**{SHEET_KIND: mark_of([FILE, table])})


def _reading(entry: Entry, about: dict[Any, Any]) -> dict[str, object]:  # noqa: ARG001  # the point says it all
    said = entry.said
    names = ("point", "date", "value", "unit", "odometer", "gauge", "observer", "note")
    decimal = "value" if has_decimal_comma(said["value"]) else "."
    return {**{name: said[name] for name in names}, "client_id": entry.id, DECIMAL: decimal}


def _not_reached(entry: Entry, about: dict[Any, Any]) -> dict[str, object]:
    said = entry.said
    note = "; ".join(part for part in (said["note"], said["observer"]) if part)
    return {
        "vehicle": about.get("vehicle", ""),
        "date": said["date"],
        "event": "could not be reached to be read",
        "component": about.get("component", ""),
        "point": said["point"],
        "note": note,
    }


def _cracked(entry: Entry, about: dict[Any, Any]) -> dict[str, object]:
    said = entry.said
    return {
        "vehicle": about.get("vehicle", ""),
        "date": said["date"],
        "component": about.get("component", ""),
        "position": about.get("position", ""),
        "point": said["point"],
        "defect": "looks cracked",
        "method": "looked_at",
        "found_by": said["observer"],
        "note": said["note"],
        "client_id": entry.id,
    }


_MADE = {READING: _reading, NOT_REACHED: _not_reached, CRACKED: _cracked}
