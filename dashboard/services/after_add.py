"""What the readings of a batch say at once: which to measure again, and which checks they break."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import pandas as pd

from ingest.catalogue.recognised import COLUMNS, recognised
from ingest.store import Store
from ingest.verdicts.remeasure import news, told_something

if TYPE_CHECKING:  # judging rows loads pandera, which a forecast can do without
    from ingest.verdicts.report import AddReport

MOST_READINGS = 20_000
"""New readings up to which a batch is held against the forecast and checked at once; what is a whole history
waits for the forecast. [1]"""
MOST_POINTS = 20_000
"""Wear points of a store up to which checks across them come with every batch and every forecast; ``milesleft
checks`` always makes them. [1]"""
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
    left_out : what was not looked at: ``all`` or the ``checks`` where there was too much of it, ``untold``
        where the last forecast could tell nothing.
    """

    unexpected: pd.DataFrame
    findings: pd.DataFrame
    left_out: Literal["", "all", "checks", "untold"] = ""


def notice(store: Store, report: "AddReport") -> Noticed | None:
    """Look at the readings that a batch has brought; None where it brought none.

    Nothing is decided by it: every reading is stored as it is.
    """
    read = report.files.loc[report.files["table"] == "readings", "accepted"].sum()
    if report.batch is None or not read:
        return None
    nothing = pd.DataFrame()
    if read > MOST_READINGS:
        return Noticed(nothing, nothing, "all")
    unexpected = news(store, report.batch)
    if store.points(report.batch) > MOST_POINTS:
        return Noticed(unexpected, nothing, "checks")
    runs = store.runs("forecast")
    untold = len(runs) > 0 and not told_something(str(runs["about"].iloc[0]))
    return Noticed(unexpected, broken_checks(store, report.batch), "untold" if untold else "")


def recognised_points(store: Store, report: "AddReport") -> pd.DataFrame:
    """What the catalogue took the wear points for that a batch has brought: kinds, as
    :func:`ingest.catalogue.recognised.recognised` gives them; empty where it brought none."""
    if report.batch is None or not report.files.loc[report.files["table"] == "wear_points", "accepted"].sum():
        return pd.DataFrame(columns=COLUMNS)
    from dashboard.services.engine_facts import catalogues

    points = store.read("wear_points", report.batch)
    chosen = catalogues({"wear_points": points, "facts": store.read("facts", report.batch)})
    brought = points[points["batch"] == report.batch]
    return recognised(brought, {name: law.limit_set for name, law in chosen.items()})


def broken_checks(store: Store, batch: int) -> pd.DataFrame:
    """Checks not met by the vehicles that a batch's readings concern, without those found just so before."""
    from models.checks.findings_frame import UNTOLD, WITHIN  # the models take half a second to import

    read = store.points_read(batch - 1, batch)
    after = _checks(store, read, batch)
    broken = after[~after["verdict"].isin([UNTOLD, WITHIN])]
    if broken.empty:
        return broken
    known = set(_marks(_checks(store, read, batch - 1)))
    return broken[[mark not in known for mark in _marks(broken)]].reset_index(drop=True)


def _checks(store: Store, read: list[str], version: int) -> pd.DataFrame:
    """Checks of the vehicles of some wear points, as the data were at a version."""
    from dashboard.services.shop_checks import shop_findings

    points = store.read("wear_points", version)
    points = points[points["vehicle"].isin(points.loc[points["point"].isin(read), "vehicle"])]
    readings = store.last_readings(points["point"].tolist(), version)
    work = store.read_of_points(points["point"].tolist(), "work", version=version)
    tables = {"wear_points": points, "readings": readings, "facts": store.read("facts", version), **work}
    return shop_findings(tables)


def _marks(findings: pd.DataFrame) -> list[tuple[str, ...]]:
    """What makes a finding the same as another: all that is said but the day and the words."""
    return list(findings[_SAME].astype(str).itertuples(index=False, name=None))
