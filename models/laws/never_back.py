"""Parts do not grow back: what a mean rate is, given that it is above zero."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

Floats = NDArray[np.float64]

SURELY_WEARS = 9.0
"""Standard deviations above zero from which a rate is positive to the last digit."""


def never_back(
    mean: tuple[Floats, Floats], precision: tuple[Floats, Floats, Floats]
) -> tuple[Floats, Floats, Floats, Floats]:
    """Mean start and rate, and the rate's precision, given that parts do not grow back: the rate is above
    zero; and the log of the chance of that before. Arrays of one shape.

    Notes
    -----
    The cut normal is taken as the normal of its mean and variance [1]_: what that adds is a normal factor on
    the rate alone, so the precision's other two entries stay. Where the rate is nine of its standard
    deviations above zero nothing changes to the last digit.

    References
    ----------
    .. [1] N. L. Johnson, S. Kotz, N. Balakrishnan, *Continuous Univariate Distributions* 1, 2nd ed. 1994,
       section 13.10.1.
    """
    (a0, mu), (p00, p01, p11) = mean, precision
    own = p11 - p01 * p01 / p00  # precision of the rate, the start integrated out
    score = mu * np.sqrt(own)
    near = np.flatnonzero(score.ravel() < SURELY_WEARS)
    log_chance = np.zeros(score.shape)
    if not len(near):
        return a0, mu, p11, log_chance
    z = np.maximum(score.ravel()[near], -1e6)
    chance = np.asarray(log_ndtr(z))
    log_chance.ravel()[near] = chance
    # Mean and variance of a unit normal about z, given that it is positive; far below zero an exponential's.
    hazard = np.exp(-0.5 * z * z - 0.5 * np.log(2.0 * np.pi) - chance)
    above = np.where(z < -30.0, -1.0 / np.minimum(z, -1.0), z + hazard)
    kept = np.where(z < -30.0, above**2, 1.0 - hazard * above)
    moved, more = np.zeros(score.size), np.zeros(score.size)
    root = np.sqrt(own.ravel()[near])
    moved[near] = above / root - mu.ravel()[near]
    more[near] = (1.0 / kept - 1.0) * root**2
    shift = moved.reshape(score.shape)
    return a0 - p01 / p00 * shift, mu + shift, p11 + more.reshape(score.shape), log_chance
