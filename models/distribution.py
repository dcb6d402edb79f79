"""A distribution of miles, kept as its quantiles on one fixed grid.

Every forecast is stored this way: one row a wear point, one column a probability. Planner, case and
pages read chances and draws from it, so that all of them speak of the same forecast.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_LOWER = [0.001, 0.0025, 0.005, 0.01, 0.02, 0.03, 0.05, 0.075, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45]
_UPPER = [0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.925, 0.95, 0.97, 0.98, 0.99, 0.995, 0.9975, 0.999]
PROBABILITIES: Floats = np.array([*_LOWER, 0.5, *_UPPER])
"""Probabilities of the stored quantiles, increasing, symmetric about one half. [1], shape (33,)"""


def chance_by(quantiles: Floats, miles: Floats) -> Floats:
    """Chance that the miles are used up at or before each of the given distances.

    Parameters
    ----------
    quantiles : shape (n, 33), non-decreasing along the row. [mi]
    miles : shape (n, m), or (m,) for the same distances in every row. [mi]

    Returns
    -------
    Chance, shape (n, m). [1], in [0, 1]. Linear between the stored quantiles; below the first
    stored quantile it runs linearly to 0 at zero miles, beyond the last it stays at 0.999: the
    stored grid cannot tell more. A first quantile of zero miles counts in full at zero miles.
    """
    quantiles = np.atleast_2d(quantiles)
    miles = np.broadcast_to(miles, (len(quantiles), np.shape(miles)[-1]))
    low = np.zeros((len(quantiles), 1))
    grid = np.concatenate([low, np.maximum(quantiles, 0.0)], axis=1)
    levels = np.concatenate([[0.0], PROBABILITIES])
    # Count, for each distance, the grid points at or below it; rows differ, so no searchsorted.
    above = np.stack([(grid <= miles[:, [j]]).sum(axis=1) for j in range(miles.shape[1])], axis=1)
    i = np.clip(above, 1, len(levels) - 1)
    left, right = np.take_along_axis(grid, i - 1, 1), np.take_along_axis(grid, i, 1)
    share = np.divide(miles - left, right - left, out=np.ones_like(left), where=right > left)
    chance = levels[i - 1] + np.clip(share, 0.0, 1.0) * (levels[i] - levels[i - 1])
    return np.where(miles < 0, 0.0, chance)


def miles_at(quantiles: Floats, probability: Floats) -> Floats:
    """Miles at given probabilities: the inverse of :func:`chance_by`, and with uniform draws a sampler.

    Parameters
    ----------
    quantiles : shape (n, 33). [mi]
    probability : shape (n, m), or (m,) for the same probabilities in every row. [1], in [0, 1]

    Returns
    -------
    Miles, shape (n, m). [mi]. Held at the last stored quantile beyond a probability of 0.999.
    """
    quantiles = np.atleast_2d(quantiles)
    probability = np.broadcast_to(probability, (len(quantiles), np.shape(probability)[-1]))
    levels = np.concatenate([[0.0], PROBABILITIES])
    grid = np.concatenate([np.zeros((len(quantiles), 1)), np.maximum(quantiles, 0.0)], axis=1)
    i = np.clip(np.searchsorted(levels, probability, side="left"), 1, len(levels) - 1)
    left, right = np.take_along_axis(grid, i - 1, 1), np.take_along_axis(grid, i, 1)
    share = np.clip((probability - levels[i - 1]) / (levels[i] - levels[i - 1]), 0.0, 1.0)
    return np.asarray(left + share * (right - left))
