"""Scoring rules: how good a forecast distribution was, once the outcome is known. Lower is better.

A distribution is given by its quantiles. Between them its quantile function is taken to run straight; outside
the outermost ones it is taken to stay at them.

References
----------
.. [1] Gneiting, Raftery, *Strictly proper scoring rules, prediction, and estimation*, J. Am. Stat. Assoc.
   102 (2007) 359-378. doi:10.1198/016214506000001437
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def pinball(quantiles: ArrayLike, probabilities: ArrayLike, outcome: ArrayLike) -> Floats:
    """Pinball loss, averaged over the probabilities.

    Parameters
    ----------
    quantiles : shape (..., p). [any unit]
    probabilities : shape (p,). [1], in (0, 1)
    outcome : shape (...). [same unit]

    Returns
    -------
    Loss, shape (...). [same unit], >= 0; NaN where a quantile or the outcome is NaN.

    Notes
    -----
    (1{y < q} - p)(q - y): q above the outcome costs 1 - p for each unit, q below it costs p. An infinite
    quantile costs infinitely much: cap outcome and quantiles alike before.
    """
    p = np.asarray(probabilities, dtype=float)
    gap = np.asarray(quantiles, dtype=float) - np.asarray(outcome, dtype=float)[..., None]
    loss: Floats = np.mean(np.where(gap > 0, (1 - p) * gap, -p * gap), axis=-1)
    return loss


def crps(quantiles: ArrayLike, probabilities: ArrayLike, outcome: ArrayLike) -> Floats:
    """Continuous ranked probability score of the distribution that the quantiles draw, without approximation.

    Parameters
    ----------
    quantiles : shape (..., p), non-decreasing. [any unit]
    probabilities : shape (p,), increasing. [1], in (0, 1)
    outcome : shape (...). [same unit]

    Returns
    -------
    Score, shape (...). [same unit], >= 0; NaN where a quantile or the outcome is NaN.

    Notes
    -----
    Twice the pinball loss integrated over all probabilities [1]_. With q running straight from q0 at p0 to
    q1 at p1, it is integrated in closed form on either side of the probability at which q passes the outcome.
    """
    p = np.asarray(probabilities, dtype=float)
    gap = np.asarray(quantiles, dtype=float) - np.asarray(outcome, dtype=float)[..., None]
    gap = np.concatenate([gap[..., :1], gap, gap[..., -1:]], axis=-1)
    p = np.concatenate([[0.0], p, [1.0]])
    left, right = gap[..., :-1], gap[..., 1:]
    p0, p1 = np.broadcast_arrays(p[:-1], p[1:])
    rise = right - left
    share = np.clip(np.divide(-left, rise, out=np.where(left < 0, 1.0, 0.0), where=rise > 0), 0.0, 1.0)
    middle = p0 + share * (p1 - p0)
    at_middle = left + share * rise
    below = _integral(p0, middle, left, at_middle)
    above = _integral(1 - p1, 1 - middle, right, at_middle)
    score: Floats = 2.0 * np.sum(above - below, axis=-1)
    return score


def _integral(u0: Floats, u1: Floats, g0: Floats, g1: Floats) -> Floats:
    """Integral of u g(u), u from u0 to u1, g straight from g0 to g1 (Simpson: exact for a parabola)."""
    mid = (u0 + u1) * (g0 + g1)  # four times the product at the middle
    value: Floats = np.abs(u1 - u0) / 6.0 * (u0 * g0 + mid + u1 * g1)
    return value


def covered(quantiles: ArrayLike, probabilities: ArrayLike, outcome: ArrayLike, level: float) -> Floats:
    """Whether the central interval of a level holds the outcome: 1 or 0, NaN where that cannot be said.

    Parameters
    ----------
    level : e.g. 0.8 for the interval from the 10 % to the 90 % quantile, both of which must be among
        ``probabilities``. [1]

    Raises
    ------
    ValueError : a bound of the interval is not among the probabilities.
    """
    p = np.asarray(probabilities, dtype=float)
    q, y = np.asarray(quantiles, dtype=float), np.asarray(outcome, dtype=float)
    bounds = [int(np.abs(p - bound).argmin()) for bound in ((1 - level) / 2, (1 + level) / 2)]
    if not np.allclose(p[bounds], [(1 - level) / 2, (1 + level) / 2], atol=1e-9):
        msg = f"The {level:.0%} interval needs quantiles that are not among {p}."
        raise ValueError(msg)
    low, high = q[..., bounds[0]], q[..., bounds[1]]
    inside = (low <= y) & (y <= high)
    return np.where(np.isnan(low) | np.isnan(high) | np.isnan(y), np.nan, inside.astype(float))


def pit(quantiles: ArrayLike, probabilities: ArrayLike, outcome: ArrayLike) -> Floats:
    """Probability integral transform: the probability at which the forecast placed what happened.

    Returns
    -------
    Shape of ``outcome``. [1], uniform on [0, 1] for a calibrated forecaster; NaN where quantiles or outcome
    are NaN. An outcome beyond the outermost quantile stands halfway between its probability and 0 or 1; one
    that sits on several equal quantiles stands in their middle.
    """
    p = np.asarray(probabilities, dtype=float)
    q, y = np.asarray(quantiles, dtype=float), np.asarray(outcome, dtype=float)
    below = (q < y[..., None]).sum(axis=-1)
    passed = (q <= y[..., None]).sum(axis=-1)
    last = len(p) - 1
    on_quantile = (p[np.clip(below, 0, last)] + p[np.clip(passed - 1, 0, last)]) / 2
    value = np.where(passed > below, on_quantile, _between(q, p, y, below))
    return np.where(np.isnan(q).any(axis=-1) | np.isnan(y), np.nan, value)


def _between(q: Floats, p: Floats, y: Floats, below: NDArray[np.int64]) -> Floats:
    """Probability of an outcome that no quantile equals, of which so many quantiles stand below."""
    i = np.clip(below, 1, len(p) - 1)
    left, right = (np.take_along_axis(q, (i + k)[..., None], -1)[..., 0] for k in (-1, 0))
    known = np.isfinite(right) & (right > left)
    with np.errstate(invalid="ignore"):
        share = np.where(known, (y - left) / np.where(known, right - left, 1.0), 0.5)
    inside = p[i - 1] + np.clip(share, 0.0, 1.0) * (p[i] - p[i - 1])
    return np.where(below == 0, p[0] / 2, np.where(below == len(p), (1 + p[-1]) / 2, inside))
