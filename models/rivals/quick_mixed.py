"""The random-slope mixed model of all families at once: what statsmodels fits one family at a time.

Restricted maximum likelihood by the EM algorithm: given the spread between lives and the noise, the mean
line of a family and the lines of its lives follow in closed form; given those, so do spread and noise [1]_.
Families stand beside each other in the arrays, so that a hundred of them take as long as one. It serves where
a rival is asked within a forecast; :class:`models.rivals.mixed.MixedModel` is the one that is scored.

References
----------
.. [1] Laird, Ware, *Random-effects models for longitudinal data*, Biometrics 38 (1982) 963-974, section 4.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

import numpy as np

from models.lives.table import Lives
from models.rivals.least_squares import LeastSquares
from models.rivals.lines import LineForecaster, Lines
from models.wear.estimator import Floats, Ints

MOST_ROUNDS = 500
CLOSE = 1e-5
"""Rounds end when no spread or noise moves by more than this share of the family's variance."""


@dataclass(frozen=True)
class _Sums:
    """Sums of each life's readings, distance over the family's longest, wear over the family's spread.

    Attributes
    ----------
    family : shape (n,). Number of the family among those that are fitted, f of them.
    count : shape (n,). Readings.
    square : shape (n, 2, 2). X'X, X the columns 1 and distance.
    product : shape (n, 2). X'y.
    own : shape (n,). y'y.
    """

    family: Ints
    count: Floats
    square: Floats
    product: Floats
    own: Floats

    def total(self, values: Floats) -> Floats:
        """Sum over the lives of each family, (f, ...)."""
        out = np.zeros((int(self.family.max()) + 1, *values.shape[1:]))
        np.add.at(out, self.family, values)
        return out


@dataclass(frozen=True)
class _Round:
    """Lines under one spread and noise: mean line of each family, line of each life, their covariance."""

    line: Floats
    covariance: Floats
    between: Floats
    noise: Floats


class QuickMixedModel(LineForecaster):
    """Every life has its own line; the lines of a family are drawn from one normal distribution."""

    def fit(self, lives: Lives, quantity: Ints | None = None) -> Self:
        """Fit all families; one with fewer than two lives that have two readings has no answer."""
        super().fit(lives, quantity)
        n = len(lives.family)
        able = np.bincount(lives.family[lives.count >= 2], minlength=lives.n_families) >= 2
        rows = np.flatnonzero(able[lives.family]) if n else np.empty(0, dtype=np.int64)
        columns = {name: np.full(n, np.nan) for name in Lines.__dataclass_fields__}
        if len(rows):
            fitted = _fit(lives.take(rows))
            for name, values in columns.items():
                values[rows] = getattr(fitted, name)
        self.lines_ = Lines(**columns)
        return self


class FamilyLines(LineForecaster):
    """The mixed model where a family has several lives, a straight line of its own where a life stands alone.

    Attributes
    ----------
    from_family_ : shape (n,). The line comes from the mixed model.
    """

    def fit(self, lives: Lives, quantity: Ints | None = None) -> Self:
        """Fit both; a life alone with fewer than three readings has no answer."""
        super().fit(lives, quantity)
        family, alone = QuickMixedModel().fit(lives), LeastSquares().fit(lives)
        self.from_family_ = np.isfinite(family.lines_.level)
        self.lines_ = Lines(
            **{
                name: np.where(self.from_family_, values, getattr(alone.lines_, name))
                for name, values in vars(family.lines_).items()
            }
        )
        freedom = np.full(len(lives.family), np.nan) if alone.freedom_ is None else alone.freedom_
        self.freedom_ = np.where(self.from_family_, np.inf, freedom)
        return self


