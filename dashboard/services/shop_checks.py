"""Shop knowledge applied to what the store holds: checks, boxes, condemned parts, inspections."""

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from dashboard.services.engine_facts import (
    Stated,
    catalogues,
    clocks_of,
    inspections_stated,
    stated_in,
    under_one_law,
)
from ingest import catalogue
from ingest.errors import NotPossible
from ingest.names.aliases import with_positions
from ingest.store import Store
from models.checks.condemned import COLUMNS as CONDEMNED_COLUMNS
from models.checks.condemned import condemned_points
from models.checks.cross_checks import check_all, latest_readings
from models.checks.crown import CrownAssumptions, boxes_after_truing
from models.checks.examined import as_findings, counted
from models.checks.findings_frame import COLUMNS, worst_first
from models.checks.fits import reassembly
from models.checks.pair_outlook import pair_outlook
from models.lives.follow import of_fitted
from models.rack.agree import WheelChecks
from models.running.ahead import UsageAhead, usage_ahead, usage_plan
from models.running.clocks import due_dates, soonest_first

Tables = Mapping[str, pd.DataFrame]
Floats = NDArray[np.float64]

YEARS_AHEAD = 30
"""How far usage is carried on for checks and for the lay-ups of the tires. [years]"""
HORIZON_MONTHS = (12, 24, 36, 60)
"""Months ahead for which the chance that wheels part is shown."""


def shop_findings(
    tables: Tables, stated: Stated | None = None, as_of: pd.Timestamp | None = None
) -> pd.DataFrame:
    """Checks across points of every vehicle, the worst first; within the limit is there too."""
    stated = stated_in(tables, stated)
    tables = fitted_now(tables, as_of)
    latest = _of_parts_in_place(latest_readings(tables["readings"], as_of), tables.get("work"), as_of)
    points = catalogue.classify(tables["wear_points"])
    parts = []
    for name, facts, vehicles in under_one_law(tables, stated):
        own_points = (
            points
            if len(vehicles) == points["vehicle"].nunique()
            else points[points["vehicle"].isin(vehicles)]
        )
        limits = catalogue.difference_limits(name, facts, stated.own)
        law, other = (
            catalogue.law_limits_of(own_points, name, facts, other_bound=side) if name else None
            for side in (False, True)
        )
        family = catalogue.family_of(name)
        checked = check_all(
            own_points, latest, limits, law, other, families=catalogue.families(), governs=family
        )
        parts.append(checked)
    kept = [part for part in parts if not part.empty]
    if not kept:
        return pd.DataFrame(columns=COLUMNS)
    return worst_first(pd.concat(kept, ignore_index=True))


def wheel_checks(tables: Tables, stated: Stated | None = None) -> WheelChecks:
    """What the wheels of a spare are held against, at any place of any vehicle."""
    stated = stated_in(tables, stated)
    tables = fitted_now(tables)
    return WheelChecks(
        points=catalogue.classify(tables["wear_points"]),
        latest=_of_parts_in_place(latest_readings(tables["readings"]), tables.get("work"), None),
        limits={
            vehicle: catalogue.difference_limits(name, facts, stated.own)
            for name, facts, vehicles in under_one_law(tables, stated)
            for vehicle in vehicles
        },
    )


def reassembly_findings(tables: Tables, stated: Stated | None = None) -> pd.DataFrame:
    """Fits at reassembly by the last readings, the worst first; for an engine that lies open.

    Practice stands where neither the governing rules nor the railway itself have a figure.
    """
    stated = stated_in(tables, stated)
    tables = fitted_now(tables)
    latest = _of_parts_in_place(latest_readings(tables["readings"]), tables.get("work"), None)
    values = catalogue.classify(tables["wear_points"]).merge(latest, on="point")
    parts = [
        reassembly(
            values[values["vehicle"].isin(vehicles)],
            catalogue.reassembly_fits(catalogue.difference_limits(name, facts, stated.own)),
        )
        for name, facts, vehicles in under_one_law(tables, stated)
    ]
    kept = [part for part in parts if not part.empty]
    return worst_first(pd.concat(kept, ignore_index=True)) if kept else pd.DataFrame(columns=COLUMNS)


