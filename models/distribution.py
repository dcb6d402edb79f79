"""A distribution of miles, kept as its quantiles on one fixed grid.

Every forecast is stored this way: one row a wear point, one column a probability. Planner, case and
pages read chances and draws from it, so that all of them speak of the same forecast.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtri

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_LOWER = [0.001, 0.0025, 0.005, 0.01, 0.02, 0.03, 0.05, 0.075, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45]
_UPPER = [0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.925, 0.95, 0.97, 0.98, 0.99, 0.995, 0.9975, 0.999]
PROBABILITIES: Floats = np.array([*_LOWER, 0.5, *_UPPER])
"""Probabilities of the stored quantiles, increasing, symmetric about one half. [1], shape (33,)"""

_BELOW: Floats = np.array([1e-6, 1e-5, 1e-4, 3e-4])
"""Probabilities below the first stored one at which the tail is laid: an engine of hundreds of parts asks for
chances of one part far below 0.001, and those below 1e-6 are rounded away (``plan.rounding``)."""
_FROM = _LOWER.index(0.01)
_STEEP: Floats = (ndtri(_BELOW) - ndtri(_LOWER[0])) / (ndtri(_LOWER[_FROM]) - ndtri(_LOWER[0]))
"""How far below the first stored quantile, in steps from it to that of 0.01. [1], < 0"""
_LEVELS: Floats = np.concatenate([[0.0], _BELOW, PROBABILITIES])

NOW = "beyond_now"
"""Column beside quantiles of remaining miles: the chance that they are used up already. The grid tells it
only to its next place below: 0.80 where it is 0.816. [1]"""


def now_of(distribution: pd.DataFrame) -> Floats:
    """The column ``NOW`` of a distribution, 0 where it is not told, shape (n,). [1]"""
    told = distribution[NOW].fillna(0.0) if NOW in distribution else pd.Series(0.0, distribution.index)
    return np.asarray(told, dtype=np.float64)


def chance_by(quantiles: Floats, miles: Floats, now: Floats | None = None) -> Floats:
    """Chance that the miles are used up at or before each of the given distances.

    Parameters
    ----------
    quantiles : shape (n, 33), non-decreasing along the row. [mi]
    miles : shape (n, m), or (m,) for the same distances in every row. [mi]
    now : shape (n,). Chance that they are used up already, where it is known better than the grid tells it:
        that of any distance is no smaller. [1]

    Returns
    -------
    Chance, shape (n, m). [1], in [0, 1]. Linear between the stored quantiles; below the first stored quantile
    the logarithm of the miles goes on against the normal score as between 0.001 and 0.01, down to a chance
    of 1e-6; beyond the last it stays at 0.999: the stored grid cannot tell more. A first quantile of zero
    miles counts in full at zero miles.
    """
    quantiles = np.atleast_2d(quantiles)
    miles = np.broadcast_to(miles, (len(quantiles), np.shape(miles)[-1]))
    grid, levels = _from_zero(quantiles)
    # The last place at or below each distance, so that a step of the chance counts in full where it is.
    place = np.stack([(grid <= miles[:, [j]]).sum(axis=1) for j in range(miles.shape[1])], axis=1)
    chance = between_places(grid, levels, miles, place, flat=1.0)
    return np.where(miles < 0, 0.0, chance if now is None else np.maximum(chance, now[:, None]))


def miles_at(quantiles: Floats, probability: Floats, now: Floats | None = None) -> Floats:
    """Miles at given probabilities: the inverse of :func:`chance_by`, and with uniform draws a sampler.

    Parameters
    ----------
    quantiles : shape (n, 33). [mi]
    probability : shape (n, m), or (m,) for the same probabilities in every row. [1], in [0, 1]
    now : as for :func:`chance_by`; up to it there are no miles.

    Returns
    -------
    Miles, shape (n, m). [mi]. Held at the last stored quantile beyond a probability of 0.999.
    """
    quantiles = np.atleast_2d(quantiles)
    probability = np.broadcast_to(probability, (len(quantiles), np.shape(probability)[-1]))
    grid, levels = _from_zero(quantiles)
    miles = between_places(levels, grid, probability, np.searchsorted(levels[0], probability))
    return miles if now is None else np.where(probability <= now[:, None], 0.0, miles)


def _from_zero(quantiles: Floats) -> tuple[Floats, Floats]:
    """Zero miles, lower tail and stored quantiles: miles, shape (n, 38), and probabilities, shape (1, 38).

    A straight line from 0.001 to zero miles would let the parts of an engine fail long before any of them
    can: 60 lives with a thousandth each are six stops in a hundred.
    """
    known = np.maximum(quantiles, 0.0)
    first, then = known[:, :1], known[:, [_FROM]]
    told = (first > 0) & np.isfinite(first)
    ratio = np.divide(then, first, out=np.ones_like(first), where=told)
    return np.concatenate([np.zeros_like(first), first * ratio**_STEEP, known], axis=1), _LEVELS[None]


def place_reached(grid: Floats, wanted: Floats, row: Ints | None = None) -> Ints:
    """Column at which a row's grid first reaches a wanted figure: ``numpy.searchsorted`` row by row.

    Parameters
    ----------
    grid : shape (n, r), non-decreasing along the row.
    wanted : shape (n, m); or with ``row`` any shape.
    row : shape of ``wanted``. The row of the grid that each wanted figure is looked up in.

    Returns
    -------
    Shape of ``wanted``; r where the grid does not reach the figure.
    """
    row = np.arange(len(wanted))[:, None] if row is None else row
    columns = grid.shape[1]
    before = np.zeros(np.shape(wanted), dtype=np.int64)
    step = 1 << (columns.bit_length() - 1)
    while step:  # bisection: how many columns of the row lie before the wanted figure
        candidate = before + step
        passed = grid[row, np.minimum(candidate, columns) - 1] < wanted
        before = np.where(passed & (candidate <= columns), candidate, before)
        step >>= 1
    return before


def value_reached(grid: Floats, values: Floats, wanted: Floats, row: Ints) -> Floats:
    """Value at which a row's grid first reaches a wanted figure, linear between the places of the grid.

    Parameters
    ----------
    grid, values : shape (n, r); the grid non-decreasing along the row.
    wanted : shape (m,) or (m, k).
    row : shape (m,). Row of the grid in which each is looked up; -1: none.

    Returns
    -------
    Shape of ``wanted``; NaN where the figure is unknown or not reached, or the grid has gaps.
    """
    row = np.broadcast_to(row, wanted.shape[::-1]).T
    usable: NDArray[np.bool_] = np.asarray(np.isfinite(grid).all(axis=1))
    ask = (row >= 0) & np.isfinite(wanted) & usable[row] & (wanted <= grid[row, -1])
    asked, in_row = np.maximum(wanted[ask], 0.0), row[ask]
    reached = np.full(wanted.shape, np.nan)
    reached[ask] = between_places(grid, values, asked, place_reached(grid, asked, in_row), in_row)
    return reached


def between_places(
    grid: Floats,
    values: Floats,
    wanted: Floats,
    place: Ints,
    row: Ints | None = None,
    *,
    flat: float = 0.0,
) -> Floats:
    """Value at which a row's grid reaches a wanted figure, linear between the place before and ``place``.

    Parameters
    ----------
    grid, values : shape (n, r), or (1, r) where all rows have the same.
    wanted, row : as for :func:`place_reached`.
    place : shape of ``wanted``. Column of the grid at or beyond the wanted figure, as :func:`place_reached`
        gives it.
    flat : share of the way from the place before, where the grid does not rise on it. [1]

    Returns
    -------
    Shape of ``wanted``; the first value before the first place, the last one past the last place.
    """
    asked = np.arange(len(wanted))[:, None] if row is None else row
    in_grid, in_values = (0 if len(x) == 1 else asked for x in (grid, values))
    i = np.clip(place, 1, grid.shape[1] - 1)
    left, right = grid[in_grid, i - 1], grid[in_grid, i]
    even = np.full(np.shape(wanted), flat)
    share = np.clip(np.divide(wanted - left, right - left, out=even, where=right > left), 0.0, 1.0)
    start = values[in_values, i - 1]
    return np.asarray(start + share * (values[in_values, i] - start))
