"""Which wear points of an engine are due to be read, and why: telephone, printed sheet and desk ask here.

It says nothing of values: whoever reads a gauge must not know what was read before.
"""

import json
import tomllib
from datetime import date
from functools import cache
from pathlib import Path

import pandas as pd

from dashboard.services.kept_plans import measure_first_of, runs_in_force
from dashboard.words.measure_words import round_of as first_of
from ingest.errors import NotPossible
from ingest.store import Store
from ingest.verdicts.remeasure import AGAIN, unexpected

NEVER = "never read"
DAYS_OF_A_MONTH, DAYS_OF_A_YEAR = 30, 365
"""Only to say how long ago a reading is, in whole months or years."""


def due(state: Store, vehicle: str, points: pd.DataFrame, last: pd.Series, today: date) -> dict[str, str]:
    """Why each wear point of a vehicle is due to be read; one that is not due is not in it.

    Parameters
    ----------
    points : its wear points: point.
    last : day of the last reading by point; a wear point that was never read may be missing.

    Returns
    -------
    Reasons in words, the weightiest first: what a batch questioned (a reading far from what was expected, one
    that is held back and is the newest), what the plan that holds says to measure first, unless it was read
    since; age.
    """
    names = [str(name) for name in points["point"]]
    found = unexpected(state, points=names)
    again = set(found.loc[found["state"] == AGAIN, "point"])
    held, planned = _held_back(state, last, today), _planned(state, vehicle, last)
    out = {}
    for name in names:
        reasons = [
            "to be read again" if name in again else "",
            "a reading of it is held back" if name in held else "",
            "the plan asks for it" if name in planned else "",
            _age(last.get(name), today),
        ]
        words = "; ".join(reason for reason in reasons if reason)
        if words:
            out[name] = words
    return out


def _held_back(state: Store, last: pd.Series, today: date) -> set[str]:
    """Wear points of which the newest reading waits to be looked at; one read since asks for none."""
    held = state.held()
    waits = held[(held["outcome"] == "") & (held["table_name"] == "readings")]
    cells = [json.loads(raw) for raw in waits["raw"]]
    rows = pd.DataFrame({name: [str(each.get(name) or "") for each in cells] for name in ("point", "date")})
    day = pd.to_datetime(rows["date"], format="ISO8601", errors="coerce")
    read = pd.to_datetime(rows["point"].map(last))
    newest = (day <= pd.Timestamp(today)) & (read.isna() | (day >= read))
    return set(rows.loc[newest, "point"])


def _planned(state: Store, vehicle: str, last: pd.Series) -> set[str]:
    """What the plan in force says to measure first, as ``milesleft measure-first`` lists it, less what was
    read since it was made."""
    try:
        runs = runs_in_force(state, [vehicle])
        table = measure_first_of(state, runs) if runs else pd.DataFrame()
    except NotPossible:  # it was made before plans said so
        return set()
    if table.empty:
        return set()
    table = table[table["vehicle"] == vehicle]
    now = pd.to_datetime(table["point"].map(last))
    read_since = now.notna() & (table["last_date"].isna() | (now > table["last_date"]))
    asked = first_of(table, None)["point"]
    return set(asked[~asked.isin(table.loc[read_since, "point"])])


def _age(last: pd.Timestamp | None, today: date) -> str:
    if last is None or pd.isna(last):
        return NEVER
    days = (pd.Timestamp(today) - last).days
    if days <= read_after():
        return ""
    years = days // DAYS_OF_A_YEAR
    return f"last read {years} years ago" if years >= 2 else f"last read {days // DAYS_OF_A_MONTH} months ago"


@cache
def read_after() -> int:
    """Days after which a wear point is due to be read."""
    told = tomllib.loads(Path(__file__).with_name("due.toml").read_text(encoding="utf-8"))
    return int(told["read_after"]["value"])
