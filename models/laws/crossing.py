"""First passage of the wear through its limit, when the rate of a life is itself uncertain.

The wear from now on is ``x + b d + tau W(d)``; the distance at which it first reaches the limit, ``h`` away,
has for a known rate the inverse Gaussian distribution. With the rate normal the distribution is still in
closed form.

References
----------
.. [1] R. S. Chhikara, J. L. Folks, *The Inverse Gaussian Distribution*, 1989 (rate known).
.. [2] X. Wang, "Wiener processes with random effects for degradation data",
   J. Multivariate Analysis 101 (2010) 340-351 (rate normal).
"""

import numpy as np
from numpy.typing import NDArray
from scipy.special import erfc, erfcx, ndtr, ndtri

Floats = NDArray[np.float64]

ROOT_HALF = np.sqrt(0.5)
SMALLEST = 1e-150
FAR = 1e9
"""Distance, in lives, that stands for all distances."""


def crossing_chance(drift: Floats, drift_var: Floats, brownian_var: Floats, left: Floats) -> Floats:
    """Chance that the wear reaches the limit on the way to some distance ahead.

    Parameters
    ----------
    drift : mean wear over that distance, rate x distance.
    drift_var : variance of the wear there for what is fixed but unknown, the rate (and the present level): v
        d^2. >= 0
    brownian_var : variance of the Brownian part over the distance, tau^2 d. >= 0; where it is 0 the chance
        is 0
    left : wear left to the limit; zero or less: it is already there, chance 1.
        All in one unit, and broadcast against each other.

    Returns
    -------
    Chance [1], in [0, 1].

    Examples
    --------
    A part wears 1 thou per 1,000 miles, give or take 0.2, with a Brownian spread of 1 thou over 1,000 miles;
    20 thou are left. The chance that they are used up within 10, 20 and 30 thousand miles:

    >>> import numpy as np
    >>> from models.laws.crossing import crossing_chance
    >>> d = np.array([10.0, 20.0, 30.0])
    >>> crossing_chance(1.0 * d, 0.2**2 * d**2, 1.0**2 * d, np.array(20.0)).round(3)
    array([0.005, 0.533, 0.906])

    Notes
    -----
    With B, V, T for the three and h left, ``F = Phi(score1) + exp(2 B h / T + 2 V h^2 / T^2) Phi(-score2)``,
    ``S^2 = V + T``, ``score1 = (B - h) / S``, ``score2 = (2 V h / T + B + h) / S``: for rate b ~ N(b, v), B =
    b d, V = v d^2, T = tau^2 d this is [2]_. The exponent less ``score2^2 / 2`` is ``-score1^2 / 2`` exactly,
    so the second term is ``exp(-score1^2 / 2) erfcx(score2 / sqrt 2) / 2``: nothing overflows, however small
    tau is.

    Two uses go beyond the exact case. A level known with variance p and covariance c with the rate is put
    into V = v d^2 + 2 c d + p; against quadrature over the level it is off by at most 0.02 when the level's
    spread is as large as the wear left, and by less than 0.001 when it is a tenth of it. A mean path that
    bends is taken by its totals, as though straight on the way: exact in the limit of a small Brownian part.
    """
    h = np.maximum(left, 0.0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore", under="ignore"):
        s = np.sqrt(drift_var + brownian_var) + SMALLEST
        score1 = (drift - h) / s
        score2 = (2.0 * drift_var * h / (brownian_var + SMALLEST) + drift + h) / s
        second = np.exp(-0.5 * score1 * score1) * erfcx(np.maximum(score2 * ROOT_HALF, -25.0))
    chance = 0.5 * (erfc(-score1 * ROOT_HALF) + second)
    chance = np.where(brownian_var > 0, np.minimum(chance, 1.0), 0.0)
    return np.where(left <= 0, 1.0, chance)


def ever_crossing_chance(rate: Floats, rate_var: Floats, tau2: Floats, left: Floats) -> Floats:
    """Chance that the wear ever reaches the limit: the limit of :func:`crossing_chance` for a distance
    without end.

    Below 1 only because a normal rate may be negative.
    """
    return crossing_chance(rate * FAR, rate_var * FAR * FAR, tau2 * FAR, left)


LEVELS, SHARES = (0.5 * (np.polynomial.legendre.leggauss(8)[i] + shift) for i, shift in ((0, 1.0), (1, 0.0)))
"""Shares of the levels below the limit at which :func:`near_limit` takes them, and their weights (Gauss and
Legendre)."""


def near_limit(
    left: Floats, motion: tuple[Floats, Floats, Floats, Floats], tau2: Floats, d: Floats, plain: Floats
) -> tuple[Floats, Floats]:
    """Chance that a limit is reached where the level may be on either side of it, shape (n, r), and that it
    ever is, (n,).

    Parameters
    ----------
    left : shape (n,). Wear left to the limit from the mean level.
    motion : rate, its variance, its covariance with the level, the level's variance; each of shape (n,).
    tau2 : shape (n,). Brownian variance per plain distance.
    d, plain : shape (n, r). Distance ahead on the scale of the rate, and plain.

    Notes
    -----
    Beyond already by the normal law of the level; else :func:`crossing_chance` from each of eight levels
    below the limit, with the rate that goes with it. In the closed form alone a level at the limit has
    reached it for certain.
    """
    rate, rate_var, cov, level_var = motion
    sd = np.sqrt(level_var)
    beyond = ndtr(-left / sd)
    below = ndtri(np.clip(beyond + (1.0 - beyond) * LEVELS[:, None], 1e-15, 1.0 - 1e-15))
    still, own = np.maximum(left + sd * below, 0.0), rate - cov / sd * below
    own_var = np.maximum(rate_var - cov**2 / level_var, 0.0)
    reached, ever = np.zeros(d.shape), np.zeros(len(left))
    for h, b, share in zip(still, own, SHARES, strict=True):
        spread = own_var[:, None] * d * d
        reached += share * crossing_chance(b[:, None] * d, spread, tau2[:, None] * plain, h[:, None])
        ever += share * ever_crossing_chance(b, own_var, np.maximum(tau2, 1e-300), h)
    ever = beyond + (1.0 - beyond) * ever
    return beyond[:, None] + (1.0 - beyond[:, None]) * reached, np.maximum(ever, 1e-6)
