"""The record of one engine as it happened: lives, measurements, renewals, cuts, and the truth."""

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from data_demo.draws import Floats, normal, uniform
from data_demo.traffic import FIRST_DAY, LAST_DAY, Running
from data_demo.wear_law import ACCELERATION, FIT_SPREAD, WearLaw, remaining

WILD = 0.006  # share of readings that are misread by far: a wrong scale, a wrong line of the sheet
THICKNESS = ("TIRE", "RIM")


@dataclass
class Life:
    """The life in service at one wear point: where it began, its hidden level and rate, its cuts."""

    start: int
    z0: float
    rate: float
    known_start: bool
    cuts: list[tuple[int, float]] = field(default_factory=list)


class Service:
    """One engine in service.

    Attributes
    ----------
    readings : (place of the point in `rows`, day) → value measured. [unit of the point]
    work : point, day, action, value before (NaN: none), value after, note.
    seen : wear as last measured, share of the wear at the limit, shape (points,). [1]
    """

    def __init__(self, points: pd.DataFrame, running: Running) -> None:
        self.law = WearLaw(points, running)
        self.running = running
        self.rows = self.law.rows
        self.readings: dict[tuple[int, date], float] = {}
        self.work: list[tuple[str, date, str, float, float, str]] = []
        self.lives = [self._first_life(i) for i in range(len(self.rows))]
        self.seen: Floats = np.zeros(len(self.rows))

    def wear(self, i: int, day: int) -> float:
        """Return the true wear of point i on the evening of a day. [unit of the point]"""
        return float(self._wear_path(i, np.array([day]))[0])

    def _wear_path(self, i: int, days: NDArray[np.int64]) -> Floats:
        life, law, odometer = self.lives[i], self.law, self.running.odometer
        miles = odometer[days] - odometer[life.start]
        z = life.z0 + life.rate * miles + law.tau[i] * (law.path[i, days] - law.path[i, life.start])
        for day, step in life.cuts:
            z = z + np.where(days >= day, step, 0.0)
        return law.bend(z, miles, i)

    def value(self, i: int, wear: float) -> float:
        """Return the quantity that belongs to a wear. [unit of the point]"""
        return float(self.law.new[i] + self.law.sign[i] * wear)

    def measure(self, i: int, day: date, *, careful: bool = False) -> float:
        """Measure point i, with the error of the gauge and the hand. [unit of the point]"""
        row = self.rows[i]
        name = (row["point"], day, careful)
        error = float(row["sd"]) * normal(*name, "gauge") * (0.5 if careful else 1.0)
        if not careful and uniform(*name, "wild") < WILD:
            error *= 8.0
        return max(self.value(i, self.wear(i, self.running.index(day))) + error, 0.0)

    def read(self, i: int, day: date) -> None:
        """Measure point i and write it down."""
        value = self.measure(i, day)
        self.readings[i, day] = value
        self.seen[i] = self.law.sign[i] * (value - self.law.new[i]) / self.law.scale[i]

    def renew(self, i: int, day: date, note: str, *, after: float | None = None) -> None:
        """Renew point i: a new life begins. ``after`` is the value that the shop set, else a new part's."""
        before = self.measure(i, day, careful=True)
        z0 = self._fit(i) * normal(self.rows[i]["point"], day, "fit")
        if after is not None:
            z0 = float(self.law.sign[i] * (after - self.law.new[i]))
        self.lives[i] = self._begin(i, day, z0)
        self.seen[i] = z0 / self.law.scale[i]
        fitted = self.value(i, z0) if after is not None else self.measure(i, day, careful=True)
        self.work.append((self.rows[i]["point"], day, "renewed", before, fitted, note))
        if uniform(self.rows[i]["point"], day, "as fitted") < 0.4 and day + timedelta(3) <= LAST_DAY:
            self.read(i, day + timedelta(1))

    def cut(self, i: int, day: date, depth: float, note: str) -> None:
        """Take metal off point i: its wear steps by the depth, its life goes on."""
        before = self.measure(i, day, careful=True)
        self.lives[i].cuts.append((self.running.index(day), depth))
        self.seen[i] += depth / self.law.scale[i]
        after = self.measure(i, day, careful=True)
        self.work.append((self.rows[i]["point"], day, "cut", before, after, note))

    def _fit(self, i: int) -> float:
        """Return the scatter of a new part; tires of a set are turned to one size. [unit of the point]"""
        spread = 0.003 if self.rows[i]["code"] in THICKNESS else FIT_SPREAD
        return spread * float(self.law.scale[i])

    def _begin(self, i: int, day: date, z0: float, *, known: bool = True) -> Life:
        rate = self.law.life_rate(i, (self.rows[i]["matched"], day))
        return Life(self.running.index(day), z0, rate, known)

    def _first_life(self, i: int) -> Life:
        """Begin with the restoration of 2005: most parts new; axles, pins and tires part worn."""
        row = self.rows[i]
        worn, point = float(row["worn"]), str(row["point"])
        if worn > 0:
            alike = (row["vehicle"], row["matched"] or row["axle"], row["component"])  # one diameter in a set
            share = max(worn * (1 + 0.35 * normal(*alike, "worn")), 0.02)
            return self._begin(i, FIRST_DAY, share * float(self.law.scale[i]), known=False)
        day = FIRST_DAY + timedelta(days=4 + int(20 * uniform(row["vehicle"], row["component"], "restored")))
        z0 = self._fit(i) * normal(point, day, "fit")
        self.work.append((point, day, "renewed", np.nan, self.value(i, z0), "restoration"))
        return self._begin(i, day, z0)

    def truth(self) -> pd.DataFrame:
        """Return where the life in service truly reaches its limit, one row a wear point.

        Columns: point, life_began (empty: before the record), value_now and rate_per_1000_mi in the point's
        unit, limit_odometer and remaining_miles from the last day [mi]; negative where the limit is passed,
        empty where nobody has set one.
        """
        return pd.DataFrame([self._truth_of(i) for i in range(len(self.rows))])

    def _truth_of(self, i: int) -> dict[str, object]:
        life, odometer = self.lives[i], self.running.odometer
        days = np.arange(life.start, len(odometer))
        wear = self._wear_path(i, days)
        reached = np.flatnonzero(wear >= self.law.scale[i])
        if len(reached):
            miles = float(odometer[days[reached[0]]] - odometer[-1])
        else:
            gap = self._gap(i, float(wear[-1]), float(odometer[-1] - odometer[life.start]))
            miles = remaining(life.rate, float(self.law.tau[i]), gap, self.rows[i]["point"])
        known = bool(np.isfinite(float(self.rows[i]["limit"])))
        return {
            "point": self.rows[i]["point"],
            "life_began": self.running.days[life.start] if life.known_start else None,
            "value_now": round(self.value(i, float(wear[-1])), 5),
            "rate_per_1000_mi": round(1000 * life.rate, 6),
            "limit_odometer": round(float(odometer[-1]) + miles) if known else None,
            "remaining_miles": round(miles) if known else None,
        }

    def _gap(self, i: int, wear: float, miles: float) -> float:
        """Return the way to the limit on the straight scale; by then the part has run in. [unit]"""
        law = self.law
        if law.accelerating[i]:
            return float(law.scale[i] * (1 - (max(wear, 0.0) / law.scale[i]) ** (1 / ACCELERATION)))
        z = wear - float(law.bend(np.array(0.0), np.array(miles), i))
        return max(float(law.scale[i] - law.run_in[i]) - z, 1e-9)
