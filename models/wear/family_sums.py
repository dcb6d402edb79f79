"""Sums over the lives of a family, each life's own start and rate integrated out, and the gauge error that
they speak for."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.wear.level_filter import Filtered

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STILL = 1e-6
"""Rate over the pooled one up to which readings do not move; also the share of its most that a determinant
must have to tell a rate."""
NEWTON_STEPS = 4
"""Towards the highest of a gauge error's posterior: to a hundredth of its spread."""


@dataclass(frozen=True)
class FamilySums:
    """Sums over the lives of a family, per node, each (g, f), with V the covariance of a life's
    readings: X'V^-1 X, X'V^-1 y, y'V^-1 y and log det V."""

    info00: Floats
    info01: Floats
    info11: Floats
    cross0: Floats
    cross1: Floats
    quad: Floats
    logdet: Floats


def family_sums(stats: Filtered, ra: Floats, rb: Floats, starts: Ints) -> FamilySums:
    """Integrate each life's own start and rate out, and add up over the family.

    Parameters
    ----------
    stats : arrays of shape (..., n), lives sorted by family.
    ra, rb : variance ratios of start and rate, broadcastable to (..., n).
    starts : shape (f,). Index of each family's first life.

    Returns
    -------
    FamilySums : arrays of shape (..., f).

    Notes
    -----
    With A = X'C^-1 X, c = X'C^-1 y and R = diag(ra, rb): info = A (I + R A)^-1, cross = (I + A R)^-1 c,
    quad = y'C^-1 y - c'(I + R A)^-1 R c, by the matrix inversion lemma; R may be zero.
    """
    det = (1.0 + ra * stats.a00) * (1.0 + rb * stats.a11) - ra * rb * stats.a01**2
    inverse = 1.0 / det
    delta = stats.a00 * stats.a11 - stats.a01**2
    cross0 = ((1.0 + rb * stats.a11) * stats.c0 - rb * stats.a01 * stats.c1) * inverse
    cross1 = ((1.0 + ra * stats.a00) * stats.c1 - ra * stats.a01 * stats.c0) * inverse
    parts = (
        (stats.a00 + rb * delta) * inverse,
        stats.a01 * inverse,
        (stats.a11 + ra * delta) * inverse,
        cross0,
        cross1,
        stats.e - (ra * cross0 * stats.c0 + rb * cross1 * stats.c1),
        stats.logdet + np.log(det),
    )
    return FamilySums(*(np.add.reduceat(part, starts, axis=-1) for part in parts))


def sigma_centre(
    sums: FamilySums, n: Floats, log_sigma: Floats | float, log_sigma_sd: Floats | float, alone: bool
) -> tuple[Floats, Floats]:
    """Centre and spread of log sigma at each node: the data's residual and the prior, weighed.

    ``alone`` : the readings are those of a store's only life.
    """
    ridge = 1e-9 * (sums.info00 + sums.info11) + 1e-300
    info00, info11 = sums.info00 + ridge, sums.info11 + ridge
    det = np.maximum(info00 * info11 - sums.info01**2, 1e-300)
    fitted = (
        info11 * sums.cross0**2 - 2 * sums.info01 * sums.cross0 * sums.cross1 + info00 * sums.cross1**2
    ) / det
    dof = np.maximum(n - 2.0, 0.5)
    level, slope = sums.cross0**2 / info00, info00 * sums.cross1 - sums.info01 * sums.cross0
    fitted = np.where(slope < 0, level, fitted)  # parts do not grow back: then no wear fits best
    # A floor: readings that fit a line to the last digit do not prove a gauge without error.
    residual = np.maximum(sums.quad - fitted, 1e-10 * dof) / dof
    data, known = 2.0 * dof, 1.0 / np.asarray(log_sigma_sd) ** 2
    centre = (data * 0.5 * np.log(residual) + known * log_sigma) / (data + known)
    width = np.broadcast_to(np.sqrt(1.0 / (data + known)), centre.shape)
    # Elsewhere the first centre does: mended too, families of two lives, one to four readings, lost 3 % more.
    told = (n > 2) & (det > STILL * info00 * info11)
    still = alone | (told & (slope <= STILL * det))
    return _not_too_small(centre, width, residual, dof, known, np.where(still, log_sigma, -np.inf))


def _not_too_small(
    centre: Floats, width: Floats, residual: Floats, dof: Floats, known: Floats, log_sigma: Floats | float
) -> tuple[Floats, Floats]:
    """Centre and spread of log sigma, mended where a residual by chance near zero draws the centre below the
    posterior: however small it is, the log likelihood rises by no more than ``dof`` a unit of log sigma.
    Nothing is mended where ``log_sigma`` is -inf.

    There the highest of the posterior is found by Newton's steps from below, which never step past it.
    """
    least = np.broadcast_to(log_sigma - dof / known, centre.shape)
    low = np.flatnonzero(centre.ravel() < least.ravel())
    if not len(low):
        return centre, width
    shape = centre.shape
    start, rest, free, held = (np.broadcast_to(x, shape).ravel()[low] for x in (least, residual, dof, known))
    log_s = start
    for _ in range(NEWTON_STEPS):
        by_data = free * rest * np.exp(-2.0 * log_s)
        log_s = log_s + (by_data - held * (log_s - start)) / (2.0 * by_data + held)
    info = 2.0 * free * rest * np.exp(-2.0 * log_s) + held
    centre, width = centre.copy(), width.copy()
    centre.ravel()[low], width.ravel()[low] = log_s, 1.0 / np.sqrt(info)
    return centre, width
