"""Renewals that nobody wrote down: a reading far against the direction of wear that later readings
confirm."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from models.lives.table import LifeTable, Lives, Suspected, combine_hash

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LEAST_DROP = 0.15
"""Share of the allowance that a drop must at least restore. Assumption, no source."""
ERRORS = 6.0
"""And this many standard deviations of the difference of two readings of the family."""
BACK_TO_NEW = 0.5
"""And leave no more than this share of the wear that was there before."""


def split_at_unrecorded(table: LifeTable) -> LifeTable:
    """Cut lives where a renewal is missing from the record.

    A single low reading, with nothing after it, is no proof: it stays in its life, where it counts as wild,
    and the forecast stays careful.

    Returns
    -------
    LifeTable : with the lives after the cuts appended as further lives, first level free, and the cuts named
        in ``suspected``.
    """
    drop = _confirmed_drops(table.lives)
    while drop.any():
        rows = np.flatnonzero(drop.any(axis=1))
        last = drop.shape[1] - 1 - drop[rows][:, ::-1].argmax(axis=1)  # the latest drop of each life first
        table = _split(table, rows, last)
        drop = _confirmed_drops(table.lives)
    return table


def _confirmed_drops(lives: Lives) -> Bools:
    """Where column j is the first reading of another part, shape (n, k)."""
    wear = lives.wear / lives.limit[:, None]
    n, k = wear.shape
    if k < 3:
        return np.zeros(wear.shape, dtype=bool)
    two_before, before, after = np.full((3, n, k), np.nan)
    two_before[:, 2:], before[:, 1:], after[:, :-1] = wear[:, :-2], wear[:, :-1], wear[:, 1:]
    fall = before - wear
    noise = _usual_difference(lives.miles, wear, lives.family)[:, None]
    low = (fall > LEAST_DROP) & (fall > ERRORS * noise) & (wear < BACK_TO_NEW * before)
    stays = after < before - 0.5 * fall  # the next reading is low as well
    # A high reading that stood alone is the wild one, not the low ones about it.
    alone = np.isfinite(two_before) & (before - two_before > 0.75 * fall)
    if lives.unknown_step is not None:
        low &= ~lives.unknown_step
    return np.asarray(low & stays & ~alone)


def _usual_difference(miles: Floats, wear: Floats, family: Ints) -> Floats:
    """Robust standard deviation, at each life, of how far two readings in a row are off the family's usual
    wear."""
    run, rise = np.diff(miles, axis=1), np.diff(wear, axis=1)
    read = np.isfinite(rise)
    owner = np.broadcast_to(family[:, None], rise.shape)[read]
    run, rise = np.maximum(run[read], 1e-9), rise[read]
    n = int(family.max()) + 1 if len(family) else 0
    rate = medians(rise / run, owner, n)
    off = medians(np.abs(rise - rate[owner] * run), owner, n)
    return np.asarray(off[family] / 0.6745)  # median of |normal| to its standard deviation


def medians(values: Floats, owner: Ints, n: int) -> Floats:
    """Median of each owner's values, shape (n,); 0 for an owner without any."""
    order = np.lexsort((values, owner))
    owner, values = owner[order], values[order]
    owners, first, count = np.unique(owner, return_index=True, return_counts=True)
    medians = np.zeros(n)
    medians[owners] = 0.5 * (values[first + (count - 1) // 2] + values[first + count // 2])
    return medians


def _split(table: LifeTable, rows: Ints, column: Ints) -> LifeTable:
    """These lives end before their column; what follows is a life of its own, appended to the table."""
    lives, n = table.lives, len(table.number)
    before, after = (rows, column - 1), (rows, column)
    begin = 0.5 * (lives.miles[before] + lives.miles[after])  # somewhere between the two readings
    in_service = table.in_service.copy()
    current = ~lives.ended[rows]
    in_service[table.point[rows[current]]] = n + np.flatnonzero(current)
    suspected = table.suspected
    return replace(
        table,
        lives=_split_lives(lives, rows, column, begin),
        point=np.append(table.point, table.point[rows]),
        number=np.append(table.number, table.number[rows] + 1),
        began_day=np.append(table.began_day, 0.5 * (lives.day[before] + lives.day[after])),
        began_odometer=np.append(table.began_odometer, table.began_odometer[rows] + begin),
        cut=_split_rows(table.cut, rows, column),
        cut_now=np.append(table.cut_now, table.cut_now[rows]),
        source=_split_rows(table.source, rows, column, -1),
        in_service=in_service,
        suspected=Suspected(
            np.append(suspected.point, table.point[rows]),
            np.append(suspected.day_before, lives.day[before]),
            np.append(suspected.day_after, lives.day[after]),
        ),
    )


def _split_lives(lives: Lives, rows: Ints, column: Ints, begin: Floats) -> Lives:
    """The lives split; ``begin`` : shape (rows,), miles of the old life at which the new one begins."""
    n = len(lives.family)
    split = lives.take(np.append(np.arange(n), rows))
    for name in ("miles", "wear", "gauge_sd", "day", "miles_sd"):
        if getattr(lives, name) is not None:
            split = replace(split, **{name: _split_rows(getattr(lives, name), rows, column)})
    unknown = np.zeros(lives.wear.shape, dtype=bool) if lives.unknown_step is None else lives.unknown_step
    unknown = _split_rows(unknown, rows, column, False)
    unknown[n:, 0] = True
    if split.key is not None:
        split = replace(split, key=np.append(split.key[:n], combine_hash(split.key[n:], column)))
    if split.end_miles is not None:
        ends = split.end_miles.copy()
        ends[rows], ends[n:] = np.nan, ends[n:] - begin  # what ended the old part is not on record
        split = replace(split, end_miles=ends)
    split.miles[n:] -= begin[:, None]
    split.as_of_miles[n:] -= begin
    split.as_of_miles[rows] = np.nan
    split.ended[rows] = True
    return replace(split, unknown_step=unknown)


def _split_rows(values: NDArray, rows: Ints, column: Ints, fill: float | bool = np.nan) -> NDArray:
    """These rows end before their column; what follows is appended as further rows, shape (n + rows, k)."""
    k = values.shape[1]
    kept = values.copy()
    kept[rows] = np.where(np.arange(k) < column[:, None], values[rows], fill)
    index = column[:, None] + np.arange(k)
    moved = np.take_along_axis(values[rows], np.minimum(index, k - 1), axis=1)
    return np.concatenate([kept, np.where(index < k, moved, fill)])
