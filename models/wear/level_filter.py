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
        that tells nothing.
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
    p = np.zeros(shape)
    w1, wu, wy = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    sums = [np.zeros(shape) for _ in range(7)]
    a00, a01, a11, c0, c1, e, logdet = sums
    product = np.ones(shape)  # of the totals since the last logarithm, which costs more than all the rest
    present = np.isfinite(y) & np.isfinite(noise)
    clock = u if clock is None else clock
    before = np.zeros(len(u))
    for i in range(u.shape[1]):
        here = present[:, i]
        if not here.any():
            continue
        now = np.where(here, clock[:, i], before)
        p += q * (now - before)
        if jump is not None:
            p += np.where(here, jump[:, i], 0.0)
        before = now
        at = np.where(here, u[:, i], 0.0)
        total = p + np.where(here, noise[:, i], 1.0)
        weight = here / total
        r1, ru, ry = 1.0 - w1, at - wu, np.where(here, y[:, i], 0.0) - wy
        g1, gu = r1 * weight, ru * weight
        a00 += r1 * g1
        a01 += ru * g1
        a11 += ru * gu
        c0 += ry * g1
        c1 += ry * gu
        e += ry * ry * weight
        product *= np.where(here, total, 1.0)
        if i % LOG_EVERY == LOG_EVERY - 1:
            logdet += np.log(product)
            product[:] = 1.0
        gain = p * weight
        w1 += gain * r1
        wu += gain * ru
        wy += gain * ry
        p -= gain * p
    logdet += np.log(product)
    return Filtered(a00, a01, a11, c0, c1, e, logdet, w1, wu, wy, p)


@dataclass(frozen=True)
class Smoothed:
    """Per reading, for one set of ratios; shape (n, k), zero where there is no reading.

    Attributes
    ----------
    s1, su, sy : the columns ones, distance and reading, each times C^-1.
    d : the diagonal of C^-1.
    """

    s1: Floats
    su: Floats
    sy: Floats
    d: Floats


def smoothed_disturbances(
    u: Floats,
    y: Floats,
    noise: Floats,
    q: Floats,
    clock: Floats | None = None,
    jump: Floats | None = None,
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
    p, level, before = np.zeros(n), np.zeros((3, n)), np.zeros(n)
    for i in range(k):
        here = present[:, i]
        now = np.where(here, clock[:, i], before)
        p = p + q * (now - before)
        if jump is not None:
            p = p + np.where(here, jump[:, i], 0.0)
        before = now
        at = np.where(here, u[:, i], 0.0)
        weight[:, i] = here / (p + np.where(here, noise[:, i], 1.0))
        gain[:, i] = p * weight[:, i]
        residual[:, :, i] = np.stack([np.ones(n), at, np.where(here, y[:, i], 0.0)]) - level
        level = level + gain[:, i] * residual[:, :, i]
        p = p - gain[:, i] * p
    out, diagonal = np.zeros((3, n, k)), np.zeros((n, k))
    r, big_n = np.zeros((3, n)), np.zeros(n)
    for i in range(k - 1, -1, -1):
        out[:, :, i] = residual[:, :, i] * weight[:, i] - gain[:, i] * r
        diagonal[:, i] = weight[:, i] + gain[:, i] ** 2 * big_n
        r = residual[:, :, i] * weight[:, i] + (1.0 - gain[:, i]) * r
        big_n = weight[:, i] + (1.0 - gain[:, i]) ** 2 * big_n
    out *= present
    return Smoothed(out[0], out[1], out[2], diagonal * present)
