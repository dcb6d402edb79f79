"""Straight lines of wear whose level and rate are not known for sure: where they cross, what they will read.

With a t or normal quantile this is Fieller's problem (inverse regression): the chance that the line has
crossed the limit by a distance is the chance that its level there is at or beyond it.

References
----------
.. [1] Fieller, *Some problems in interval estimation*, J. R. Stat. Soc. B 16 (1954) 175-185.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Lines:
    """n uncertain lines: level at a given distance, and rate.

    Attributes
    ----------
    level, rate : shape (n,). Expected level at ``origin`` and wear per mile. [unit], [unit/mi]
    level_var, rate_var, covariance : shape (n,). Of the two.
    reading_var : shape (n,). Variance of one reading about the line. [unit^2]
    origin : shape (n,). Distance at which the level holds. [mi]
    """

    level: Floats
    rate: Floats
    level_var: Floats
    rate_var: Floats
    covariance: Floats
    reading_var: Floats
    origin: Floats

    def moved_to(self, origin: Floats) -> Lines:
        """The same lines, described at another distance."""
        d = origin - self.origin
        return Lines(
            level=self.level + self.rate * d,
            rate=self.rate,
            level_var=self.level_var + 2 * d * self.covariance + d**2 * self.rate_var,
            rate_var=self.rate_var,
            covariance=self.covariance + d * self.rate_var,
            reading_var=self.reading_var,
            origin=origin,
        )


def reading_quantiles(lines: Lines, miles: Floats, scores: Floats) -> Floats:
    """Quantiles of one reading of each line.

    Parameters
    ----------
    miles : shape (n, q). [mi]
    scores : shape (n, p) or (p,). Standard quantiles: normal, or t with the degrees of freedom of the line.

    Returns
    -------
    Shape (n, q, p). [unit]
    """
    d = miles - lines.origin[:, None]
    mean = lines.level[:, None] + lines.rate[:, None] * d
    variance = (
        lines.level_var[:, None]
        + 2 * d * lines.covariance[:, None]
        + d**2 * lines.rate_var[:, None]
        + lines.reading_var[:, None]
    )
    scores = np.broadcast_to(scores, (len(lines.level), scores.shape[-1]))
    quantiles: Floats = mean[..., None] + np.sqrt(np.maximum(variance, 0.0))[..., None] * scores[:, None, :]
    return quantiles


def crossing_quantiles(lines: Lines, limit: Floats, as_of: Floats, scores: Floats) -> Floats:
    """Miles from ``as_of`` until each line first reaches its limit with a given chance.

    Parameters
    ----------
    limit, as_of : shape (n,). [unit], [mi]
    scores : shape (n, p) or (p,). Standard quantiles of the probabilities asked for.

    Returns
    -------
    Shape (n, p). [mi] 0 where the line is beyond the limit already with that chance; +inf where it never
    gets there with that chance: the slope is not significant at that level (Fieller's g >= 1), "no bound".

    Notes
    -----
    The chance at distance d is F((level + rate d - limit) / sd(d)), sd(d)^2 = v + 2 c d + r d^2. It reaches p
    at the roots of (A + rate d)^2 = z^2 sd(d)^2 on which A + rate d has the sign of z.
    """
    at = lines.moved_to(as_of)
    z = np.broadcast_to(scores, (len(limit), scores.shape[-1]))
    lead, rate = (at.level - limit)[:, None], at.rate[:, None]
    v, c, r = at.level_var[:, None], at.covariance[:, None], at.rate_var[:, None]
    already = lead >= z * np.sqrt(v)
    first = _first_root(rate**2 - z**2 * r, lead * rate - z**2 * c, lead**2 - z**2 * v, (lead, rate, z))
    quantiles = np.where(already, 0.0, first)
    unknown = np.isnan(lead + rate + v + c + r)
    return np.where(unknown, np.nan, quantiles)


def _first_root(a: Floats, b: Floats, c: Floats, line: tuple[Floats, Floats, Floats]) -> Floats:
    """Smallest positive root of a d^2 + 2 b d + c on which the line has the sign of z; +inf if none."""
    lead, rate, z = line
    # At the median the two roots are one; rounding must not take it away.
    inside = np.where(z == 0, 0.0, b**2 - a * c)
    with np.errstate(divide="ignore", invalid="ignore"):
        # c / q beside q / a: without it the smaller root is lost to cancellation.
        q = -(b + np.where(b >= 0, 1.0, -1.0) * np.sqrt(np.maximum(inside, 0.0)))
        roots = np.stack(np.broadcast_arrays(q / a, c / q))
        size = np.abs(lead) + np.abs(rate * roots)
        on_line = (lead + rate * roots) * np.sign(z) >= -1e-9 * size
        good = np.isfinite(roots) & (roots > 0) & on_line & (inside >= 0)
    first: Floats = np.where(good, roots, np.inf).min(axis=0)
    return first
