"""The Kalman filter of the wear level, run over many lives at once.

A life's readings, given its starting level ``a`` and its rate ``b``, are ``a + b u + W(u) + noise`` with W a
Wiener process. Both ``a`` and ``b`` enter linearly, so the filter is run once on three columns (ones,
distance, reading) and everything about ``a`` and ``b`` follows afterwards from 2 x 2 algebra: the same
likelihood and the same states as the filter with level and rate as its two states, for any number of spreads
of ``a`` and ``b`` at the cost of one pass.

References
----------
.. [1] J. Durbin, S. J. Koopman, *Time Series Analysis by State Space Methods*, 2nd ed., 2012, sections 2.2
(filter),
   4.5.3 and 7.5 (smoothed disturbances, deletion residuals).
.. [2] P. de Jong, "The likelihood for a state space model", Biometrika 75 (1988) 165-169 (filtering the
   regression columns beside the data).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.wear.relative import Straightened

Floats = NDArray[np.float64]

LOG_EVERY = 4
"""Readings whose variances are multiplied before a logarithm is taken: too few to overflow."""


@dataclass(frozen=True)
class Filtered:
    """What one pass leaves of each life; leading axis ``...`` runs over the variance ratios tried.

    With C the covariance of W + noise (in units of the noise variance) and X = [1, u]:

    Attributes
    ----------
    a00, a01, a11 : X' C^-1 X, each of shape (..., n).
    c0, c1 : X' C^-1 y, each of shape (..., n).
    e : y' C^-1 y, shape (..., n).
    logdet : log det C, shape (..., n).
    w1, wu, wy : filtered W at the last reading is ``wy - w1 a - wu b``; each of shape (..., n).
    wv : its variance, shape (..., n).
    """

    a00: Floats
    a01: Floats
    a11: Floats
    c0: Floats
    c1: Floats
    e: Floats
    logdet: Floats
    w1: Floats
    wu: Floats
    wy: Floats
    wv: Floats


def level_filter(
    u: Floats, y: Floats, noise: Floats, q: Floats, clock: Floats | None = None, jump: Floats | None = None
) -> Filtered:
    """Filter the level of all lives, one numpy step per reading index.

    Parameters
    ----------
    u : shape (n, k). Distance at each reading, non-decreasing. Any entry beyond the last reading is ignored.
    y : shape (n, k). Readings; NaN where there is none.
    noise : shape (n, k). Variance of each reading in units of the noise variance; inf for a reading
        that says nothing.
    q : shape (..., n). Variance of W per unit of its clock, in units of the noise variance.
    clock : shape (n, k), optional. Time of W at each reading, non-decreasing from 0; the distance u if not
        given.
    jump : shape (n, k), optional. Further variance of the level's step before each reading (a cut of unknown
        depth), same units.

    Returns
    -------
    Filtered : arrays of shape (..., n).
    """
    shape = np.broadcast_shapes(q.shape, (len(u),))
    sums = Filtered(*(np.zeros(shape) for _ in range(11)))
    wv, logdet = sums.wv, sums.logdet  # the same arrays, which are added to in place
    product = np.ones(shape)  # of the totals since the last logarithm, which costs more than all the others
    present = np.isfinite(y) & np.isfinite(noise)
    clock = u if clock is None else clock
    before = np.zeros(len(u))
    for i in range(u.shape[1]):
        read = present[:, i]
        if not read.any():
            continue
        time = np.where(read, clock[:, i], before)
        wv += q * (time - before)
        if jump is not None:
            wv += np.where(read, jump[:, i], 0.0)
        before = time
        total = wv + np.where(read, noise[:, i], 1.0)
        _take_in(sums, np.where(read, u[:, i], 0.0), np.where(read, y[:, i], 0.0), read / total)
        product *= np.where(read, total, 1.0)
        if i % LOG_EVERY == LOG_EVERY - 1:
            logdet += np.log(product)
            product[:] = 1.0
    logdet += np.log(product)
    return sums


def filter_lives(data: Straightened, q: Floats) -> Filtered:
    """:func:`level_filter` of straightened lives."""
    return level_filter(data.u, data.z, data.noise, q, data.clock, data.jump)


def _take_in(sums: Filtered, u: Floats, y: Floats, weight: Floats) -> None:
    """Add a reading of each life to the sums, in place.

    ``weight`` : one over the variance of the reading about its forecast; 0 for a life without a reading.
    """
    r1, ru, ry = 1.0 - sums.w1, u - sums.wu, y - sums.wy
    g1, gu = r1 * weight, ru * weight
    a00, a01, a11, c0, c1, e = sums.a00, sums.a01, sums.a11, sums.c0, sums.c1, sums.e
    a00 += r1 * g1
    a01 += ru * g1
    a11 += ru * gu
    c0 += ry * g1
    c1 += ry * gu
    e += ry * ry * weight
    w1, wu, wy, wv = sums.w1, sums.wu, sums.wy, sums.wv
    gain = wv * weight
    w1 += gain * r1
    wu += gain * ru
    wy += gain * ry
    wv -= gain * wv


@dataclass(frozen=True)
class Smoothed:
    """Per reading, for one set of ratios; shape (n, k), zero where there is no reading.

    Attributes
    ----------
    s1, su, sy : the columns ones, distance and reading, each times C^-1.
    diagonal : of C^-1.
    """

    s1: Floats
    su: Floats
    sy: Floats
    diagonal: Floats


def smoothed_disturbances(
    u: Floats, y: Floats, noise: Floats, q: Floats, clock: Floats | None = None, jump: Floats | None = None
) -> Smoothed:
    """C^-1 applied to the three columns, and its diagonal: what a reading says against all the others.

    Parameters
    ----------
    u, y, noise, clock, jump : shape (n, k), as in :func:`level_filter`.
    q : shape (n,).
    """
    n, k = u.shape
    present = np.isfinite(y) & np.isfinite(noise)
    residual = np.zeros((3, n, k))
    weight, gain = np.zeros((n, k)), np.zeros((n, k))
    clock = u if clock is None else clock
    wv, level, before = np.zeros(n), np.zeros((3, n)), np.zeros(n)
    for i in range(k):
        read = present[:, i]
        time = np.where(read, clock[:, i], before)
        wv = wv + q * (time - before)
        if jump is not None:
            wv = wv + np.where(read, jump[:, i], 0.0)
        before = time
        weight[:, i] = read / (wv + np.where(read, noise[:, i], 1.0))
        gain[:, i] = wv * weight[:, i]
        columns = [np.ones(n), np.where(read, u[:, i], 0.0), np.where(read, y[:, i], 0.0)]
        residual[:, :, i] = np.stack(columns) - level
        level = level + gain[:, i] * residual[:, :, i]
        wv = wv - gain[:, i] * wv
    out, diagonal = np.zeros((3, n, k)), np.zeros((n, k))
    later, later_var = np.zeros((3, n)), np.zeros(n)  # what the later readings add, and its variance
    for i in range(k - 1, -1, -1):
        out[:, :, i] = residual[:, :, i] * weight[:, i] - gain[:, i] * later
        diagonal[:, i] = weight[:, i] + gain[:, i] ** 2 * later_var
        later = residual[:, :, i] * weight[:, i] + (1.0 - gain[:, i]) * later
        later_var = weight[:, i] + (1.0 - gain[:, i]) ** 2 * later_var
    out *= present
    return Smoothed(out[0], out[1], out[2], diagonal * present)
