"""What the readings of a batch say, in words: measure again, settled, what the checks find wrong."""

import pandas as pd

from dashboard.words.cautions import CHECKS_CAUTION
from dashboard.words.checks_text import finding_text
from dashboard.words.records import as_records
from dashboard.words.units_shown import RailwayUnits
from ingest.verdicts.remeasure import AGAIN, CONFIRMED, Z_90

SHOWN = 8
"""Lines of each kind; the others are counted."""


def noticed_lines(
    unexpected: pd.DataFrame, findings: pd.DataFrame, left_out: str, units: RailwayUnits
) -> list[str]:
    """What a batch's readings say, as people read it; no line where they say nothing.

    Parameters
    ----------
    unexpected, findings : as in ``dashboard.services.after_add.Noticed``.
    left_out : from :func:`left_out_words`.
    units : of figures that belong to no one wear point, by vehicle.
    """
    lines = []
    if len(unexpected):
        new, again = unexpected["new"].astype(bool), unexpected["state"] == AGAIN
        for head, rows in {
            "Measure again, stored, but far from what the last forecast expected": unexpected[new & again],
            "Far from what the last forecast expected, but settled by another reading": unexpected[
                new & ~again
            ],
            "Settled by this batch": unexpected[~new],
        }.items():
            if len(rows):
                lines += [f"\n{head}:", *_first([f"  {reading_text(row)}" for _, row in rows.iterrows()])]
    if len(findings):
        lines.append("\nFound wrong by checks since this batch ('milesleft checks' shows all):")
        lines += [*finding_lines(findings, units), f"  {CHECKS_CAUTION}"]
    return [*lines, f"\n{left_out}"] if left_out else lines


def reading_text(row: pd.Series) -> str:
    """One marked reading: point, date, what was read, what was expected, what became of it."""
    low, high = expected_range(row["expected"], row["expected_sd"])
    unit = row["unit"]
    return (
        f"{row['point']}, {row['date']:%Y-%m-%d}: read {row['value']:.4g} {unit}, expected {low:.4g} to "
        f"{high:.4g} {unit} 8 times in 10; {settled(row['state'])}"
    )


def expected_range(expected: float, sd: float) -> tuple[float, float]:
    """The range that a reading was expected in, 8 times in 10."""
    return expected - Z_90 * sd, expected + Z_90 * sd


def settled(state: str) -> str:
    """What became of a marked reading, and what is to be done."""
    if state == AGAIN:
        return "measure it a second time"
    return "a second reading agrees with it" if state == CONFIRMED else "a later reading is as expected"


def finding_lines(findings: pd.DataFrame, units: RailwayUnits) -> list[str]:
    """The first of what the checks find wrong: where, what was found, limit, source, what puts it right."""
    return _first([finding_text(row, units) for row in as_records(findings)]) if len(findings) else []


def left_out_words(left_out: str, most_points: int) -> str:
    """What was not looked at, and which command does it; empty where nothing was left out.

    Parameters
    ----------
    left_out : ``all``, ``checks``, ``untold`` or empty.
    most_points : wear points of a store up to which checks are made after a batch.
    """
    words = {
        "all": "So many readings at once are neither compared with the forecast nor checked against each "
        "other here. 'milesleft forecast' does the one, 'milesleft checks' the other.",
        "checks": f"Checks across wear points are not made after a batch in a store of more than "
        f"{most_points:,} wear points: 'milesleft checks --vehicle' makes them for one vehicle.",
    }
    words["untold"] = (
        "The last forecast could tell nothing of any wear point, so nothing was expected of these readings. "
        "'milesleft forecast' makes a new one with them; its flags say what is missing."
    )
    return words.get(left_out, "")


def _first(lines: list[str]) -> list[str]:
    more = len(lines) - SHOWN
    return lines[:SHOWN] + ([f"  and {more:,} more"] if more > 0 else [])
