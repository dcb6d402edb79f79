"""Straight lines of wear whose level and rate are not known for sure: where they cross, what they will read.

A rival that fits a line to each life is a :class:`LineForecaster`: it only says how it fits.

With a t or normal quantile this is Fieller's problem (inverse regression): the chance that the line has
crossed the limit by a distance is the chance that its level there is at or beyond it.

References
----------
.. [1] Fieller, *Some problems in interval estimation*, J. R. Stat. Soc. B 16 (1954) 175-185.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import norm
from scipy.stats import t as student

from models.wear.estimator import Floats, Forecaster

ROUNDING = 1e-12
"""Share of a square below which a difference of squares is rounding."""


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


class LineForecaster(Forecaster):
    """A forecaster whose ``fit`` leaves an uncertain line of each life.

    Attributes
    ----------
    lines_ : the lines, NaN for a life of which nothing can be said.
    freedom_ : shape (n,). Degrees of freedom behind the variances, so that the quantiles are those of
        Student's t; None: the variances are known, and the quantiles normal.
    """

    lines_: Lines
    freedom_: Floats | None = None

    def reading_sd(self) -> Floats:
        """Standard deviation of a reading about its line, shape (n,)."""
        return np.asarray(np.sqrt(self.lines_.reading_var))

    def wear_paths(self, miles: Floats, draws: int, rng: np.random.Generator) -> Floats:
        """Lines drawn from the joint distribution of level and rate."""
        lines, size = self.lines_, (draws, len(self.lines_.level))
        width = np.ones(size)
        if self.freedom_ is not None:
            freedom = np.where(self.freedom_ > 0, self.freedom_, 1.0)
            width = np.sqrt(freedom / rng.chisquare(freedom, size))
        level_sd = np.sqrt(lines.level_var)
        shared = np.divide(lines.covariance, level_sd, out=np.zeros(size[1]), where=level_sd > 0)
        own = np.sqrt(np.maximum(lines.rate_var - shared**2, 0.0))
        score = width * rng.standard_normal(size)
        level = lines.level + level_sd * score
        rate = lines.rate + shared * score + own * width * rng.standard_normal(size)
        return np.asarray(level[..., None] + rate[..., None] * (miles - lines.origin[:, None]))

    def predict_readings(self, miles: ArrayLike, probabilities: ArrayLike) -> Floats:
        """Normal or t quantiles of a new reading about the line, in closed form."""
        return reading_quantiles(self.lines_, np.asarray(miles, dtype=float), self._scores(probabilities))

    def predict_wear(self, miles: ArrayLike, probabilities: ArrayLike) -> Floats:
        """As :meth:`predict_readings`, of the wear itself: without the gauge's error."""
        lines = replace(self.lines_, reading_var=np.zeros_like(self.lines_.reading_var))
        return reading_quantiles(lines, np.asarray(miles, dtype=float), self._scores(probabilities))

    def chance_beyond(self) -> Floats:
        """Chance that the line of each life has passed its limit by now, shape (n,)."""
        lives = self.lives_
        at = self.lines_.moved_to(lives.as_of_miles)
        score = (at.level - lives.limit) / np.sqrt(np.maximum(at.level_var, 1e-300))
        return np.asarray(norm.cdf(score) if self.freedom_ is None else student.cdf(score, self.freedom_))

    def predict_remaining(self, probabilities: ArrayLike) -> Floats:
        """Where the line crosses, by the chance of its level at each distance (Fieller); +inf where the slope
        is not significant at that level."""
        scores = self._scores(probabilities)
        return crossing_quantiles(self.lines_, self.lives_.limit, self.lives_.as_of_miles, scores)

    def _scores(self, probabilities: ArrayLike) -> Floats:
        levels = np.asarray(probabilities, dtype=float)
        if self.freedom_ is None:
            return np.asarray(norm.ppf(levels))
        return np.asarray(student.ppf(levels, self.freedom_[:, None]))


def reading_quantiles(lines: Lines, miles: Floats, scores: Floats) -> Floats:
    """Quantiles of one reading of each line.

    Parameters
    ----------
    miles : shape (n, r). [mi]
    scores : shape (n, p) or (p,). Standard quantiles: normal, or t with the degrees of freedom of the line.

    Returns
    -------
    Shape (n, r, p). [unit]
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
    The chance at distance d is F((level + rate d - limit) / sd(d)), sd(d)^2 = v + 2 c d + r d^2. It reaches
    that of a score s at the roots of (lead + rate d)^2 = s^2 sd(d)^2, lead = level - limit, on which
    lead + rate d has the sign of s.
    """
    at = lines.moved_to(as_of)
    score = np.broadcast_to(scores, (len(limit), scores.shape[-1]))
    lead, rate = (at.level - limit)[:, None], at.rate[:, None]
    level_var, covariance, rate_var = at.level_var[:, None], at.covariance[:, None], at.rate_var[:, None]
    already = lead >= score * np.sqrt(level_var)
    first = _first_root(
        rate**2 - score**2 * rate_var,
        lead * rate - score**2 * covariance,
        lead**2 - score**2 * level_var,
        (lead, rate, score),
    )
    quantiles = np.where(already, 0.0, first)
    unknown = np.isnan(lead + rate + level_var + covariance + rate_var)
    return np.where(unknown, np.nan, quantiles)


def _first_root(
    square: Floats, half: Floats, constant: Floats, line: tuple[Floats, Floats, Floats]
) -> Floats:
    """Smallest positive root of square d^2 + 2 half d + constant on which the line (lead, rate, score) has
    the sign of its score; +inf if none."""
    lead, rate, score = line
    # At the median, and where readings lie on a line exactly, the two roots are one: no rounding may take it
    inside = np.where(score == 0, 0.0, half**2 - square * constant)
    inside = np.where(np.abs(inside) <= ROUNDING * half**2, 0.0, inside)
    with np.errstate(divide="ignore", invalid="ignore"):
        # Two forms of the roots: without the second the smaller one is lost to cancellation.
        larger = -(half + np.where(half >= 0, 1.0, -1.0) * np.sqrt(np.maximum(inside, 0.0)))
        roots = np.stack(np.broadcast_arrays(larger / square, constant / larger))
        size = np.abs(lead) + np.abs(rate * roots)
        on_line = (lead + rate * roots) * np.sign(score) >= -1e-9 * size
        good = np.isfinite(roots) & (roots > 0) & on_line & (inside >= 0)
    first: Floats = np.where(good, roots, np.inf).min(axis=0)
    return first