def _fit(lives: Lives) -> Lines:
    family = np.unique(lives.family, return_inverse=True)[1].astype(np.int64)
    read = np.isfinite(lives.wear)
    far, unit = np.zeros((2, int(family.max()) + 1))
    np.maximum.at(far, family, np.where(read, lives.miles, 0.0).max(axis=1))
    np.maximum.at(unit, family, np.where(read, np.abs(lives.wear), 0.0).max(axis=1))
    far, unit = (np.where(a > 0, a, 1.0)[family] for a in (far, unit))
    x = np.where(read, lives.miles / far[:, None], 0.0)
    y = np.where(read, lives.wear / unit[:, None], 0.0)
    design = np.stack([read.astype(float), x], axis=-1)
    sums = _Sums(
        family,
        read.sum(axis=1).astype(float),
        np.einsum("nki,nkj->nij", design, design),
        np.einsum("nki,nk->ni", design, y),
        (y**2).sum(axis=1),
    )
    last = _converged(sums)
    rate, covariance = unit / far, last.covariance
    return Lines(
        level=last.line[:, 0] * unit,
        rate=last.line[:, 1] * rate,
        level_var=covariance[:, 0, 0] * unit**2,
        rate_var=covariance[:, 1, 1] * rate**2,
        covariance=covariance[:, 0, 1] * unit * rate,
        reading_var=last.noise[family] * unit**2,
        origin=np.zeros(len(family)),
    )


def _converged(sums: _Sums) -> _Round:
    """Rounds until neither spread nor noise moves, from lines that differ as widely as the readings."""
    count = sums.total(sums.count)
    mean = sums.total(sums.product[:, 0]) / count
    variance = np.maximum(sums.total(sums.own) / count - mean**2, 1e-12)
    between = variance[:, None, None] * np.eye(2)
    noise = 0.1 * variance
    found = _one_round(sums, between, noise)
    for _ in range(MOST_ROUNDS):
        moved = np.abs(found.between - between).max(axis=(1, 2)) + np.abs(found.noise - noise)
        if (moved <= CLOSE * variance).all():
            break
        # Nothing scatters by less than a millionth: a family straight to the last digit stays solvable.
        between, noise = found.between, np.maximum(found.noise, 1e-6 * variance)
        found = _one_round(sums, between, noise)
    return found


def _one_round(sums: _Sums, between: Floats, noise: Floats) -> _Round:
    """Lines under a spread (f, 2, 2) and noise (f,), and the spread and noise that these lines show."""
    family, eye = sums.family, np.eye(2)
    own, s2 = between[family], noise[family][:, None, None]
    posterior = np.linalg.solve(eye + own @ sums.square / s2, own)
    posterior = (posterior + np.swapaxes(posterior, 1, 2)) / 2
    pulled = posterior @ sums.square / s2  # share of a life's own line in its estimate
    kept = eye - pulled
    information = sums.total(np.swapaxes(kept, 1, 2) @ sums.square / s2)
    score = sums.total((np.swapaxes(kept, 1, 2) @ sums.product[..., None] / s2)[..., 0])
    mean_cov = np.linalg.pinv(information, hermitian=True)
    mean = np.einsum("fij,fj->fi", mean_cov, score)
    off = sums.product - np.einsum("nij,nj->ni", sums.square, mean[family])
    own_off = np.einsum("nij,nj->ni", posterior / s2, off)
    line = mean[family] + own_off
    shared = mean_cov[family]
    covariance = posterior + kept @ shared @ np.swapaxes(kept, 1, 2)
    of_off = posterior + pulled @ shared @ np.swapaxes(pulled, 1, 2)
    lives = sums.total(np.ones(len(family)))
    spread = sums.total(own_off[:, :, None] * own_off[:, None, :] + of_off) / lives[:, None, None]
    left = (
        sums.own - 2 * (line * sums.product).sum(axis=1) + np.einsum("ni,nij,nj->n", line, sums.square, line)
    )
    left = np.maximum(left, 0.0) + np.einsum("nij,nji->n", sums.square, covariance)
    return _Round(line, covariance, spread, sums.total(left) / sums.total(sums.count))
