"""What an opening found, in words that its page, its papers and the command line share."""

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from dashboard.words.numbers import day_words
from dashboard.words.plan_words import DEPTH_WORDS

METHOD_WORDS = {
    "": "not said",
    "looked_at": "looked at",
    "hammer": "hammer",
    "dye": "dye",
    "magnetic_particle": "magnetic particle",
    "ultrasonic": "ultrasonic",
}
VERDICT_WORDS = {
    "": "not decided",
    "run_on": "run on",
    "watch": "watch until",
    "repair": "repair",
    "renew": "renew",
}
STATE_WORDS = {
    "past": "past its limit",
    "shop": "past the shop limit",
    "within": "within its limits",
    "implausible": "cannot be right",
    "unknown": "no limit on record",
}


def finding_words(row: Mapping[Hashable, Any], size: str) -> str:
    """One finding as a sentence: what, where, how large, how it was found, by whom."""
    where = ", ".join(part for part in (row["position"], row["part_no"], row["place"]) if part)
    what = "nothing found" if row["sound"] else f"{row['defect']}{f', {size}' if size else ''}"
    method = f"; {METHOD_WORDS[row['method']]}" if row["method"] else ""
    by = f", by {row['found_by']}" if row["found_by"] else ""
    return f"{row['component']}{f', {where}' if where else ''}: {what}{method}{by}"


def verdict_words(row: Mapping[Hashable, Any]) -> str:
    """The verdict of one finding, with the day until which it is watched."""
    if row["sound"] and not row["verdict"]:
        return "sound"
    words = VERDICT_WORDS[row["verdict"]]
    if row["verdict"] != "watch":
        return words
    return f"{words} {day_words(row['watch_until'])}" if pd.notna(row["watch_until"]) else "watch"


def open_words(opening: Mapping[Hashable, Any]) -> str:
    """From when until when, how deep, where."""
    since = day_words(opening["since"])
    until = "still open" if pd.isna(opening["until"]) else f"until {day_words(opening['until'])}"
    more = [DEPTH_WORDS.get(opening["depth"], ""), str(opening["place"])]
    return ", ".join(part for part in (f"{opening['vehicle']}, open since {since}", until, *more) if part)


def held_words(found: pd.DataFrame) -> str:
    """How many of what was found lay in the range that was forecast."""
    told = found[found["p50"].notna()]
    if told.empty:
        return "Nothing that was measured had been forecast."
    held = int(told["held"].astype(bool).sum())
    return (
        f"Of {len(told)} measurements as found, {held} lay in the range that the forecast of the day before "
        "gave 8 times in 10."
    )


def line_words(row: Mapping[Hashable, Any]) -> str:
    """One line of a scope: component, what is done, where."""
    where = f": {row['position']}" if row["position"] else ""
    return f"{row['component']}, {row['action']}{where}"
