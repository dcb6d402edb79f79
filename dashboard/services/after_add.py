"""What the readings of a batch say at once: which to measure again, and which checks they break."""

from dataclasses import dataclass

import pandas as pd

from dashboard.words.checks_text import finding_text
from dashboard.words.records import as_records
from ingest.store import Store
from ingest.verdicts.remeasure import AGAIN, CONFIRMED, Z_90, news
from ingest.verdicts.report import AddReport

MOST_READINGS = 20_000
"""New readings up to which a batch is held against the forecast and checked at once; what is a whole history
waits for the forecast. [1]"""
MOST_POINTS = 20_000
"""Wear points of a store up to which checks across them come with every batch and every forecast; ``milesleft
checks`` always makes them. [1]"""
SHOWN = 8  # lines of each kind
NOT_LOOKED_AT = (
    "So many readings at once are neither held against the forecast nor checked against each other here. "
    "'milesleft forecast' does the one, 'milesleft checks' the other."
)
NOT_CHECKED = (
    f"Checks across wear points are not made after a batch in a store of more than {MOST_POINTS:,} wear "
    "points: 'milesleft checks --vehicle' makes them for one vehicle."
)
SUPPORTS = "Checks support and never replace inspection by qualified people."
_SAME = ["vehicle", "check", "position", "points", "bound", "verdict", "found", "limit"]


@dataclass(frozen=True)
class Noticed:
    """What a batch's readings say.

    Attributes
    ----------
    unexpected : as :func:`ingest.verdicts.remeasure.news`: far from expected, or an earlier one of these now
        settled.
    findings : ``models.checks.findings_frame.COLUMNS``: checks that are not met and were, or were not made,
        before.
    left_out : what was not looked at and why, in words; empty if nothing was left out.
    """

    unexpected: pd.DataFrame
    findings: pd.DataFrame
    left_out: str = ""


def notice(store: Store, report: AddReport) -> Noticed | None:
    """Look at the readings that a batch has brought; None where it brought none.

    Nothing is decided by it: every reading is stored as it is.
    """
    read = report.files.loc[report.files["table"] == "readings", "accepted"].sum()
    if report.batch is None or not read:
        return None
    nothing = pd.DataFrame()
    if read > MOST_READINGS:
        return Noticed(nothing, nothing, NOT_LOOKED_AT)
    unexpected = news(store, report.batch)
    if store.points(report.batch) > MOST_POINTS:
        return Noticed(unexpected, nothing, NOT_CHECKED)
    return Noticed(unexpected, broken_checks(store, report.batch))


def broken_checks(store: Store, batch: int) -> pd.DataFrame:
    """Checks not met by the vehicles that a batch's readings concern, without those found just so before."""
    from models.checks.findings_frame import UNTOLD, WITHIN  # the models take half a second to import

    read = store.points_read(batch - 1, batch)
    now = _checks(store, read, batch)
    now = now[~now["verdict"].isin([UNTOLD, WITHIN])]
    if now.empty:
        return now
    before = _checks(store, read, batch - 1)
    known = set(_marks(before))
    return now[[mark not in known for mark in _marks(now)]].reset_index(drop=True)


def _checks(store: Store, read: list[str], version: int) -> pd.DataFrame:
    """Checks of the vehicles of some wear points, as the data were at a version."""
    from dashboard.services.shop_checks import shop_findings

    points = store.read("wear_points", version)
    points = points[points["vehicle"].isin(points.loc[points["point"].isin(read), "vehicle"])]
    readings = store.last_readings(points["point"].tolist(), version)
    return shop_findings({"wear_points": points, "readings": readings})


def _marks(found: pd.DataFrame) -> list[tuple[str, ...]]:
    """What makes a finding the same as another: all that is said but the day and the words."""
    return list(found[_SAME].astype(str).itertuples(index=False, name=None))


def as_lines(noticed: Noticed) -> list[str]:
    """What a batch's readings say, as people read it; no line where they say nothing."""
    found = noticed.unexpected
    new = found[found["new"]] if len(found) else found
    parts = {
        "Measure again, stored, but far from what the last forecast expected": (
            new[new["state"] == AGAIN] if len(new) else new
        ),
        "Far from what the last forecast expected, but settled by another reading": (
            new[new["state"] != AGAIN] if len(new) else new
        ),
        "Settled by this batch": found[~found["new"]] if len(found) else found,
    }
    lines = []
    for head, rows in parts.items():
        if len(rows):
            lines += [f"\n{head}:", *_few([f"  {in_words(row)}" for _, row in rows.iterrows()])]
    if len(noticed.findings):
        lines.append("\nChecks not met with this batch ('milesleft checks' shows all):")
        lines += [*finding_lines(noticed.findings), f"  {SUPPORTS}"]
    return [*lines, f"\n{noticed.left_out}"] if noticed.left_out else lines


def in_words(row: pd.Series) -> str:
    """One marked reading: point, date, what was read, what was expected, what became of it."""
    low, high = (row["expected"] + side * Z_90 * row["expected_sd"] for side in (-1, 1))
    unit = row["unit"]
    words = (
        f"{row['point']}, {row['date']:%Y-%m-%d}: read {row['value']:.4g} {unit}, expected {low:.4g} to "
        f"{high:.4g} {unit} in 8 of 10 cases"
    )
    return f"{words}; {settled(row['state'])}"


def settled(state: str) -> str:
    """What became of a marked reading, and what is to be done."""
    if state == AGAIN:
        return "measure it a second time"
    return "a second reading agrees with it" if state == CONFIRMED else "a later reading is as expected"


def finding_lines(found: pd.DataFrame) -> list[str]:
    """The first of the checks not met: where, what was found, limit, source, what puts it right."""
    if found.empty:
        return []
    return _few([finding_text(row) for row in as_records(found)])


def _few(lines: list[str]) -> list[str]:
    more = len(lines) - SHOWN
    return lines[:SHOWN] + ([f"  and {more:,} more"] if more > 0 else [])


def as_dict(noticed: Noticed | None) -> dict[str, object]:
    """The same for JSON."""
    if noticed is None:
        return {"unexpected": [], "checks_not_met": [], "not_looked_at": ""}
    unexpected = noticed.unexpected.drop(columns=["row_id", "batch"], errors="ignore")
    if len(unexpected):
        unexpected = unexpected.assign(date=unexpected["date"].dt.strftime("%Y-%m-%d"))
    return {
        "unexpected": as_records(unexpected),
        "checks_not_met": as_records(noticed.findings),
        "not_looked_at": noticed.left_out,
    }
