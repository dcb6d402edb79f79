"""A past day by its tables: what the forecast of that day said, and what came after it.

The forecast is the one that people got or would have got: it was made from the tables of that day
(``models.forecast.run.make_forecast``), with its cuts, covariates, other forecasters and stretch. What came
is read from the record of today, with lives cut where a renewal is missing from it.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.distribution import PROBABILITIES
from models.forecast.worked import Worked
from models.lives.table import LifeTable, Lives
from models.score.track_record import Origin, miles_to_limit, next_readings, stepped, worn_out

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
AHEAD = 3
"""Later readings of each life that are held against the forecast."""


class AsForecast:
    """The forecast of one day, asked like any forecaster; NaN for lives that it was not made for."""

    def __init__(self, worked: Worked, *, alone: bool = False) -> None:
        self.worked = worked
        self.alone = alone
        """The wear model alone: without stretch and without other forecasters."""

    def predict_readings(self, miles: Floats, probabilities: Floats) -> Floats:
        """As :meth:`models.wear.estimator.Forecaster.predict_readings`."""
        worked, life = self.worked, self.worked.life
        out = np.full((*miles.shape, len(probabilities)), np.nan)
        if self.alone:
            out[life] = worked.alone_ahead(miles[life], probabilities, np.arange(len(life)), gauge=True)
        else:
            out[life] = worked.readings_ahead(miles[life], probabilities)
        return out

    def predict_remaining(self, probabilities: Floats) -> Floats:
        """As :meth:`models.wear.estimator.Forecaster.predict_remaining`, at the stored probabilities."""
        if len(probabilities) != len(PROBABILITIES):
            msg = "A forecast holds its quantiles at models.distribution.PROBABILITIES alone."
            raise ValueError(msg)
        worked = self.worked
        out = np.full((len(worked.table.point), len(PROBABILITIES)), np.nan)
        out[worked.life] = worked.alone() if self.alone else worked.remaining
        return out


def origin_of(
    worked: Worked, row_id: Ints, whole: LifeTable, whole_row_id: Ints, day: pd.Timestamp
) -> Origin:
    """The lives as that day's forecast knew them, and what became of each.

    Parameters
    ----------
    worked : the forecast of the day.
    row_id : shape (readings of that day,). By which a reading is known again.
    whole, whole_row_id : the lives of today's record, and the same of its readings.

    Notes
    -----
    The wear that counts is that of the life of today's record in which the last reading of that day stands; a
    life without any is known by its beginning. The limit is that of the day: a later cut, which nobody could
    foresee, moves neither the wear nor the limit.
    """
    then, life = worked.table, worked.life
    match = _same_life(then, life, row_id, whole, whole_row_id)
    life, match = life[match >= 0], match[match >= 0]
    on = float(np.datetime64(day, "D").astype(np.int64))
    lives = whole.lives.take(match)
    lives = replace(lives, limit=then.lives.limit[life], as_of_miles=_end_miles(whole, match))
    known = np.isfinite(lives.wear) & (lives.day <= on)
    moved, today = _in_that_days_miles(then, life, whole, match, lives, known)
    foreseeable = np.isfinite(lives.wear) & ~stepped(lives, known)
    to_come = (lives.miles + moved[:, None], lives.wear, lives.day)
    later = [next_readings(values, known.sum(axis=1), foreseeable, AHEAD) for values in to_come]
    observed, reached = _seen(lives, known, moved, today, then.lives.as_of_miles[life])
    n = len(then.point)

    def of_all(values: Floats, fill: float = np.nan) -> Floats:
        out = np.full((n, *values.shape[1:]), fill)
        out[life] = values
        return out

    row = np.full(n, -1, dtype=np.int64)
    row[life] = match
    return Origin(
        day=on,
        lives=then.lives,
        row=row,
        in_service=row >= 0,
        later_miles=of_all(later[0]),
        later_wear=of_all(later[1]),
        observed=of_all(observed, 0.0),
        reached=of_all(reached, np.inf),
        later_day=of_all(later[2]),
    )


def _in_that_days_miles(
    then: LifeTable, life: Ints, whole: LifeTable, match: Ints, lives: Lives, known: NDArray[np.bool_]
) -> tuple[Floats, Floats]:
    """What is to be added to miles of today's lives to have those of that day's; miles by now. [mi]"""
    moved = whole.began_odometer[match] - then.began_odometer[life]
    today = whole.as_of_odometer[whole.point[match]] - then.began_odometer[life]
    away = then.scale.key[then.point[life]] != whole.scale.key[whole.point[match]]
    if away.any():  # the part is elsewhere by now, on another odometer
        moved = np.where(away, _ahead_of(then, life, lives, known), moved)
        today = np.where(away, np.nan_to_num(lives.as_of_miles) + moved, today)
    return moved, today


def _ahead_of(then: LifeTable, life: Ints, lives: Lives, known: NDArray[np.bool_]) -> Floats:
    """Miles that each life had by that day's count at its last reading then, less those by today's. [mi]"""
    row = np.arange(len(life))
    last = np.isfinite(then.lives.wear[life]).sum(axis=1) - 1
    now = known.sum(axis=1) - 1
    counted = then.lives.miles[life][row, np.maximum(last, 0)] - lives.miles[row, np.maximum(now, 0)]
    return np.where((last >= 0) & (now >= 0), counted, 0.0)


def _seen(
    lives: Lives, known: NDArray[np.bool_], moved: Floats, today: Floats, since: Floats
) -> tuple[Floats, Floats]:
    """How far each life was seen after that day, and where in it the limit was reached. [mi]

    Parameters
    ----------
    lives : as they are known today, against the limit of that day.
    known : shape (n, k). Readings that were known that day.
    moved : shape (n,). Miles of that day's life less those of today's. [mi]
    today, since : shape (n,). Miles of that day's life, counted on to today, and on that day. [mi]
    """
    reached = miles_to_limit(lives, known) + moved - since
    early = lives.ended & ~worn_out(lives) & np.isinf(reached)
    until = np.where(early, lives.as_of_miles + moved, today) - since
    count = known.sum(axis=1)
    last = np.where(count > 0, np.nan_to_num(lives.wear)[np.arange(len(count)), count - 1], 0.0)
    observed = np.where(last < lives.limit, np.maximum(until, 0.0), 0.0)
    return observed, np.where(reached <= observed, np.maximum(reached, 0.0), np.inf)


def _same_life(then: LifeTable, life: Ints, row_id: Ints, whole: LifeTable, whole_row_id: Ints) -> Ints:
    """The life of today's record that each life of that day is, -1 where none is found."""
    row, column = np.nonzero(np.isfinite(whole.lives.wear) & (whole.source >= 0))
    number = whole_row_id[whole.source[row, column]]
    order = np.argsort(number, kind="stable")
    number, owner = number[order], row[order]
    source = np.where(np.isfinite(then.lives.wear[life]), then.source[life], -1)
    last = np.where(source >= 0, np.arange(source.shape[1]), -1).max(axis=1)
    read = last >= 0
    match = np.full(len(life), -1, dtype=np.int64)
    if len(number):
        wanted = row_id[source[np.flatnonzero(read), last[read]]]
        place = np.minimum(np.searchsorted(number, wanted), len(number) - 1)
        match[read] = np.where(number[place] == wanted, owner[place], -1)
    key = whole.scale.key[whole.point]
    begun = {(p, d): i for i, (p, d) in enumerate(zip(key, np.floor(whole.began_day), strict=True))}
    for i in np.flatnonzero(~read):
        its = then.scale.key[then.point[life[i]]]
        match[i] = begun.get((its, np.floor(then.began_day[life[i]])), -1)
    return match


def _end_miles(whole: LifeTable, match: Ints) -> Floats:
    """Miles at which each life ended: where the next at its point began; of one in service, its miles now."""
    order = np.lexsort((whole.began_odometer, whole.point))
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    after = np.minimum(place[match] + 1, len(order) - 1)
    following = order[after]
    renewed = (whole.point[following] == whole.point[match]) & (after > place[match])
    last = np.where(np.isfinite(whole.lives.miles[match]), whole.lives.miles[match], 0.0).max(axis=1)
    ran = np.where(renewed, whole.began_odometer[following] - whole.began_odometer[match], last)
    return np.where(whole.lives.ended[match], np.maximum(ran, last), whole.lives.as_of_miles[match])
