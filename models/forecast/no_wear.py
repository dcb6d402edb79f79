"""Parts whose readings show no wear though they have run: gauge, miles or place in the sheet are likelier
wrong than that they do not wear."""

import numpy as np
from numpy.typing import NDArray

from models.forecast.alarms import NO_WEAR, Alarm, day_words, vehicle_of
from models.forecast.wear_now import WearNow
from models.lives.table import LifeTable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_READINGS = 3
"""Readings of a life that show no wear: two are out of order by chance too often."""
SURPRISING = 4.0
"""Standard errors of its line by which the forecast's own rate is above it, from which a part whose sisters
wear is named. Where nobody changed anything, lines of 60 parts, looked at twice a year, are so far off once
in 300 engines in ten years, and must run against wear besides. Where no life of a family shows wear, nothing
else tells its rate: its parts are named as soon as they show none."""
WALK = 6.0 / 5.0
"""Variance of the slope of a line through a random walk, over the walk's own per unit and by its length."""
SAME = 1e-9
"""Fall over all of a line, as a share of the allowance, up to which the readings have not moved."""


def alarms_of_no_wear(table: LifeTable, point: Ints, wear: WearNow) -> list[Alarm]:
    """Parts in service whose readings, all of their life together, show no wear.

    Parameters
    ----------
    point : shape (f,). Wear points that were forecast.
    wear : of their lives in service.
    """
    lives, life = table.lives, table.in_service[point]
    slope, run, square = _lines(lives.miles, lives.wear)
    rise = slope * run / lives.limit
    wears = np.bincount(lives.family, rise > SAME, lives.n_families) > 0
    slope, run, square = slope[life], run[life], square[life]
    with np.errstate(divide="ignore", invalid="ignore"):
        error = np.sqrt(wear.sigma**2 / square + WALK * wear.tau**2 / run)
    flat = (lives.count[life] >= LEAST_READINGS) & (run > 0) & (rise[life] <= SAME)
    named = flat & (~wears[lives.family[life]] | (wear.median_rate - slope > SURPRISING * error))
    return [_alarm(table, int(own), moved=bool(rise[own] < -SAME)) for own in life[named]]


def _lines(miles: Floats, wear: Floats) -> tuple[Floats, Floats, Floats]:
    """Slope of the line through each life's readings, the miles from its first to its last, and the sum of
    their squared distances from the mean; shape (n,). 0 where there is no line."""
    read = np.isfinite(wear)
    count = np.maximum(read.sum(axis=1), 1)[:, None]
    x, y = np.where(read, miles, 0.0), np.where(read, wear, 0.0)
    x, y = (np.where(read, v - v.sum(axis=1, keepdims=True) / count, 0.0) for v in (x, y))
    square = (x * x).sum(axis=1)
    slope = (x * y).sum(axis=1) / np.where(square > 0, square, 1.0)
    run = x.max(axis=1, initial=0.0) - x.min(axis=1, initial=0.0)
    return slope, run, square


def _alarm(table: LifeTable, life: int, *, moved: bool) -> Alarm:
    read = np.isfinite(table.lives.wear[life])
    since, point = float(table.lives.day[life][read][0]), int(table.point[life])
    do = "run against wear" if moved else "show no wear"
    words = f"readings since {day_words(since)} {do}: measure again"
    source = table.source[life][read]
    return Alarm(
        NO_WEAR, vehicle_of(table, point), (point,), since, words, tuple(source[source >= 0].tolist())
    )
