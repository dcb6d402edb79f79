"""The chance that points that must agree come to differ by more than they may.

The difference of two wears is itself a wear with a level, a rate and a Brownian part, so the chance that it
leaves the band ``(-L, L)`` follows from the joint paths: two points may both be far from their own limits and
yet part.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtri

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_IMAGES = 8
"""Images on each side: exact to rounding up to the distance at which hardly any path has stayed inside."""
_GONE = 4.0
"""Brownian variance over squared width beyond which less than 1e-8 of the paths have stayed inside. [1]"""
_LEAST_ROOT = 0.01
"""Brownian spread below one hundredth of the limit is taken as that, to keep the exponents within double
precision; it blurs the difference as a gauge of that repeatability would. [1]"""
_NODES = 64
"""Levels over which the chance is averaged, the middles of strata of equal probability: a chance that jumps
with the level is off by at most half a stratum, 0.008, where Gauss-Hermite nodes would miss it by more."""


@dataclass(frozen=True)
class Differences:
    """Difference of the values of n pairs: first less second. Shapes (n,).

    Attributes
    ----------
    level, level_var : difference now and its variance. [mm], [mm2]
    rate, rate_var : its rate. [mm/mi]
    level_rate_cov : covariance of both. [mm2/mi]
    tau2 : variance of the Brownian part per mile. [mm2/mi]
    """

    level: Floats
    level_var: Floats
    rate: Floats
    rate_var: Floats
    level_rate_cov: Floats
    tau2: Floats

    def only(self, kept: Bools) -> "Differences":
        """These pairs alone."""
        return Differences(*(getattr(self, field.name)[kept] for field in fields(self)))


def difference_of(
    first: Mapping[str, Floats], second: Mapping[str, Floats], rate_correlation: float = 0.0
) -> Differences:
    """Difference of two filtered states.

    Parameters
    ----------
    first, second : level, level_var, rate, rate_var, level_rate_cov, tau, each of shape (n,), on one scale.
    rate_correlation : correlation of the two rates. [1], in [-1, 1]; 0 where it is not known: of all
        correlations from 0 up it makes the difference spread the most.
    """
    shared = 2.0 * rate_correlation * np.sqrt(first["rate_var"] * second["rate_var"])
    return Differences(
        level=first["level"] - second["level"],
        level_var=first["level_var"] + second["level_var"],
        rate=first["rate"] - second["rate"],
        rate_var=np.maximum(first["rate_var"] + second["rate_var"] - shared, 0.0),
        level_rate_cov=first["level_rate_cov"] + second["level_rate_cov"],
        tau2=first["tau"] ** 2 + second["tau"] ** 2,
    )


def chance_differs(pair: Differences, limit: Floats, miles: Floats) -> Floats:
    """Chance that the difference has left the band at or before each distance.

    Parameters
    ----------
    pair : n differences.
    limit : shape (n,), largest difference allowed. [mm], > 0
    miles : shape (m,) or (n, m), distances from now, increasing along the row. [mi], >= 0

    Returns
    -------
    Chance, shape (n, m). [1], non-decreasing along the row; where the level may be outside now, that chance
    is in it.

    Notes
    -----
    The exit of Brownian motion with drift from an interval is a sum over images of its start. Integrated over
    a normal rate every term stays in closed form; an average over the level finishes it.
    Checked against a Monte Carlo of the paths and, for a far second bound, against the one-sided closed form.

    References
    ----------
    .. [1] D. R. Cox, H. D. Miller, *The Theory of Stochastic Processes*, 1965, section 5.7 (images, rate
    known).
    """
    miles = np.broadcast_to(np.asarray(miles, float), (len(pair.level), np.shape(miles)[-1]))
    level_sd = np.sqrt(np.maximum(pair.level_var, 0.0))
    per_sd = np.divide(pair.level_rate_cov, level_sd, out=np.zeros_like(level_sd), where=level_sd > 0)
    rate_var = np.maximum(pair.rate_var - per_sd**2, 0.0)[:, None]
    total = np.zeros(miles.shape)
    for score in ndtri((np.arange(_NODES) + 0.5) / _NODES):
        level, rate = (pair.level + level_sd * score)[:, None], (pair.rate + per_sd * score)[:, None]
        total += _left(level, rate, rate_var, (pair.tau2[:, None], limit[:, None]), miles)
    return np.clip(np.maximum.accumulate(total / _NODES, axis=1), 0.0, 1.0)


def chance_spread_exceeds(
    states: Mapping[str, Floats], limit: float, miles: Floats, *, paths: int = 4000, seed: int = 20260501
) -> Floats:
    """Chance that the spread of a whole set, largest less smallest, has exceeded the limit by each distance.

    Parameters
    ----------
    states : level, level_var, rate, rate_var, level_rate_cov, tau of the k points of the set, each of shape
        (k,).
    limit : largest spread allowed. [mm], > 0
    miles : shape (m,), increasing distances from now; the paths are followed in steps between them. [mi]
    paths, seed : futures and their seed.

    Returns
    -------
    Chance, shape (m,). [1], non-decreasing.

    Notes
    -----
    Paths of the k points, 96 steps to the last distance; between two steps the chance that the two outermost
    points part further and come back is that of a Brownian bridge. Simulation error below 0.008 (4,000
    paths).
    """
    rng = np.random.default_rng(seed)
    grid = np.unique(np.concatenate([np.linspace(0.0, float(miles[-1]), 97), miles]))
    k = len(states["level"])
    rate_sd = np.sqrt(np.maximum(states["rate_var"], 0.0))[:, None]
    slope = np.divide(
        states["level_rate_cov"][:, None], rate_sd, out=np.zeros_like(rate_sd), where=rate_sd > 0
    )
    level_sd = np.sqrt(np.maximum(states["level_var"][:, None] - slope**2, 0.0))  # given the rate
    score = rng.standard_normal((k, paths))
    rate = states["rate"][:, None] + rate_sd * score
    value = states["level"][:, None] + slope * score + level_sd * rng.standard_normal((k, paths))
    before = np.ptp(value, axis=0)
    inside = (before <= limit).astype(float)
    stayed = np.zeros(len(grid))
    stayed[0] = inside.mean()
    both = 2.0 * float(np.max(states["tau"])) ** 2
    for index, step in enumerate(np.diff(grid), start=1):
        if stayed[index - 1] == 0:
            break  # every path has left: none comes back
        value = value + rate * step + states["tau"][:, None] * np.sqrt(step) * rng.standard_normal((k, paths))
        after = np.ptp(value, axis=0)
        room = np.maximum(limit - before, 0.0) * np.maximum(limit - after, 0.0)
        touched = np.exp(-2.0 * room / (both * step)) if both > 0 else np.zeros(paths)
        inside = np.where(after > limit, 0.0, inside * (1.0 - touched))
        stayed[index], before = inside.mean(), after
    return 1.0 - np.interp(miles, grid, np.minimum.accumulate(stayed))


def _left(
    level: Floats, rate: Floats, rate_var: Floats, band: tuple[Floats, Floats], miles: Floats
) -> Floats:
    """Chance of having left (-limit, limit), level known, rate normal."""
    tau2, limit = band
    width = 2.0 * limit
    start = level + limit
    inside = (start > 0) & (start < width)
    start = np.where(inside, start, limit)
    distance = np.maximum(miles, 1e-9)
    brown = np.maximum(tau2 * distance, (_LEAST_ROOT * limit) ** 2)
    k = np.arange(-_IMAGES, _IMAGES + 1)[:, None, None]
    moments = rate * distance, rate_var * distance**2, brown
    stay = _images(2.0 * k * width, start, width, moments) - _images(
        2.0 * (k * width - start), start, width, moments
    )
    stay = np.where(brown > _GONE * width**2, 0.0, np.clip(stay, 0.0, 1.0))
    stay = np.where(miles <= 0, 1.0, stay)
    return np.where(inside, 1.0 - stay, 1.0)


def _images(shift: Floats, start: Floats, width: Floats, moments: tuple[Floats, Floats, Floats]) -> Floats:
    """Images ``shift`` away from the start: their shares inside the interval, summed, drift integrated out.

    With drift B = b d normal (mean, var) and Brownian variance s the image weighs ``exp(shift B / s)``;
    integrated, ``exp(shift mean / s + shift^2 var / (2 s^2))`` times a normal of mean ``start + shift + mean
    + shift var / s`` and variance ``s + var``.
    """
    mean, var, s = moments
    exponent = shift * mean / s + shift**2 * var / (2.0 * s**2)
    root = np.sqrt(s + var)
    center = start + shift + mean + shift * var / s
    upper, lower = (width - center) / root, -center / root
    # From the tail in which both ends lie, so that two numbers near one are never subtracted.
    flip = center < width / 2.0
    high = log_ndtr(np.where(flip, -lower, upper))
    low = log_ndtr(np.where(flip, -upper, lower))
    share = np.exp(np.minimum(exponent + high, 50.0)) - np.exp(np.minimum(exponent + low, 50.0))
    total: Floats = share.sum(axis=0)
    return total
