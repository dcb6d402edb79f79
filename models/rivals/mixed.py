"""Random-slope mixed model of each family, fitted by statsmodels.

Miles and wear are scaled before the fit. On raw miles statsmodels returns a wrong slope variance and may
still report convergence; with miles of 0 to 5 it agrees with lme4 (``tests/published``).

References
----------
.. [1] Laird, Ware, *Random-effects models for longitudinal data*, Biometrics 38 (1982) 963-974.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from models.lives.table import Lives
from models.rivals.lines import LineForecaster, Lines
from models.wear.estimator import Floats, Ints

SCALED_MILES = 5.0
"""Largest distance after scaling; between 1 and 10 statsmodels finds the right optimum."""


@dataclass(frozen=True)
class MixedFit:
    """A fitted family, in the units that it was fitted in.

    Attributes
    ----------
    mean : shape (2,). Level at zero and rate of the family.
    between : shape (2, 2). Covariance of level and rate between lives.
    noise : variance of a reading about its life's line.
    criterion : -2 log likelihood, restricted if so asked.
    converged : what the optimiser says of itself.
    """

    mean: Floats
    between: Floats
    noise: float
    criterion: float
    converged: bool


def fit_mixed(life: NDArray, miles: Floats, wear: Floats, *, restricted: bool = True) -> MixedFit | None:
    """Fit wear = (a + a_i) + (b + b_i) miles + noise to the readings of one family.

    Parameters
    ----------
    life, miles, wear : shape (r,), one element a reading. Miles scaled to at most 10. [1]

    Returns
    -------
    The fit, or None where statsmodels ends with an error or numbers that are none.
    """
    from statsmodels.regression.mixed_linear_model import MixedLM  # slow to import, needed here only

    design = np.column_stack([np.ones_like(miles), miles])
    # Its warnings (boundary, convergence, singular Hessian) are frequent on eight lives and change nothing:
    # the fit is a rival, to be scored as it comes; `converged` keeps what matters of them.
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        try:
            fit = MixedLM(wear, design, groups=life, exog_re=design).fit(
                reml=restricted, method=["lbfgs", "powell"]
            )
            result = MixedFit(
                mean=np.asarray(fit.fe_params, dtype=float),
                between=np.asarray(fit.cov_re, dtype=float),
                noise=float(fit.scale),
                criterion=-2.0 * float(fit.llf),
                converged=bool(fit.converged),
            )
        except (np.linalg.LinAlgError, ValueError):
            return None
    finite = np.isfinite(result.mean).all() and np.isfinite(result.between).all() and result.noise > 0
    return result if finite else None


def lines_of_lives(fit: MixedFit, miles: Floats, wear: Floats) -> Lines:
    """Best linear prediction of the line of each life, with its error and that of the family's mean.

    Parameters
    ----------
    miles, wear : shape (n, k), NaN where there is no reading, in the units of the fit.
    """
    read = np.isfinite(wear)
    design = np.stack([read.astype(float), np.where(read, miles, 0.0)], axis=-1)
    squares = np.einsum("nki,nkj->nij", design, design) / fit.noise
    residual = np.where(read, wear - design @ fit.mean, 0.0)
    product = np.einsum("nki,nk->ni", design, residual) / fit.noise
    eye = np.eye(2)
    posterior = np.linalg.solve(eye + fit.between @ squares, np.broadcast_to(fit.between, squares.shape))
    kept = eye - posterior @ squares  # share of an error in the mean that reaches the life's line
    mean_cov = np.linalg.pinv((squares @ kept).sum(axis=0))
    cov = posterior + kept @ mean_cov @ np.swapaxes(kept, 1, 2)
    line = fit.mean + np.einsum("nij,nj->ni", posterior, product)
    n = len(line)
    return Lines(
        level=line[:, 0],
        rate=line[:, 1],
        level_var=cov[:, 0, 0],
        rate_var=cov[:, 1, 1],
        covariance=cov[:, 0, 1],
        reading_var=np.full(n, fit.noise),
        origin=np.zeros(n),
    )


class MixedModel(LineForecaster):
    """Every life has its own line; the lines of a family are drawn from one normal distribution.

    Parameters
    ----------
    restricted : restricted maximum likelihood (True) or maximum likelihood.
    most_families : so many families, evenly spaced, are attempted (some 0.1 s each); the others have no
        answer.
    """

    def __init__(self, restricted: bool = True, most_families: int = 1000) -> None:
        self.restricted = restricted
        self.most_families = most_families

    def fit(self, lives: Lives, quantity: Ints | None = None) -> Self:
        """Fit family by family; one with fewer than two lives that have two readings has no answer."""
        super().fit(lives, quantity)
        n = len(lives.family)
        columns = {name: np.full(n, np.nan) for name in Lines.__dataclass_fields__}
        self.converged_ = np.zeros(lives.n_families, dtype=bool)
        from threadpoolctl import threadpool_limits  # matrices of a dozen rows need no threads

        for f in range(0, lives.n_families, max(1, -(-lives.n_families // self.most_families))):
            rows = np.flatnonzero(lives.family == f)
            if (lives.count[rows] >= 2).sum() < 2:
                continue
            with threadpool_limits(1):
                fitted = self._fit_family(lives.miles[rows], lives.wear[rows])
            if fitted is None:
                continue
            lines, self.converged_[f] = fitted
            for name, values in columns.items():
                values[rows] = getattr(lines, name)
        self.lines_ = Lines(**columns)
        return self

    def _fit_family(self, miles: Floats, wear: Floats) -> tuple[Lines, bool] | None:
        scale = np.nanmax(miles) / SCALED_MILES
        unit = np.nanstd(wear)
        if not scale > 0 or not unit > 0:
            return None
        life, column = np.nonzero(np.isfinite(wear))
        x, y = miles[life, column] / scale, wear[life, column] / unit
        fit = fit_mixed(life, x, y, restricted=self.restricted)
        if fit is None:
            return None
        scaled = lines_of_lives(fit, miles / scale, wear / unit)
        lines = Lines(
            level=scaled.level * unit,
            rate=scaled.rate * unit / scale,
            level_var=scaled.level_var * unit**2,
            rate_var=scaled.rate_var * (unit / scale) ** 2,
            covariance=scaled.covariance * unit**2 / scale,
            reading_var=scaled.reading_var * unit**2,
            origin=scaled.origin,
        )
        return lines, fit.converged
