"""Running of the two engines: 22 seasons, day by day, and the mileage log that the clerk kept of them."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from data_demo.draws import pick, stream, uniform

FIRST_DAY = date(2005, 4, 1)
LAST_DAY = date(2026, 10, 31)
"""The record of every table stops on this day."""
SEASONS = range(2005, 2027)


@dataclass(frozen=True)
class Engine:
    """One locomotive of the demo railway; its tender runs with it and shares its log.

    Attributes
    ----------
    trip : length of a round trip. [mi]
    second_trip : chance that a day in steam has two round trips. [1]
    odometer : miles on the first day. [mi]
    overhauls : winters (year of their autumn) in which the wheels come out.
    idle : days without running, first and last day.
    """

    vehicle: str
    code: str
    name: str
    arrangement: str
    klass: str
    trip: float
    second_trip: float
    odometer: float
    overhauls: tuple[int, ...]
    idle: tuple[tuple[date, date], ...]


ENGINES = (
    Engine(
        "Quillon",
        "Q",
        "Quillon, main line engine with six-axle tender",
        "4-8-2",
        "mountain",
        62.0,
        0.25,
        412_306.0,
        (2012, 2019),
        ((date(2013, 4, 1), date(2013, 6, 20)), (date(2020, 1, 1), date(2020, 7, 17))),
    ),
    Engine(
        "Hobnail",
        "H",
        "Hobnail, branch engine with four-axle tender",
        "2-8-0",
        "consolidation",
        36.0,
        0.50,
        655_120.0,
        (2009, 2017),
        ((date(2018, 4, 1), date(2018, 7, 6)), (date(2020, 1, 1), date(2020, 7, 3))),
    ),
)


@dataclass(frozen=True)
class Running:
    """Days from FIRST_DAY to LAST_DAY: odometer at the evening of each [mi] and whether the engine ran."""

    engine: Engine
    days: list[date]
    odometer: NDArray[np.float64]
    steamed: NDArray[np.bool_]

    def index(self, day: date) -> int:
        """Return the place of a day in the arrays."""
        return (day - FIRST_DAY).days

    def at(self, day: date) -> float:
        """Return the odometer at the evening of a day. [mi]"""
        return float(self.odometer[self.index(day)])


def _chance_of_running(day: date) -> float:
    """Chance that an engine is in steam on a day. [1]"""
    weekend = day.weekday() >= 5
    if 5 <= day.month <= 10:
        midweek = day.month in (7, 8) and day.weekday() in (2, 4)
        return 0.92 if weekend else 0.8 if midweek else 0.06
    winter_event = (day.month == 12 and day.day <= 23) or (day.month == 2 and 8 <= day.day <= 21)
    return 0.55 if weekend and winter_event else 0.0


def run(engine: Engine) -> Running:
    """Run one engine through all seasons."""
    days = [FIRST_DAY + timedelta(i) for i in range((LAST_DAY - FIRST_DAY).days + 1)]
    draws = stream("running", engine.vehicle).random_sample((len(days), 3))
    idle = np.array([any(a <= d <= b for a, b in engine.idle) for d in days])
    steamed = (draws[:, 0] < [_chance_of_running(d) for d in days]) & ~idle
    trips = 1 + (draws[:, 1] < engine.second_trip)
    shunting = np.round(6 * draws[:, 2], 1)
    return Running(
        engine,
        days,
        engine.odometer + np.cumsum(np.where(steamed, trips * engine.trip + shunting, 0.0)),
        steamed,
    )


def mileage_log(running: Running) -> pd.DataFrame:
    """Return the clerk's log: one row a week with running, odometer in miles to the nearest mile."""
    rows = []
    since = 0
    for i, day in enumerate(running.days):
        since += int(running.steamed[i])
        late = uniform("log", running.engine.vehicle, day) < 0.08  # a week that was entered with the next
        if (day.weekday() == 6 and since and not late) or day in (FIRST_DAY, LAST_DAY):
            rows.append((running.engine.vehicle, day, float(running.odometer[i]), since))
            since = 0
    return pd.DataFrame(rows, columns=["vehicle", "date", "odometer", "service_days"])


def planned_usage() -> pd.DataFrame:
    """Return the plan from the month after LAST_DAY to the end of 2029, with its standard deviation."""
    rows = []
    for engine in ENGINES:
        for month in pd.period_range("2026-11", "2029-12", freq="M"):
            days = [month.start_time.date() + timedelta(i) for i in range(month.days_in_month)]
            miles = sum(map(_chance_of_running, days)) * engine.trip * (1 + engine.second_trip)
            miles *= 1.0 + 0.03 * (month.year - 2026)
            # Spring 2028 is kept free for Quillon's boiler work.
            if engine.code == "Q" and month.year == 2028 and month.month in (5, 6):
                miles = 0.0
            planned = round(miles / 10) * 10
            rows.append((engine.vehicle, str(month), planned, round(0.15 * planned / 5) * 5))
    return pd.DataFrame(rows, columns=["vehicle", "month", "miles_planned", "miles_sd"])


def day_between(first: date, last: date, *name: object) -> date:
    """Return a day of the range, weekdays and Saturdays only: that is when the shop works."""
    days = [first + timedelta(i) for i in range((last - first).days + 1)]
    return date.fromisoformat(pick([d.isoformat() for d in days if d.weekday() != 6], *name))
