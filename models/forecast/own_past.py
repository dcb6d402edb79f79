"""Parts in service that leave their own past: their wear runs faster or slower since a reading, or their last
readings fit the place of another part."""

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from models.forecast.alarms import FASTER, ODD, SLOWER, SWAPPED, Alarm, day_words, vehicle_of
from models.forecast.paths import checked_readings
from models.gauges.precision import Fitted, fitted_lives, precision, residuals
from models.lives.table import LifeTable
from models.wear.model import PooledWear

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BEFORE, AFTER = 3, 2
"""Readings of a life that must lie up to a change of its rate, and after it."""
SIGNS = 4.7
"""Standard errors from which a changed rate is named. An engine of 60 parts, read twice a year, asks a
thousand times in ten years: by chance it is named once in 400 engines, and readings are not quite normal."""
LEAST_CHANGE = 0.3
"""Share of the family's mean rate by which it must have changed. Practice, no source."""
LIVES_AT_ONCE = 2_000
"""Lives whose matrices are held at once."""
FITS = 2.5
"""Standard deviations within which a reading fits another place."""


def alarms_of_own_past(table: LifeTable, model: PooledWear, point: Ints) -> list[Alarm]:
    """Parts whose rate changed within their life.

    Parameters
    ----------
    model : fitted to the lives of the table, on whatever miles.
    point : wear points that were forecast.
    """
    life = table.in_service[point]
    life = life[table.lives.count[life] >= BEFORE + AFTER]
    fitted, alarms = fitted_lives(model), []
    for begin in range(0, len(life), LIVES_AT_ONCE):
        rows = life[begin : begin + LIVES_AT_ONCE]
        signs, change, at = _most_changed(fitted.take(rows))
        for i in np.flatnonzero((np.abs(signs) > SIGNS) & (np.abs(change) > LEAST_CHANGE)):
            alarms.append(_changed(table, int(rows[i]), int(at[i]), bool(signs[i] > 0)))
    return alarms


def _most_changed(lives: Fitted) -> tuple[Floats, Floats, Ints]:
    """Of each life: the change of its rate that shows most, in standard errors and over the family's mean
    rate, and the reading from which it holds.

    The score of a broken line against the life's own straight one, its start and rate unknown (as for a
    gauge, :mod:`models.gauges.offsets`).
    """
    read = np.isfinite(lives.z)
    u = np.where(read, lives.u, 0.0)
    place = np.cumsum(read, axis=1)
    allowed = read & (place >= BEFORE) & (place[:, -1:] - place >= AFTER)
    bend = np.where(read[:, :, None], np.maximum(u[:, :, None] - u[:, None, :], 0.0), 0.0)
    weighed = precision(lives) @ bend
    info = np.einsum("nkj,nkj->nj", bend, weighed)
    score = np.einsum("nkj,nk->nj", weighed, residuals(lives))
    safe = np.where(allowed & (info > 0), info, np.inf)
    signs = score / np.sqrt(safe)
    at = np.abs(signs).argmax(axis=1)
    row = np.arange(len(at))
    mean = np.maximum(np.abs(lives.mu), 1e-9)
    return signs[row, at], (score / safe)[row, at] / mean, at


def _changed(table: LifeTable, life: int, column: int, faster: bool) -> Alarm:
    kind = FASTER if faster else SLOWER
    since, point = float(table.lives.day[life, column]), int(table.point[life])
    words = f"this part wears {kind} {day_words(since)}: look at it, measure again"
    later = [int(row) for row in table.source[life, column + 1 :] if row >= 0]
    return Alarm(kind, vehicle_of(table, point), (point,), since, words, tuple(later))


def with_swapped(alarms: list[Alarm], table: LifeTable, model: PooledWear) -> list[Alarm]:
    """The alarms, two odd readings of one vehicle and day that fit each other's place named as one."""
    together: dict[tuple[str, float], list[Alarm]] = {}
    for alarm in alarms:
        if alarm.kind == ODD and alarm.readings:
            together.setdefault((alarm.vehicle, alarm.since), []).append(alarm)
    pairs = [pair for odd in together.values() for pair in combinations(odd, 2)]
    if not pairs:
        return alarms
    asked = np.isin(table.source, [alarm.readings[0] for pair in pairs for alarm in pair])
    where = {int(table.source[life, column]): (life, column) for life, column in np.argwhere(asked)}
    expected, sd, _ = checked_readings(model)
    swapped: list[Alarm] = []
    gone: set[int] = set()
    for one, other in pairs:
        first, second = where[one.readings[0]], where[other.readings[0]]
        if gone & {id(one), id(other)} or table.lives.family[first[0]] != table.lives.family[second[0]]:
            continue
        off = (table.lives.wear[first] - expected[second]) / sd[second]
        off_other = (table.lives.wear[second] - expected[first]) / sd[first]
        if max(abs(off), abs(off_other)) < FITS:
            swapped.append(_swapped(one, other))
            gone |= {id(one), id(other)}
    return swapped + [alarm for alarm in alarms if id(alarm) not in gone]


def _swapped(one: Alarm, other: Alarm) -> Alarm:
    words = f"readings of {day_words(one.since)} look swapped between two places: confirm both"
    points, read = one.points + other.points, one.readings + other.readings
    return Alarm(SWAPPED, one.vehicle, points, one.since, words, read, one.settled and other.settled)
