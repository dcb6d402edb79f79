"""Renewals that nobody wrote down: a reading far against the direction of wear that later readings
confirm."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.lives.build import LifeTable
from models.lives.table import Lives

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LEAST_DROP = 0.15
"""Share of the allowance that a drop must at least restore. Assumption, no source."""
ERRORS = 6.0
"""And this many standard deviations of the difference of two readings of the family."""
BACK_TO_NEW = 0.5
"""And leave no more than this share of the wear that was there before."""


@dataclass(frozen=True)
class Suspected:
    """One entry a suspected renewal: life (row of the table given), day of the last reading before and of
    the first after."""

    point: Ints
    day_before: Floats
    day_after: Floats


def split_at_unrecorded(table: LifeTable) -> tuple[LifeTable, Suspected]:
    """Cut lives where a renewal is missing from the record.

    A single low reading, with nothing after it, is no proof: it stays in its life, where it counts as wild,
    and the forecast stays careful.

    Returns
    -------
    LifeTable : with the lives after the cuts appended as further lives, first level free.
    Suspected : the cuts.
    """
    lives = table.lives
    drop = _confirmed_drops(lives)
    found = Suspected(table.point[:0], np.empty(0), np.empty(0))
    while drop.any():
        rows = np.flatnonzero(drop.any(axis=1))
        last = drop.shape[1] - 1 - drop[rows][:, ::-1].argmax(axis=1)  # the latest drop of each life first
        days = lives.day[rows, last - 1], lives.day[rows, last]
        found = Suspected(
            np.append(found.point, table.point[rows]),
            np.append(found.day_before, days[0]),
            np.append(found.day_after, days[1]),
        )
        table = _split(table, rows, last)
        lives = table.lives
        drop = _confirmed_drops(lives)
    return table, found


def _confirmed_drops(lives: Lives) -> Bools:
    """Where column j is the first reading of another part, shape (n, k)."""
    w = lives.wear / lives.limit[:, None]
    if w.shape[1] < 3:
        return np.zeros(w.shape, dtype=bool)
    fall = np.full(w.shape, np.nan)
    fall[:, 1:] = w[:, :-1] - w[:, 1:]
    noise = _usual_difference(lives.miles, w, lives.family)[:, None]
    low = (fall > LEAST_DROP) & (fall > ERRORS * noise)
    low[:, 1:] &= w[:, 1:] < BACK_TO_NEW * w[:, :-1]
    before, after = np.full(w.shape, np.nan), np.full(w.shape, np.nan)
    before[:, 1:], after[:, :-1] = w[:, :-1], w[:, 1:]
    stays = after < before - 0.5 * fall  # the next reading is low as well
    # A high reading that stood alone is the wild one, not the low ones about it.
    earlier = np.full(w.shape, np.nan)
    earlier[:, 2:] = w[:, :-2]
    alone = np.isfinite(earlier) & (before - earlier > 0.75 * fall)
    if lives.unknown_step is not None:
        low &= ~lives.unknown_step
    return np.asarray(low & stays & ~alone)


def _usual_difference(m: Floats, w: Floats, family: Ints) -> Floats:
    """Robust standard deviation, at each life, of how far two readings in a row are off the family's usual
    wear."""
    run, rise = np.diff(m, axis=1), np.diff(w, axis=1)
    here = np.isfinite(rise)
    owner = np.broadcast_to(family[:, None], rise.shape)[here]
    run, rise = np.maximum(run[here], 1e-9), rise[here]
    n = int(family.max()) + 1 if len(family) else 0
    rate = _medians(rise / run, owner, n)
    off = _medians(np.abs(rise - rate[owner] * run), owner, n)
    return np.asarray(off[family] / 0.6745)  # median of |normal| to its standard deviation


def _medians(values: Floats, owner: Ints, n: int) -> Floats:
    """Median of each owner's values, shape (n,); 0 for an owner without any."""
    order = np.lexsort((values, owner))
    owner, values = owner[order], values[order]
    found, first, count = np.unique(owner, return_index=True, return_counts=True)
    out = np.zeros(n)
    out[found] = 0.5 * (values[first + (count - 1) // 2] + values[first + count // 2])
    return out


def _split(table: LifeTable, rows: Ints, column: Ints) -> LifeTable:
    lives = table.lives
    k = lives.miles.shape[1]
    index = column[:, None] + np.arange(k)
    valid = index < k
    index = np.minimum(index, k - 1)

    def later(values: NDArray, fill: float | bool) -> NDArray:
        return np.where(valid, np.take_along_axis(values[rows], index, axis=1), fill)

    def earlier(values: NDArray, fill: float | bool) -> NDArray:
        out = values.copy()
        out[rows] = np.where(np.arange(k) < column[:, None], values[rows], fill)
        return out

    wear = later(lives.wear, np.nan)
    miles = later(lives.miles, np.nan)
    before = lives.miles[rows, column - 1]
    begin = 0.5 * (before + miles[:, 0])  # somewhere between the two readings
    grown = {}
    for name, fill in (
        ("miles", np.nan),
        ("wear", np.nan),
        ("gauge_sd", np.nan),
        ("day", np.nan),
        ("miles_sd", np.nan),
    ):
        values = getattr(lives, name)
        if values is not None:
            grown[name] = np.concatenate([earlier(values, fill), later(values, fill)])
    grown["miles"][len(lives.miles) :] = miles - begin[:, None]
    grown["wear"][len(lives.wear) :] = wear
    step = lives.unknown_step if lives.unknown_step is not None else np.zeros(lives.wear.shape, dtype=bool)
    new_step = later(step, False).astype(bool)
    new_step[:, 0] = True
    ended = lives.ended.copy()
    ended[rows] = True
    as_of = lives.as_of_miles.copy()
    as_of[rows] = np.nan
    new_lives = Lives(
        **grown,
        family=np.append(lives.family, lives.family[rows]),
        limit=np.append(lives.limit, lives.limit[rows]),
        as_of_miles=np.append(as_of, lives.as_of_miles[rows] - begin),
        ended=np.append(ended, lives.ended[rows]),
        unknown_step=np.concatenate([earlier(step, False), new_step]),
        place=None if lives.place is None else np.append(lives.place, lives.place[rows]),
    )
    in_service = table.in_service.copy()
    fresh = len(lives.family) + np.arange(len(rows))
    current = ~lives.ended[rows]
    in_service[table.point[rows[current]]] = fresh[current]
    day = 0.5 * (lives.day[rows, column - 1] + lives.day[rows, column])
    return replace(
        table,
        lives=new_lives,
        point=np.append(table.point, table.point[rows]),
        number=np.append(table.number, table.number[rows] + 1),
        began_day=np.append(table.began_day, day),
        began_odometer=np.append(table.began_odometer, table.began_odometer[rows] + begin),
        cut=np.concatenate([earlier(table.cut, np.nan), later(table.cut, np.nan)]),
        cut_now=np.append(table.cut_now, table.cut_now[rows]),
        source=np.concatenate([earlier(table.source, -1), later(table.source, -1)]),
        in_service=in_service,
    )
