"""Wear at as-of: the state of every life that is forecast, as means and variances."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

if TYPE_CHECKING:
    from models.wear.model import PooledWear

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

YOUNGEST = 0.05
"""Lives that a part is taken to have run at least, for its rate: wear that slows with the miles has no finite
rate at the first of them. A scale, no claim."""
HALVINGS = 20
"""Of the range of rates in which the median is looked for: to a millionth of it."""


@dataclass(frozen=True)
class WearNow:
    """Wear at as-of: mean, variances and rate of each life asked for, shape (f,). Units of the lives, and
    miles.

    ``rate`` is the present wear per mile, positive toward the limit, its mean, and ``median_rate`` its
    median: as many parts of the mixture wear faster as slower. Beyond the limit it is the rate at the limit:
    how wear goes on there nobody has learned. ``tau`` is the Brownian spread per root mile.
    """

    level: Floats
    level_var: Floats
    rate: Floats
    rate_var: Floats
    cov: Floats
    tau: Floats
    sigma: Floats
    median_rate: Floats


def wear_now(model: "PooledWear", life: Ints) -> WearNow:
    """Moments of the mixture at as-of."""
    rel = model.relative_
    row = model.row_of_[life]
    n = len(rel.order)
    sums = np.zeros((7, n))
    rates: list[tuple[Ints, Floats, Floats, Floats]] = []
    for c in model.components_:
        as_of = rel.as_of[c.life] * c.factor
        u0 = c.shape.distance(as_of)
        d = np.maximum(u0 - c.u, 0.0)
        plain = np.maximum(as_of - c.m, 0.0)
        z = c.x + c.b * d
        wear = np.clip(c.shape.straight_wear(z), -1.0, 3.0)
        slope = c.shape.slope(np.minimum(wear, c.shape.straight_wear(c.limit)))
        run = np.maximum(as_of, YOUNGEST)
        bent = c.shape.power * c.shape.distance(run) / run if c.shape.power != 1 else 1.0
        gain = bent / slope * c.factor  # wear per common distance of one unit of bent rate
        var = np.maximum(c.xx + 2.0 * c.xb * d + c.bb * d * d, 0.0) / slope**2 + c.tau2 * plain
        rate, rate_var = c.b * gain, c.bb * gain**2
        rates.append((c.life, c.weight, rate, np.sqrt(rate_var)))
        cov = (c.xb + c.bb * d) / slope * gain
        tau2 = c.tau2 * c.factor
        parts = (wear, var + wear**2, rate, rate_var + rate**2, cov + wear * rate, tau2, c.sigma2)
        for i, part in enumerate(parts):
            np.add.at(sums[i], c.life, c.weight * part)
    mean, square, rate, rate_square, cross, tau2, sigma2 = sums[:, row]
    allowance, scale = rel.per_life(rel.allowance)[row], rel.per_life(rel.life)[row]
    return WearNow(
        level=mean * allowance,
        level_var=np.maximum(square - mean**2, 1e-18) * allowance**2,
        rate=rate * allowance / scale,
        rate_var=np.maximum(rate_square - rate**2, 1e-18) * (allowance / scale) ** 2,
        cov=(cross - mean * rate) * allowance**2 / scale,
        tau=np.sqrt(tau2 / scale) * allowance,
        sigma=np.sqrt(sigma2) * allowance,
        median_rate=_medians(rates, n)[row] * allowance / scale,
    )


def _medians(parts: list[tuple[Ints, Floats, Floats, Floats]], n: int) -> Floats:
    """Median of a mixture of normals of each of n lives, by halving.

    Parameters
    ----------
    parts : life, weight, mean and standard deviation of pairs.
    """
    life, weight, mean, sd = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    low, high, whole = np.full(n, np.inf), np.full(n, -np.inf), np.bincount(life, weight, n)
    np.minimum.at(low, life, mean - 2.0 * sd)
    np.maximum.at(high, life, mean + 2.0 * sd)
    low, high = np.where(whole > 0, low, 0.0), np.where(whole > 0, high, 0.0)
    spread = np.maximum(sd, 1e-12)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        below = np.bincount(life, weight * ndtr((middle[life] - mean) / spread), n)
        more = below < 0.5 * whole
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    return np.asarray(0.5 * (low + high))


def at_pace(wear: WearNow, factor: Floats, factor_var: Floats) -> WearNow:
    """Wear per mile from wear per effective mile.

    Parameters
    ----------
    factor, factor_var : shape (f,). Wear per mile over wear per effective mile, and its variance.
    """
    return replace(
        wear,
        rate=wear.rate * factor,
        median_rate=wear.median_rate * factor,
        rate_var=wear.rate_var * (factor**2 + factor_var) + wear.rate**2 * factor_var,
        cov=wear.cov * factor,
        tau=wear.tau * np.sqrt(factor),
    )
