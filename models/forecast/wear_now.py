"""Wear at as-of: the state of every life that is forecast, as means and variances."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from models.wear.model import PooledWear

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class WearNow:
    """Wear at as-of: mean, variances and rate of each life asked for, shape (f,). Units of the lives, and
    miles.

    ``rate`` is the present wear per mile, positive toward the limit; ``tau`` the Brownian spread per root
    mile.
    """

    level: Floats
    level_var: Floats
    rate: Floats
    rate_var: Floats
    cov: Floats
    tau: Floats
    sigma: Floats


def wear_now(model: "PooledWear", life: Ints) -> WearNow:
    """Moments of the mixture at as-of."""
    rel = model.relative_
    row = model.row_of_[life]
    n = len(rel.order)
    sums = np.zeros((7, n))
    for c in model.components_:
        as_of = rel.as_of[c.life] * c.factor
        u0 = c.shape.distance(as_of)
        d = np.maximum(u0 - c.u, 0.0)
        plain = np.maximum(as_of - c.m, 0.0)
        z = c.x + c.b * d
        wear = np.clip(c.shape.straight_wear(z), -1.0, 3.0)
        slope = c.shape.slope(wear)
        bent = (
            np.where(as_of > 0, c.shape.power * u0 / np.where(as_of > 0, as_of, 1.0), 1.0)
            if c.shape.power != 1
            else 1.0
        )
        gain = bent / slope * c.factor  # wear per common distance of one unit of bent rate
        var = np.maximum(c.xx + 2.0 * c.xb * d + c.bb * d * d, 0.0) / slope**2 + c.tau2 * plain
        rate, rate_var = c.b * gain, c.bb * gain**2
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
    )