def fitted_now(tables: Tables, as_of: pd.Timestamp | None = None) -> dict[str, pd.DataFrame]:
    """The tables with the readings of the parts that are fitted now, where fittings say which these are."""
    known = "fittings" in tables and "mileage" in tables and "work" in tables
    return of_fitted(dict(tables), as_of) if known else dict(tables)


def _of_parts_in_place(
    latest: pd.DataFrame, work: pd.DataFrame | None, as_of: pd.Timestamp | None
) -> pd.DataFrame:
    """Last readings without those of parts that were renewed after them: they say nothing of the new part."""
    if work is None or work.empty:
        return latest
    renewals = work[work["action"] == "renewed"]
    renewals = renewals if as_of is None else renewals[renewals["date"] <= as_of]
    renewed = renewals.groupby("point")["date"].max().reindex(latest["point"])
    return latest[~(renewed.to_numpy() > latest["date"].to_numpy())].reset_index(drop=True)


def of_vehicle(tables: Tables, vehicle: str) -> dict[str, pd.DataFrame]:
    """What the tables hold of one vehicle; rows that name none are for all, tables of points stay whole.

    Parts that came from another vehicle must have been followed before (:func:`fitted_now`).
    """
    return {
        name: frame[frame["vehicle"].isin([vehicle, ""])] if "vehicle" in frame else frame
        for name, frame in tables.items()
    }


def of_one_vehicle(points: pd.DataFrame, vehicle: str) -> pd.DataFrame:
    """Rows of one vehicle of a table or forecast of wear points.

    Raises
    ------
    NotPossible : it has none.
    """
    rows = points[points["vehicle"] == vehicle]
    if rows.empty:
        known = ", ".join(sorted(points["vehicle"].astype(str).unique())[:20])
        raise NotPossible(f"No wear point belongs to the vehicle {vehicle!r}. In the store: {known}.")
    return rows


def boxes(tables: Tables, own: pd.DataFrame | None = None, as_of: pd.Timestamp | None = None) -> pd.DataFrame:
    """What every driving box would need if its journal were trued today."""
    tables = fitted_now(tables, as_of)
    latest = latest_readings(tables["readings"], as_of)
    values = catalogue.classify(tables["wear_points"]).merge(latest, on="point")
    return boxes_after_truing(values, CrownAssumptions.of(catalogue.assumptions("crown", own=own)))


def condemned(tables: Tables, stated: Stated | None = None) -> pd.DataFrame:
    """Wear points that a finding has put out and nobody has renewed since, by the rules of each vehicle."""
    points, findings = tables["wear_points"], tables["findings"]
    if "defects" in tables and len(tables["defects"]):
        located = as_findings(tables["defects"], catalogue.nothing_found())
        findings = pd.concat([findings[list(located)], located], ignore_index=True)
    if not (findings["defective"] > 0).any():
        return pd.DataFrame(columns=CONDEMNED_COLUMNS)
    if "position_aliases" in tables:
        findings = with_positions(findings, tables["position_aliases"], points)
    points, chosen = catalogue.classify(points), catalogues(tables, stated)
    limit_set = {vehicle: law.limit_set for vehicle, law in chosen.items()}
    parts = [
        condemned_points(
            points[points["vehicle"].map(limit_set) == name],
            findings,
            tables["work"],
            catalogue.defects(name),
            catalogue.named,
            catalogue.beside_names(),
            catalogue.puts_out(),
        )
        for name in dict.fromkeys(limit_set.values())
    ]
    kept = [part for part in parts if not part.empty] or parts[:1]
    return pd.concat(kept, ignore_index=True) if kept else pd.DataFrame(columns=CONDEMNED_COLUMNS)


def inspections_done(findings: pd.DataFrame) -> pd.DataFrame:
    """Inspections recorded as findings: the component is the clock's name or title."""
    return findings.assign(clock=_clock_of(findings)).dropna(subset=["clock"])[["vehicle", "clock", "date"]]


def tear_downs(tables: Tables) -> pd.DataFrame:
    """What tear-downs found, counted: findings and located defects of openings, no part twice.

    Findings that record an inspection say nothing of hidden damage and are left out.
    """
    findings = tables["findings"]
    findings = findings[_clock_of(findings).isna()]
    if "defects" not in tables:
        return findings
    return counted(findings, tables["defects"], tables["openings"], catalogue.nothing_found())


