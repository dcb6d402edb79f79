"""What was known on a past day, and what came after it: the ground of a rolling-origin score."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.lives.past import cut_to
from models.lives.table import LifeTable, Lives

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WORN_OUT = 0.9
"""A part whose wear, carried on from its last reading to its renewal, stood at this share of its limit counts
as worn out; below, as taken out early. Common practice, no source: nobody renews on the very mile."""


@dataclass(frozen=True)
class Record:
    """Everything on record up to today.

    Attributes
    ----------
    lives : all lives, with all their readings. n of them.
    end_day : shape (n,). Day of renewal of an ended life; of the others, the day that ``as_of_miles`` holds
        for. [d since 1970-01-01]
    whole_miles : shape (n,). Miles from the beginning of the life to today, renewed or not: how far it could
        have been seen. [mi]
    """

    lives: Lives
    end_day: Floats
    whole_miles: Floats


def record_of(table: LifeTable) -> Record:
    """The record of lives built from the tables: an ended life ends where the next at its place begins."""
    lives, n = table.lives, len(table.point)
    following = np.minimum(np.arange(n) + 1, max(n - 1, 0))
    renewed = (table.point[following] == table.point) & (table.number[following] == table.number + 1)
    last = np.maximum(lives.count - 1, 0)
    last_miles, last_day = (a[np.arange(n), last] for a in (lives.miles, lives.day))
    whole = table.as_of_odometer[table.point] - table.began_odometer
    ran = np.where(renewed, (table.began_odometer[following] - table.began_odometer), last_miles)
    ended_on = np.where(renewed, table.began_day[following], last_day)
    return Record(
        lives=replace(lives, as_of_miles=np.where(lives.ended, ran, lives.as_of_miles)),
        end_day=np.where(lives.ended, ended_on, table.as_of_day[table.point]),
        whole_miles=whole,
    )


@dataclass(frozen=True)
class Origin:
    """One past day: the lives as they were known, and what became of each.

    Attributes
    ----------
    day : days since 1970-01-01. [d]
    lives : readings up to that day, of lives that had begun and had one. n of them.
    row : shape (n,). Which row of the whole record each is.
    in_service : shape (n,). Not yet renewed that day: to be forecast.
    later_miles, later_wear : shape (n, q). The next readings, NaN where there is none, or where a cut of
        unknown depth came before it. [mi], [unit]
    observed : shape (n,). Miles over which the limit would have been seen to be reached: from that day to the
        end of the record, or to the day on which the part was taken out early. [mi]
    reached : shape (n,). Miles from that day to the limit; +inf where it was not reached in those. [mi]
    later_day : shape (n, q), optional. Days of the next readings. [d since 1970-01-01]
    """

    day: float
    lives: Lives
    row: Ints
    in_service: NDArray[np.bool_]
    later_miles: Floats
    later_wear: Floats
    observed: Floats
    reached: Floats
    later_day: Floats | None = None


def choose_origins(lives: Lives, count: int) -> Floats:
    """Days by which even shares of all readings had been taken, from a third to nine tenths of them.

    Returns
    -------
    Shape (count,) or fewer, increasing. [d since 1970-01-01] Empty where there is no reading.
    """
    days = lives.day[np.isfinite(lives.wear)]
    if not len(days):
        return np.empty(0)
    return np.unique(np.floor(np.quantile(days, np.linspace(1 / 3, 0.9, count))))


def known_at(record: Record, day: float, ahead: int = 3) -> Origin:
    """The record as it stood on the evening of a day.

    Parameters
    ----------
    record : the whole of it.
    day : the origin. [d since 1970-01-01]
    ahead : number of later readings to keep of each life.

    Notes
    -----
    The distance run by that day is interpolated between the dated miles of the life: mileage is known
    whatever the wear, so nothing of the outcome leaks through it. A life last read beyond its limit that day
    has nothing left to reach: 0 miles observed.
    """
    lives = record.lives
    read = np.isfinite(lives.wear)
    known = read & (lives.day <= day)
    row = np.flatnonzero(known.any(axis=1))
    count = known[row].sum(axis=1)
    miles = _miles_on(record, day)[row]
    ended = lives.ended[row] & (record.end_day[row] <= day)
    then = replace(cut_to(lives, row, count), as_of_miles=miles, ended=ended)
    if then.end_miles is not None:  # a renewal of a later day is not known yet
        then = replace(then, end_miles=np.where(ended, then.end_miles, np.nan))
    foreseeable = read & ~stepped(lives, known)
    later = [
        next_readings(a[row], count, foreseeable[row], ahead) for a in (lives.miles, lives.wear, lives.day)
    ]
    last = np.take_along_axis(lives.wear[row], count[:, None] - 1, axis=1)[:, 0]
    reached = miles_to_limit(lives, known)[row] - miles
    early = lives.ended[row] & np.isinf(reached)
    until = np.where(early, lives.as_of_miles[row], record.whole_miles[row])
    observed = np.where(last < lives.limit[row], np.maximum(until - miles, 0.0), 0.0)
    reached = np.where(reached <= observed, np.maximum(reached, 0.0), np.inf)
    return Origin(day, then, row, ~ended, later[0], later[1], observed, reached, later[2])


def next_readings(array: Floats, count: Ints, read: NDArray[np.bool_], ahead: int) -> Floats:
    """The values in the columns after the first ``count``, NaN beyond the last reading."""
    columns = count[:, None] + np.arange(ahead)
    inside = columns < array.shape[1]
    columns = np.minimum(columns, array.shape[1] - 1)
    taken = np.take_along_axis(array, columns, axis=1)
    return np.where(inside & np.take_along_axis(read, columns, axis=1), taken, np.nan)


def stepped(lives: Lives, known: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Readings after a step of unknown depth that was still to come: a cut, which nobody can foresee."""
    if lives.unknown_step is None:
        return np.zeros(known.shape, dtype=bool)
    stepped: NDArray[np.bool_] = np.logical_or.accumulate(lives.unknown_step & ~known, axis=1)
    return stepped


