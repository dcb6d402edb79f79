"""Lives of the parts of one vehicle that share its futures: drawn together, each as its own forecast says."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEVELS: Floats = np.array([0.05, 0.25, 0.5, 0.75, 0.95])
"""Probabilities of the quantiles that a forecast keeps of the remaining miles in each future."""
FAR = 1e9
"""Miles that stand for a limit never reached. [mi]"""
IN_FUTURES, PACE = "in_futures", "pace"
"""Columns of a forecast's frame ``distribution``, empty where the parts of the vehicle share nothing:
quantiles of the remaining miles at ``LEVELS`` in each future of the vehicle, one future after the other, and
the factor on the wear of a season ahead in each."""


def share_futures(distribution: pd.DataFrame) -> NDArray[np.bool_]:
    """Whether each wear point of the frame has futures that its vehicle's other parts share."""
    if IN_FUTURES not in distribution:
        return np.zeros(len(distribution), dtype=bool)
    return np.array([row is not None and np.size(row) > 0 for row in distribution[IN_FUTURES]], dtype=bool)


def remaining_scores(given: Floats, future: Ints, own: Floats) -> Floats:
    """Normal scores of the lives in service.

    Parameters
    ----------
    given : shape (p, K, 5). Remaining miles in each future at ``LEVELS``. [mi]
    future : shape (p, n). The future of each draw, the same for all parts of a vehicle.
    own : shape (p, n). Normal scores within the future.

    Returns
    -------
    Shape (p, n), as standard normal along the draws as their number allows.
    """
    logs = np.log(np.clip(np.nan_to_num(given, nan=FAR, posinf=FAR), 1.0, FAR))
    levels = ndtri(LEVELS)
    out = np.empty(own.shape)
    for i in range(len(own)):
        place = np.clip(np.searchsorted(levels, own[i]), 1, len(levels) - 1)
        left, right = logs[i][future[i], place - 1], logs[i][future[i], place]
        share = (own[i] - levels[place - 1]) / (levels[place] - levels[place - 1])
        out[i] = _scores(left + share * (right - left), own[i])
    return out


def next_life_scores(pace: Floats, spread: Floats, future: Ints, own: Floats) -> Floats:
    """Normal scores of lives that begin later.

    Parameters
    ----------
    pace : shape (p, K). Factor on the wear per mile ahead in each future. [1]
    spread : shape (p,). Standard deviation of the log of the life. [1]
    future, own : as for :func:`remaining_scores`.
    """
    logs = np.log(np.maximum(pace, 1e-3))
    within = np.sqrt(np.maximum(spread**2 - logs.var(axis=1), 0.01 * spread**2))
    return np.stack([_scores(within[i] * own[i] - logs[i][future[i]], own[i]) for i in range(len(own))])


def _scores(values: Floats, ties: Floats) -> Floats:
    """Normal scores of the ranks of values, (n,); equal ones in the order of ``ties``."""
    rank = np.empty(len(values))
    rank[np.lexsort((ties, values))] = np.arange(len(values))
    return np.asarray(ndtri((rank + 0.5) / len(values)))


def future_of(score: Floats, futures: int) -> Ints:
    """Future of each draw from standard normal scores, any shape."""
    return np.minimum((ndtr(score) * futures).astype(np.int64), futures - 1)