def _clock_of(findings: pd.DataFrame) -> pd.Series:
    """The clock that each finding records, missing where it is about a part."""
    clocks = catalogue.clocks()
    by_word = {
        str(row[name]).lower(): row["clock"]
        for row in clocks.to_dict("records")
        for name in ("clock", "title")
    }
    return findings["component"].astype(str).str.strip().str.lower().map(by_word)


def inspections_due(
    tables: Tables, as_of: pd.Series, done: pd.DataFrame | None = None, stated: Stated | None = None
) -> pd.DataFrame:
    """When every inspection of the vehicles of ``as_of`` falls due, by the catalogue that governs each.

    ``done`` adds to what findings and facts record. A vehicle without a catalogue, or whose catalogue holds
    no intervals, has no row: :func:`without_inspections` names it.
    """
    on_record = [inspections_done(tables["findings"]), inspections_stated(tables)]
    every = pd.concat([*on_record, *([] if done is None else [done])])
    chosen = catalogues(tables, stated)
    ahead = ahead_of(tables, as_of)
    sets = pd.Series([chosen[str(name)].limit_set for name in as_of.index], index=as_of.index, dtype=object)
    parts: list[pd.DataFrame] = []
    for limit_set in dict.fromkeys(sets):
        clocks = clocks_of(limit_set)
        if not clocks.empty or not parts:
            parts.append(due_dates(clocks, every, tables["mileage"], ahead, as_of[sets == limit_set]))
    return soonest_first(pd.concat([part for part in parts if not part.empty] or parts[:1]))


def without_inspections(tables: Tables, as_of: pd.Series, stated: Stated | None = None) -> dict[str, str]:
    """Vehicles for which the catalogue holds no inspections, and why."""
    chosen = catalogues(tables, stated)
    return {
        name: chosen[name].text for name in map(str, as_of.index) if clocks_of(chosen[name].limit_set).empty
    }


def as_of_dates(tables: Tables, vehicles: list[str] | None = None) -> pd.Series:
    """Last day of each vehicle's mileage log, indexed by vehicle."""
    last = tables["mileage"].groupby("vehicle")["date"].max()
    return last if vehicles is None else last.reindex(vehicles).dropna()


def wheels_ahead(tables: Tables, store: Store, run: str, stated: Stated | None = None) -> pd.DataFrame:
    """Chance that wheels that must agree differ too much before each horizon, from a forecast run."""
    stated = stated_in(tables, stated)
    chosen = catalogues(tables, stated)
    state = store.read_run(run, "state")
    as_of = as_of_dates(tables)
    ahead = ahead_of(tables, as_of)
    parts = []
    for vehicle, points in tables["wear_points"].groupby("vehicle"):
        row = int(ahead.rows(np.array([vehicle], dtype=object))[0])
        if row < 0:
            continue
        limits = catalogue.difference_limits(chosen[str(vehicle)].limit_set, stated.of(vehicle), stated.own)
        months = np.array(HORIZON_MONTHS)
        dates = [as_of[vehicle] + pd.DateOffset(months=int(m)) for m in months]
        horizons = pd.DataFrame(
            {
                "vehicle": vehicle,
                "label": [f"{d:%Y-%m}" for d in dates],
                "miles": miles_at(ahead, row, dates),
            }
        )
        parts.append(pair_outlook(catalogue.classify(points), state, limits, horizons.dropna()))
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()


def ahead_of(tables: Tables, as_of: pd.Series) -> UsageAhead:
    """Usage ahead of the vehicles of ``as_of``, for ``YEARS_AHEAD``."""
    return usage_ahead(usage_plan(tables["usage"], tables["mileage"], as_of, 12 * YEARS_AHEAD), as_of)


def miles_at(ahead: UsageAhead, row: int, dates: list[pd.Timestamp]) -> Floats:
    """Miles run by each date by one vehicle of the usage ahead. [mi]"""
    days = np.array([(date - pd.Timestamp(0)).days for date in dates], float)
    miles: Floats = np.interp(days, ahead.edge_day[row], ahead.miles[row])
    return miles