def _miles_on(record: Record, day: float) -> Floats:
    """Miles of each life on a day, straight between its dated miles, shape (n,)."""
    lives, end_day = record.lives, record.end_day
    n = len(lives.family)
    days = np.column_stack([np.where(np.isfinite(lives.wear), lives.day, np.inf), end_day])
    miles = np.column_stack([np.where(np.isfinite(lives.wear), lives.miles, np.inf), lives.as_of_miles])
    order = np.argsort(days, axis=1, kind="stable")
    days, miles = np.take_along_axis(days, order, axis=1), np.take_along_axis(miles, order, axis=1)
    passed = (days <= day).sum(axis=1)
    last = np.isfinite(days).sum(axis=1) - 1
    rows = np.arange(n)
    i = np.clip(passed, 1, np.maximum(last, 1))
    d0, d1, m0, m1 = days[rows, i - 1], days[rows, i], miles[rows, i - 1], miles[rows, i]
    with np.errstate(invalid="ignore"):
        share = np.where(np.isfinite(d1) & (d1 > d0), (day - d0) / np.where(d1 > d0, d1 - d0, 1.0), 0.0)
        between = m0 + np.clip(share, 0.0, 1.0) * np.where(np.isfinite(m1), m1 - m0, 0.0)
    return np.where(passed > last, lives.as_of_miles, between)


def miles_to_limit(lives: Lives, known: NDArray[np.bool_]) -> Floats:
    """Miles of the life at which the limit was first reached after the known readings; +inf if it was not.

    Straight between the last reading below the limit and the first at it; one reading beyond it that the next
    takes back does not count. A part renewed close to the limit (``WORN_OUT``) counts as having reached it
    at its renewal.
    """
    read = np.isfinite(lives.wear)
    beyond = read & (lives.wear >= lives.limit[:, None])
    following = np.column_stack([beyond[:, 1:] | ~read[:, 1:], np.ones(len(read), dtype=bool)])
    beyond &= following & ~known
    rows = np.arange(len(lives.family))
    i = beyond.argmax(axis=1)
    before = np.maximum(i - 1, 0)
    w0, w1, m0, m1 = (a[rows, j] for a in (lives.wear, lives.miles) for j in (before, i))
    rise = np.where((i > 0) & (w1 > w0) & (w0 < lives.limit), w1 - w0, np.inf)
    crossing = m1 - (w1 - lives.limit) / rise * (m1 - m0)
    return np.where(beyond.any(axis=1), crossing, np.where(worn_out(lives), lives.as_of_miles, np.inf))


def worn_out(lives: Lives) -> NDArray[np.bool_]:
    """Ended lives whose last reading, carried on by the miles since, came close to the limit at the end."""
    rows, last = np.arange(len(lives.family)), np.maximum(lives.count - 1, 0)
    wear, miles = lives.wear[rows, last], lives.miles[rows, last]
    carried = np.where(miles > 0, lives.as_of_miles / np.where(miles > 0, miles, 1.0), 1.0)
    return lives.ended & (wear * carried >= WORN_OUT * lives.limit)
