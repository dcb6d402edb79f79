"""Worlds of wear with known truth that share no code with the other simulators: long records of many lives,
one life alone, a part that wears faster and faster among straight sisters, renewals without readings.

Each world is a list of places; a place has its parts one after the other, and of the one in service how many
miles it truly has left. :func:`tables_of` writes the places down as a railway would.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

FIRST_DAY = pd.Timestamp("1990-01-01")
MILES_A_DAY = 20.0
FINE = 400
"""Steps to a mean life in which wear is followed."""


@dataclass
class Place:
    """What happened at one place, in miles from the first day.

    Attributes
    ----------
    readings : miles and wear of each reading. [mi], [mm]
    renewals : miles at which a new part went in, and why the old one came off.
    now : miles of the last day.
    left : miles that the part in service truly has left; negative where it is beyond its limit.
    """

    readings: list[tuple[float, float]] = field(default_factory=list)
    renewals: list[tuple[float, str]] = field(default_factory=list)
    now: float = 0.0
    left: float = np.nan


@dataclass(frozen=True)
class Law:
    """How the parts of a family wear: mean life [mi], limit [mm], standard deviation of the rates' logarithm,
    Brownian part at the end of a life and gauge as shares of the limit, power of the distance."""

    life: float = 40_000.0
    limit: float = 2.0
    spread: float = 0.3
    brownian: float = 0.06
    gauge: float = 0.015
    power: float = 1.0

    def path(self, rng: np.random.Generator, lives: int = 12) -> tuple[np.ndarray, float]:
        """Wear of one part at each fine step, as a share of the limit, and the step of its first crossing."""
        rate = np.exp(self.spread * rng.standard_normal())
        u = np.arange(1, FINE * lives + 1) / FINE
        walk = np.cumsum(rng.standard_normal(len(u))) * self.brownian / np.sqrt(FINE)
        wear = rate * u**self.power + walk
        over = wear >= 1.0
        return wear, float(over.argmax() + 1) if over.any() else np.inf

    def lifetimes(self, rng: np.random.Generator, count: int) -> np.ndarray:
        """Lives from new to the limit of many parts. [mi]"""
        crossings = np.array([self.path(rng)[1] for _ in range(count)])
        return crossings * self.life / FINE


def place_of(
    rng: np.random.Generator,
    law: Law,
    record: float,
    *,
    every: float = 0.12,
    renewed: str = "worn",
    early: float = 0.0,
    why: str = "",
) -> Place:
    """One place over a record of so many mean lives.

    Parameters
    ----------
    every : mean lives between readings, about; inf: none.
    renewed : "worn": at the very limit; "found": at the first reading at or beyond it.
    early : chance that a part comes off early, at an even chance anywhere in its life.
    """
    end, place, began = int(record * FINE), Place(), 0
    while True:
        wear, crossing = law.path(rng)
        gaps = (
            every * FINE * rng.uniform(0.6, 1.4, 2 + int(12 / every))
            if np.isfinite(every)
            else np.array([1e9])
        )
        at = np.cumsum(gaps).astype(int)
        at = at[at < len(wear)]
        seen = wear[at - 1] + law.gauge * rng.standard_normal(len(at))
        over = seen >= 1.0
        off = at[over.argmax()] if renewed == "found" and over.any() else crossing
        was = why
        if rng.random() < early:
            off, was = off * rng.uniform(), "accident" if why else ""
        off = np.floor(max(off, 1.0)) if np.isfinite(off) else np.inf
        keep = at < off if renewed == "worn" else at <= off
        keep &= began + at <= end
        place.readings += [
            ((began + a) * law.life / FINE, w * law.limit) for a, w in zip(at[keep], seen[keep], strict=True)
        ]
        if began + off >= end:
            place.now = end * law.life / FINE
            place.left = (began + crossing - end) * law.life / FINE
            return place
        began += int(off)
        place.renewals.append((began * law.life / FINE, was))


def tables_of(
    places: list[Place], law: Law, *, gauge_sd: float = np.nan, vehicle: str = "V"
) -> dict[str, pd.DataFrame]:
    """The places as tables in normalised form (``ingest.schema``), one wear point a place."""

    def day(miles: float) -> pd.Timestamp:
        return FIRST_DAY + pd.Timedelta(days=int(miles / MILES_A_DAY))

    names = [f"{vehicle}-{i:03d}" for i in range(len(places))]
    now = max(place.now for place in places)
    readings = [(n, day(m), w, m) for n, p in zip(names, places, strict=True) for m, w in p.readings]
    work = [(n, day(m), why) for n, p in zip(names, places, strict=True) for m, why in p.renewals]
    miles = np.append(np.arange(0.0, now, 600.0), now)
    return {
        "vehicles": pd.DataFrame({"vehicle": [vehicle], "class": ["K"], "arrangement": ["2-8-0"]}),
        "wear_points": pd.DataFrame(
            {
                "point": names,
                "vehicle": vehicle,
                "component": "rod bushing",
                "position": "",
                "quantity": "clearance",
                "unit": "mm",
                "new_value": 0.0,
                "shop_limit": np.nan,
                "condemning_limit": law.limit,
                "gauge_sd": gauge_sd,
                "base_unit": "mm",
                "per_base": 1.0,
            }
        ),
        "mileage": pd.DataFrame({"vehicle": vehicle, "date": [day(m) for m in miles], "odometer": miles}),
        "readings": pd.DataFrame(readings, columns=["point", "date", "value", "odometer"]).assign(
            odometer_sd=0.0
        ),
        "work": pd.DataFrame(work, columns=["point", "date", "why"]).assign(
            action="renewed", value_before=np.nan, value_after=np.nan
        ),
        "usage": pd.DataFrame({"vehicle": [], "month": [], "miles_planned": [], "miles_sd": []}),
    }


def bending_among_straight(
    rng: np.random.Generator, sisters: int = 7, readings: int = 18
) -> tuple[list[Place], Law]:
    """A part that wears as ``0.2 + 1.8 (km/62,000)^2.4`` mm of 2.0 among straight sisters; it comes first.

    All have as many readings, over the same miles. The part's own rate differs by some 10 % from time to
    time, as that of its sisters by 25 %.
    """
    law = Law(life=45_000.0, limit=2.0, spread=0.25, gauge=0.012)
    mile = 1.609344
    until = rng.uniform(0.72, 0.9) * 62_000 / mile
    at = np.sort(rng.uniform(0.02, 1.0, readings)) * until
    at[-1] = until
    scale = np.exp(0.1 * rng.standard_normal())

    def bent(m: np.ndarray) -> np.ndarray:
        return 0.2 + 1.8 * (np.asarray(m) * scale * mile / 62_000) ** 2.4

    first = Place(now=until, left=62_000 / mile / scale - until)
    noise = law.gauge * law.limit
    first.readings = list(zip(at, bent(at) + noise * rng.standard_normal(readings), strict=True))
    places = [first]
    while len(places) <= sisters:
        wear, crossing = law.path(rng)
        own = np.sort(rng.uniform(0.02, 1.0, readings)) * until
        step = np.maximum((own / law.life * FINE).astype(int), 1)
        if crossing <= step[-1]:
            continue  # sisters in service all along: their first parts
        value = (0.1 + 0.9 * wear[step - 1]) * law.limit + noise * rng.standard_normal(readings)
        over = np.flatnonzero(0.1 + 0.9 * wear >= 1.0)
        left = (over[0] + 1 if len(over) else np.inf) * law.life / FINE - until
        places.append(Place(list(zip(own, value, strict=True)), [], until, float(left)))
    return places, law
