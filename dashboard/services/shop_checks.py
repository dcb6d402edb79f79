"""Shop knowledge applied to what the store holds: checks, boxes, condemned parts, inspections."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest import catalogue
from ingest.catalogue.conditions import Fact
from ingest.errors import NotPossible
from ingest.names.aliases import with_positions
from ingest.store import Store
from models.checks.condemned import condemned_points
from models.checks.cross_checks import check_all, latest_readings
from models.checks.crown import CrownAssumptions, boxes_after_truing
from models.checks.findings_frame import COLUMNS
from models.checks.pair_outlook import pair_outlook
from models.running.ahead import UsageAhead, usage_ahead, usage_plan
from models.running.clocks import due_dates

Tables = Mapping[str, pd.DataFrame]
Floats = NDArray[np.float64]

YEARS_AHEAD = 30
"""How far usage is carried on for checks and for the lay-ups of the tires. [years]"""
HORIZON_MONTHS = (12, 24, 36, 60)
"""Months ahead for which the chance that wheels part is shown."""


@dataclass(frozen=True)
class Stated:
    """What people state beside the tables: facts that limits depend on, and the railway's own figures.

    ``facts`` hold for all vehicles; ``by_vehicle`` comes before them.
    """

    facts: Mapping[str, Fact] = field(default_factory=dict)
    by_vehicle: Mapping[str, Mapping[str, Fact]] = field(default_factory=dict)
    own: pd.DataFrame | None = None

    def of(self, vehicle: object) -> dict[str, Fact]:
        """Facts of one vehicle; standard gage where none is stated."""
        return {"gauge": "standard", **self.facts, **self.by_vehicle.get(str(vehicle), {})}


def limit_set_of(limit_sources: pd.Series) -> str:
    """Limit set that most limits of a vehicle cite; empty where none cites one."""
    times = Counter(limit_sources.dropna())
    cited: Counter[str] = Counter()
    for source, count in times.items():
        cited[catalogue.set_of_source(str(source))] += count
    del cited[""]
    return max(sorted(cited), key=lambda name: cited[name], default="")


def shop_findings(
    tables: Tables, stated: Stated | None = None, as_of: pd.Timestamp | None = None
) -> pd.DataFrame:
    """Checks across points of every vehicle, the worst first; within the limit is there too."""
    stated = stated or Stated()
    latest = latest_readings(tables["readings"], as_of)
    points = catalogue.classify(tables["wear_points"])
    parts = []
    for name, facts, vehicles in _under_one_law(points, stated):
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
        parts.append(check_all(own_points, latest, limits, law, other))
    kept = [part for part in parts if not part.empty]
    if not kept:
        return pd.DataFrame(columns=COLUMNS)
    return pd.concat(kept).sort_values("vehicle", kind="stable", ignore_index=True)


def _under_one_law(points: pd.DataFrame, stated: Stated) -> Iterator[tuple[str, dict[str, Fact], list[str]]]:
    """Vehicles that share a limit set and the facts on which limits hang: they are checked in one go."""
    groups: dict[tuple[str, tuple[tuple[str, Fact], ...]], list[str]] = {}
    for vehicle, sources in points.groupby("vehicle")["limit_source"]:
        facts = tuple(sorted(stated.of(vehicle).items()))
        groups.setdefault((limit_set_of(sources), facts), []).append(str(vehicle))
    for (name, facts), vehicles in groups.items():
        yield name, dict(facts), vehicles


def of_vehicle(tables: Tables, vehicle: str) -> dict[str, pd.DataFrame]:
    """What the tables hold of one vehicle; rows that name none are for all, tables of points stay whole."""
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
    latest = latest_readings(tables["readings"], as_of)
    values = catalogue.classify(tables["wear_points"]).merge(latest, on="point")
    return boxes_after_truing(values, CrownAssumptions.of(catalogue.assumptions("crown", own=own)))


def condemned(tables: Tables) -> pd.DataFrame:
    """Wear points whose part a finding has condemned and nobody has renewed since."""
    points, findings = tables["wear_points"], tables["findings"]
    if "position_aliases" in tables:
        findings = with_positions(findings, tables["position_aliases"], points)
    return condemned_points(
        catalogue.classify(points),
        findings,
        tables["work"],
        catalogue.defects(),
        catalogue.named,
        catalogue.beside_names(),
        catalogue.puts_out(),
    )


def inspections_done(findings: pd.DataFrame) -> pd.DataFrame:
    """Inspections recorded as findings: the component is the clock's name or title."""
    return findings.assign(clock=_clock_of(findings)).dropna(subset=["clock"])[["vehicle", "clock", "date"]]


def tear_downs(findings: pd.DataFrame) -> pd.DataFrame:
    """Findings about parts: those that record an inspection say nothing of hidden damage."""
    return findings[_clock_of(findings).isna()]


def _clock_of(findings: pd.DataFrame) -> pd.Series:
    """The clock that each finding records, missing where it is about a part."""
    clocks = catalogue.clocks()
    by_word = {
        str(row[name]).lower(): row["clock"]
        for row in clocks.to_dict("records")
        for name in ("clock", "title")
    }
    return findings["component"].astype(str).str.strip().str.lower().map(by_word)


def inspections_due(tables: Tables, as_of: pd.Series, done: pd.DataFrame | None = None) -> pd.DataFrame:
    """When every inspection of the vehicles of ``as_of`` falls due; ``done`` adds to what findings record."""
    on_record = [inspections_done(tables["findings"]), *([] if done is None else [done])]
    ahead = ahead_of(tables, as_of)
    return due_dates(catalogue.clocks(), pd.concat(on_record), tables["mileage"], ahead, as_of)


def as_of_dates(tables: Tables, vehicles: list[str] | None = None) -> pd.Series:
    """Last day of each vehicle's mileage log, indexed by vehicle."""
    last = tables["mileage"].groupby("vehicle")["date"].max()
    return last if vehicles is None else last.reindex(vehicles).dropna()


def wheels_ahead(tables: Tables, store: Store, run: str, stated: Stated | None = None) -> pd.DataFrame:
    """Chance that wheels that must agree differ too much before each horizon, from a forecast run."""
    stated = stated or Stated()
    state = store.read_run(run, "state")
    as_of = as_of_dates(tables)
    ahead = ahead_of(tables, as_of)
    parts = []
    for vehicle, points in tables["wear_points"].groupby("vehicle"):
        row = int(ahead.rows(np.array([vehicle], dtype=object))[0])
        if row < 0:
            continue
        limits = catalogue.difference_limits(
            limit_set_of(points["limit_source"]), stated.of(vehicle), stated.own
        )
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
