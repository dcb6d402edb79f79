"""What the readings of a batch say at once: which to measure again, and which checks they break."""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import pandas as pd

from dashboard.words.units_shown import RailwayUnits, railway_units
from ingest.catalogue.recognised import COLUMNS, recognised
from ingest.errors import StoreProblem
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
    findings : ``models.checks.findings_frame.COLUMNS``: what the checks find wrong and did not, or were not
        made for, before.
    left_out : what was not looked at: ``all`` or the ``checks`` where there was too much of it, ``untold``
        where the last forecast could tell nothing.
    alarms : the frame ``alarms`` of the last forecast, of the wear points that were read.
    units : those of each vehicle's wear points, for figures that belong to no one of them.
    """

    unexpected: pd.DataFrame
    findings: pd.DataFrame
    left_out: Literal["", "all", "checks", "untold"] = ""
    alarms: pd.DataFrame = field(default_factory=pd.DataFrame)
    units: RailwayUnits = field(default_factory=RailwayUnits)


def notice(store: Store, report: "AddReport") -> Noticed | None:
    """Look at the readings and fittings that a batch has brought; None where it brought none.

    Nothing is decided by it: every reading is stored as it is.
    """
    brought = report.files.groupby("table")["accepted"].sum()
    read = brought.get("readings", 0)
    if report.batch is None or not read + brought.get("fittings", 0):
        return None
    nothing = pd.DataFrame()
    if read > MOST_READINGS:
        return Noticed(nothing, nothing, "all")
    with store.at_once() as seen:
        unexpected = news(seen, report.batch)
        if seen.points(report.batch) > MOST_POINTS:
            return Noticed(unexpected, nothing, "checks")
        runs = seen.runs("forecast")
        untold = len(runs) > 0 and not told_something(str(runs["about"].iloc[0]))
        broken, alarms = broken_checks(seen, report.batch), alarms_of_batch(seen, report.batch)
        units = railway_units(seen.read("wear_points", report.batch))
    return Noticed(unexpected, broken, "untold" if untold else "", alarms, units)


def alarms_of(store: Store, run: str) -> pd.DataFrame:
    """The frame ``alarms`` of a forecast run; no columns where it was made before there were alarms."""
    try:
        return store.read_run(run, "alarms")
    except StoreProblem:
        return pd.DataFrame()


def alarms_of_batch(store: Store, batch: int) -> pd.DataFrame:
    """Alarms of the last forecast about the wear points that a batch has readings of; empty without one.

    They are those of before the batch: the next forecast may raise others, or end these.
    """
    runs = store.runs("forecast")
    alarms = pd.DataFrame() if runs.empty else alarms_of(store, str(runs["run_id"].iloc[0]))
    if alarms.empty:
        return alarms
    return alarms[alarms["point"].isin(store.points_read(batch - 1, batch))]


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
    """What the checks find wrong on the vehicles of a batch's readings and fittings, without what was found
    before."""
    from models.checks.findings_frame import UNTOLD, WITHIN  # the models take half a second to import

    vehicles = _vehicles_of(store, batch)
    after = _checks(store, vehicles, batch)
    broken = after[~after["verdict"].isin([UNTOLD, WITHIN])]
    if broken.empty:
        return broken
    known = set(_marks(_checks(store, vehicles, batch - 1)))
    return broken[[mark not in known for mark in _marks(broken)]].reset_index(drop=True)


def _vehicles_of(store: Store, batch: int) -> set[str]:
    """Vehicles of which a batch has brought readings, and from or to which it has moved parts."""
    tables = store.read_all("wear_points", "fittings", version=batch)
    points, fittings = tables["wear_points"], tables["fittings"]
    read = set(points.loc[points["point"].isin(store.points_read(batch - 1, batch)), "vehicle"])
    moved = fittings.loc[fittings["batch"] == batch, "part_no"]
    return read | (set(fittings.loc[fittings["part_no"].isin(moved), "vehicle"]) - {""})


def _checks(store: Store, vehicles: set[str], version: int) -> pd.DataFrame:
    """Checks of some vehicles as the data were at a version, with the parts that were fitted then."""
    from dashboard.services.shop_checks import fitted_now, shop_findings

    points, fittings, facts = (store.read_all("wear_points", "fittings", "facts", version=version)).values()
    own = points[points["vehicle"].isin(vehicles)]
    parts = fittings.loc[fittings["vehicle"].isin(vehicles), "part_no"]
    if parts.empty:
        names = own["point"].tolist()
        read = {"readings": store.last_readings(names, version)}
    else:  # a part's last reading may be from where it was before
        around = set(fittings.loc[fittings["part_no"].isin(parts), "vehicle"]) | vehicles
        points = points[points["vehicle"].isin(around)]
        names = points["point"].tolist()
        read = store.read_of_points(names, "readings", version=version)
    work = store.read_of_points(names, "work", version=version)
    tables = {"wear_points": points, "facts": facts, **read, **work}
    if len(parts):
        tables = fitted_now(tables | store.read_all("mileage", "parts", "fittings", version=version))
    return shop_findings(tables | {"wear_points": own})


def _marks(findings: pd.DataFrame) -> list[tuple[str, ...]]:
    """What makes a finding the same as another: all that is said but the day and the words."""
    return list(findings[_SAME].astype(str).itertuples(index=False, name=None))
