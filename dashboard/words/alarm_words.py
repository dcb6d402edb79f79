"""Alarms of a forecast as people and programs read them."""

from typing import Any

import pandas as pd

from dashboard.words.records import as_records

SHOWN = 8
"""Alarms that are listed at once; the others are counted."""
POINTS_NAMED = 3
"""Wear points of an alarm that are named; the others are counted."""
_SAME = ["kind", "vehicle", "since", "words", "settled"]


def alarm_list(alarms: pd.DataFrame) -> list[dict[str, Any]]:
    """Alarms for JSON, one entry each: kind, vehicle, points, since, words, settled, readings that raised it.

    Parameters
    ----------
    alarms : the frame ``alarms`` of a forecast run.
    """
    listed = []
    for (kind, vehicle, since, words, settled), rows in alarms.groupby(_SAME, sort=False, dropna=False):
        read = rows[rows["date"].notna()]
        listed.append(
            {
                "kind": kind,
                "vehicle": vehicle,
                "points": list(dict.fromkeys(rows["point"])),
                "since": f"{since:%Y-%m-%d}",
                "words": words,
                "settled": bool(settled),
                "readings": as_records(
                    read[["point", "date", "value", "unit"]].assign(date=read["date"].dt.strftime("%Y-%m-%d"))
                ),
            }
        )
    return listed


def alarm_lines(alarms: pd.DataFrame) -> list[str]:
    """The first alarms that are open, a line each: vehicle, wear points, words. Settled ones are counted."""
    listed = alarm_list(alarms)
    waiting = [item for item in listed if not item["settled"]]
    shown, settled = waiting[:SHOWN], len(listed) - len(waiting)
    lines = [f"{item['vehicle']}, {points_in_words(item['points'])}: {item['words']}" for item in shown]
    if len(waiting) > SHOWN:
        lines.append(f"and {len(waiting) - SHOWN:,} more ('--json' lists all)")
    if settled:
        lines.append(
            f"{settled:,} odd {'reading' if settled == 1 else 'readings'} of before, settled by later ones"
        )
    return lines


def points_in_words(points: list[str]) -> str:
    """Names of wear points, the first few where they are many."""
    more = len(points) - POINTS_NAMED
    if more <= 1:
        return ", ".join(points)
    return f"{', '.join(points[:POINTS_NAMED])} and {more:,} more"
