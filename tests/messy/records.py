"""What was truly measured for one sheet, before anybody wrote it down or got anything wrong."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from messy.invented_railways import LAST_YEAR, MI_PER_KM, PER_UNIT, STORED_UNTIL, Railway

TIRE_KINDS = ("T", "H", "F", "D")
HANDS = ("R. Vane", "M. Sorley", "J. Ost")


@dataclass(frozen=True)
class Wanted:
    """What a sheet shall hold: kinds of wear points, engines, days."""

    kinds: tuple[str, ...]
    vehicles: tuple[str, ...]
    days: int
    wheels: int


def choose(rng: np.random.Generator, made: Railway, *, one_engine: bool, one_part: bool) -> Wanted:
    """A sheet of the size that people write: 12 to some 60 readings."""
    names = [engine.name for engine in made.engines]
    vehicles = (str(rng.choice(names)),) if one_engine else tuple(names)
    kinds = TIRE_KINDS if one_part else tuple(sorted(set(made.points["kind"])))
    n_kinds = int(rng.integers(1, 3)) if one_part else int(rng.integers(1, 4))
    chosen = tuple(str(kind) for kind in rng.choice(kinds, size=n_kinds, replace=False))
    if len({made.points.loc[made.points["kind"] == kind, "unit"].iloc[0] for kind in chosen}) > 1:
        chosen = chosen[:1]
    return Wanted(chosen, vehicles, int(rng.integers(4, 9)), int(rng.integers(2, 5)))


def true_readings(rng: np.random.Generator, made: Railway, wanted: Wanted) -> pd.DataFrame:
    """A row a reading, in the order in which a fitter goes round: day, engine, wheel, dimension.

    Columns: those of the wear point, date, miles, shown (what the odometer showed), distance (its unit), mm
    (as the gauge found it), own_unit, observer, gauge, note, keep ("in": must come in as written; "out": must
    not).
    """
    days = _days(rng, wanted.days)
    points = made.points[
        made.points["kind"].isin(wanted.kinds) & made.points["vehicle"].isin(wanted.vehicles)
    ]
    wheel = points.groupby(["vehicle", "kind"]).cumcount()
    points = (
        points[(wheel < wanted.wheels).to_numpy()].reset_index(drop=True).rename(columns={"unit": "own_unit"})
    )
    hands = [str(rng.choice(HANDS)) for _ in days]
    rows = points.loc[points.index.repeat(len(days))].assign(day=list(range(len(days))) * len(points))
    rows = rows.sort_values(["day"], kind="stable", ignore_index=True)
    rows["date"], rows["observer"] = [days[k] for k in rows["day"]], [hands[k] for k in rows["day"]]
    rows["miles"] = 0.0
    for vehicle in wanted.vehicles:
        own = rows["vehicle"] == vehicle
        rows.loc[own, "miles"] = made.odometer(vehicle, rows.loc[own, "date"])
    unit = rows["vehicle"].map({e.name: e.distance for e in made.engines})
    per = unit.map({"mi": 1.0, "km": MI_PER_KM})
    noise = rows["gauge_sd"] * rng.standard_normal(len(rows))
    rows["mm"] = rows["start"] + rows["rate"] * rows["miles"] / 1000 + noise
    rows["mm"] = rows["mm"].where(rows["kind"] != "H", rows["mm"].clip(lower=0.0))
    rows["distance"], rows["shown"] = unit, (rows["miles"] / per).round()
    rows["miles"] = rows["shown"] * per
    rows = rows.assign(gauge="", note="", keep="in", worth=np.nan, unit="")
    return rows.astype({"worth": "float64"})


def _days(rng: np.random.Generator, count: int) -> list:
    """Days of inspections, two or three in some years: in the season and in the winter."""
    first, last = pd.Timestamp(STORED_UNTIL + 1, 1, 10), pd.Timestamp(LAST_YEAR, 12, 20)
    days = np.sort(rng.choice((last - first).days // 40, size=count, replace=False)) * 40
    days = days + rng.integers(0, 30, size=count)
    return [(first + pd.Timedelta(days=int(day))).date() for day in days]


def again_from_new(rows: pd.DataFrame, point: str, since: object, rng: np.random.Generator) -> None:
    """The wear point was renewed just before a day: from then on it wears from new."""
    own = rows[(rows["point"] == point) & (rows["date"] >= since)].sort_values("date")
    run = (own["miles"] - own["miles"].iloc[0]) / 1000
    fresh = own["new"] + own["rate"] * (run + 0.05) + own["gauge_sd"] * 0.5 * rng.standard_normal(len(own))
    rows.loc[own.index, "mm"] = fresh.clip(lower=0.0)


def rounded_to(unit: str) -> float:
    """The last figure that people write of a unit. [mm]"""
    return {"in": 0.001, "mm": 0.01, "thou": 1.0}[unit] * PER_UNIT[unit]
