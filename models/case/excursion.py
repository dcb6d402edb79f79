"""What an excursion plan uses up: miles that somebody means to run, at the case's own cost of a mile.

Nothing is drawn anew. The cost of a mile by component, with its range, is that of the case, so that an
excursion, a running day and a mile can never tell different stories.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from models.case.mile import cost_of_running

SUMS = ["p10", "mean", "p90"]
TRIP_COLUMNS = ["name", "days", "miles", *SUMS, "seats", *(f"seat_{name}" for name in SUMS)]


@dataclass(frozen=True)
class Excursion:
    """One entry of a plan: so many running days, each of so many miles.

    Attributes
    ----------
    miles_a_day : miles of one running day. [mi], > 0
    days : running days. [d], >= 1
    seats : passenger seats sold on each of these days; 0 where it is not said.
    """

    name: str
    miles_a_day: float
    days: int = 1
    seats: int = 0

    @property
    def miles(self) -> float:
        """Miles of all its days. [mi]"""
        return self.miles_a_day * self.days


@dataclass(frozen=True)
class ExcursionCost:
    """What a plan uses up of the parts that wear, at the prices of the as-of day, and what it costs in all.
    [money]

    Attributes
    ----------
    trips : columns ``TRIP_COLUMNS``, one row an entry, the whole plan in the last (name ``all``). ``seats``
        counts those of all days; ``seat_*`` is what one of them must carry, NaN where seats are not said (in
        the last row: of any entry).
    parts : component, action, jobs, p10, mean, p90, share, points; the whole in the last row (component
        ``all``). Means add up to that of the whole plan.
    in_all : what, p10, mean, p90: the parts, opening the engine and hidden damage that go with them, and all
        of it in the last row, as ``case.whole_mile`` has them of a mile; empty where that is not known.
    """

    trips: pd.DataFrame
    parts: pd.DataFrame
    in_all: pd.DataFrame

    @property
    def whole(self) -> pd.Series:
        """The row of the whole plan."""
        return self.trips.iloc[-1]


def cost_of_excursions(
    mile: pd.DataFrame, plan: Sequence[Excursion], mile_whole: pd.DataFrame | None = None
) -> ExcursionCost:
    """What a plan uses up, by its entries and by component.

    Parameters
    ----------
    mile : cost of a mile by component, as ``case.mile.by_component`` gives it. [money/mi]
    plan : at least one entry.
    mile_whole : cost of a mile in all, as ``case.whole_mile.cost_in_all`` gives it. [money/mi]

    Notes
    -----
    All entries are run with the same parts, so a dear mile is dear on every one of them: their ranges add up
    to that of the whole. Those of the components do not, as not all of them go one way.
    """
    rows = [_trip(mile, trip.name, trip.days, trip.miles, trip.seats * trip.days) for trip in plan]
    miles, days = sum(trip.miles for trip in plan), sum(trip.days for trip in plan)
    seats = sum(trip.seats * trip.days for trip in plan) if all(trip.seats for trip in plan) else 0
    trips = pd.DataFrame([*rows, _trip(mile, "all", days, miles, seats)], columns=TRIP_COLUMNS)
    in_all = pd.DataFrame(columns=["what", *SUMS]) if mile_whole is None else mile_whole
    parts, whole = (table.assign(**{name: table[name] * miles for name in SUMS}) for table in (mile, in_all))
    return ExcursionCost(trips, parts, whole)


def _trip(mile: pd.DataFrame, name: str, days: int, miles: float, seats: int) -> dict[str, object]:
    cost = cost_of_running(mile, miles)
    sums = {figure: getattr(cost, figure) for figure in SUMS}
    by_seat = {f"seat_{figure}": value / seats if seats else np.nan for figure, value in sums.items()}
    return {"name": name, "days": days, "miles": miles, "seats": seats, **sums, **by_seat}
