"""Invented railways whose truth is known: engines, wear points, a mileage log, and what was truly measured.

Nobody and nothing of them exists. What is drawn is drawn by a seed.
"""

from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

TODAY = date(2026, 6, 1)
INCH = 25.4
MI_PER_KM = 1 / 1.609344
FIRST_YEAR, STORED_UNTIL, LAST_YEAR = 2014, 2019, 2025
"""The log begins; earlier readings in the store end; the sheets' readings end."""

# component, quantity, new, limit, gauge's standard deviation, wear in 1,000 miles; all in mm (invented)
KINDS = {
    "T": ("driver tire", "thickness", 88.9, 44.45, 0.25, -0.42),
    "H": ("driver tire", "tread hollow", 0.0, 7.9375, 0.12, 0.11),
    "F": ("driver tire", "flange thickness", 31.75, 23.8125, 0.15, -0.09),
    "J": ("driving axle journal", "diameter", 228.6, 215.9, 0.05, -0.09),
    "P": ("crank pin", "diameter", 165.1, 158.75, 0.04, -0.045),
    "B": ("side rod bushing", "clearance", 0.4, 2.4, 0.03, 0.028),
    "D": ("driver tire", "diameter", 1320.8, 1231.9, 0.4, -0.84),
}
STARTS_WORN = 0.15
"""Share of the way from new to the limit that a life has run at the log's beginning, at most."""


@dataclass(frozen=True)
class Engine:
    """An engine: its unit of length for each kind of wear point, and that of its odometer."""

    name: str
    axles: int
    unit: str
    distance: str
    small_unit: str = ""

    def unit_of(self, kind: str) -> str:
        """Unit in which a wear point of a kind is kept."""
        return self.small_unit or self.unit if kind == "B" else self.unit


@dataclass(frozen=True)
class Railway:
    """A railway: its engines, whether the store holds earlier readings, and the tables that it holds."""

    name: str
    engines: tuple[Engine, ...]
    history: bool
    tables: dict[str, pd.DataFrame]
    points: pd.DataFrame
    log: pd.DataFrame

    def odometer(self, vehicle: str, days: pd.Series) -> np.ndarray:
        """Miles of an engine on days, as its log has them. [mi]"""
        log = self.log[self.log["vehicle"] == vehicle]
        at = pd.to_datetime(days).to_numpy(dtype="datetime64[D]").astype(float)
        return np.interp(at, log["date"].to_numpy(dtype="datetime64[D]").astype(float), log["miles"])

    def true_mm(self, point: str, miles: np.ndarray) -> np.ndarray:
        """Size of a wear point without renewal at miles of its engine. [mm]"""
        row = self.points.loc[point]
        return row["start"] + row["rate"] * miles / 1000


PER_UNIT = {"mm": 1.0, "in": INCH, "thou": INCH / 1000}
RAILWAYS = {
    "Larkmoor": ((Engine("Quern", 3, "in", "mi"),), True),
    "Moorbahn": ((Engine("Erle", 3, "mm", "km"),), True),
    "Coldharbour": ((Engine("Thrift", 2, "in", "mi", "thou"), Engine("Sorrel", 2, "in", "mi", "thou")), True),
    "Two Gauges": ((Engine("Heron", 2, "in", "mi"), Engine("Iltis", 2, "mm", "km")), False),
}


@cache
def railway(name: str) -> Railway:
    """One of ``RAILWAYS``; the same each time."""
    engines, history = RAILWAYS[name]
    rng = np.random.default_rng(sorted(RAILWAYS).index(name))
    log = pd.concat([_log(rng, engine) for engine in engines], ignore_index=True)
    points = pd.concat([_points(rng, engine) for engine in engines]).set_index("point", drop=False)
    made = Railway(name, engines, history, {}, points, log)
    made.tables.update(
        vehicles=pd.DataFrame(
            {"vehicle": [e.name for e in engines], "arrangement": [f"2-{2 * e.axles}-0" for e in engines]}
        ),
        wear_points=_public_points(made),
        mileage=_public_log(made),
    )
    if history:
        made.tables["readings"] = _earlier_readings(rng, made)
    return made


def write_tables(made: Railway, folder: Path) -> None:
    """The tables that the store holds before any sheet comes in."""
    for name, table in made.tables.items():
        table.to_csv(folder / f"{name}.csv", index=False)


def _log(rng: np.random.Generator, engine: Engine) -> pd.DataFrame:
    """Monthly entries; the engine runs from April to October."""
    days = pd.date_range(f"{FIRST_YEAR}-01-31", f"{LAST_YEAR + 1}-05-31", freq="ME")
    running = (days.month >= 4) & (days.month <= 10)
    run = np.where(running, rng.uniform(300, 700, len(days)), 0.0)
    return pd.DataFrame({"vehicle": engine.name, "date": days, "miles": (20_000 + run.cumsum()).round()})


def _points(rng: np.random.Generator, engine: Engine) -> pd.DataFrame:
    rows = []
    for kind, (component, quantity, new, limit, gauge_sd, rate) in KINDS.items():
        for axle in range(1, engine.axles + 1):
            for side in ("left", "right"):
                way = limit - new
                first = new + way * rng.uniform(0.02, STARTS_WORN)
                speed = rate * rng.uniform(0.75, 1.25)
                position = f"driver {axle} {side}"
                rows.append(
                    {
                        "point": f"{engine.name[0]}{kind}-{axle}{side[0].upper()}",
                        "vehicle": engine.name,
                        "kind": kind,
                        "component": component,
                        "position": position,
                        "quantity": quantity,
                        "unit": engine.unit_of(kind),
                        "new": new,
                        "limit": limit,
                        "gauge_sd": gauge_sd,
                        "start": first - speed * 20,
                        "rate": speed,
                    }
                )
    return pd.DataFrame(rows)


def _public_points(made: Railway) -> pd.DataFrame:
    table = made.points.reset_index(drop=True)
    per = table["unit"].map(PER_UNIT)
    return pd.DataFrame(
        {
            **{
                name: table[name]
                for name in ("point", "vehicle", "component", "position", "quantity", "unit")
            },
            "new_value": (table["new"] / per).round(6),
            "condemning_limit": (table["limit"] / per).round(6),
            "limit_source": "own rule",
            "gauge_sd": (table["gauge_sd"] / per).round(6),
        }
    )


def _public_log(made: Railway) -> pd.DataFrame:
    unit = made.log["vehicle"].map({e.name: e.distance for e in made.engines})
    shown = made.log["miles"] / unit.map({"mi": 1.0, "km": MI_PER_KM})
    return pd.DataFrame(
        {"vehicle": made.log["vehicle"], "date": made.log["date"], "odometer": shown.round(), "unit": unit}
    )


def _earlier_readings(rng: np.random.Generator, made: Railway) -> pd.DataFrame:
    """Two readings a year of every wear point, in its own unit."""
    days = [
        f"{year}-{month}" for year in range(FIRST_YEAR + 1, STORED_UNTIL + 1) for month in ("04-20", "11-14")
    ]
    parts = []
    for point, row in made.points.iterrows():
        value = made.true_mm(str(point), made.odometer(row["vehicle"], pd.Series(days)))
        value = value + row["gauge_sd"] * rng.standard_normal(len(days))
        per = PER_UNIT[row["unit"]]
        parts.append(
            pd.DataFrame({"point": point, "date": days, "value": (value / per).round(3 if per > 1 else 1)})
        )
    return pd.concat(parts, ignore_index=True).assign(observer="R. Vane")
