"""Gaussian process through each life: linear kernel and white noise, by scikit-learn.

A kernel that lets the path bend (radial basis) falls back to the mean beyond the data: wear would heal. The
linear one carries on. Its posterior is a straight line with normal level and rate, so that where it crosses
follows without sampling.
"""

from __future__ import annotations

import warnings
from typing import Self

import numpy as np

from models.lives.table import Lives
from models.rivals.lines import LineForecaster, Lines
from models.wear.estimator import Floats, Ints


class GaussianProcess(LineForecaster):
    """One process a life; kernel parameters by marginal likelihood, within bounds given by the limit.

    Parameters
    ----------
    most_lives : so many lives, evenly spaced, are attempted (some 50 ms each); the others have no answer.
    """

    def __init__(self, most_lives: int = 500) -> None:
        self.most_lives = most_lives

    def fit(self, lives: Lives, quantity: Ints | None = None) -> Self:
        """Fit life by life; one with fewer than two readings has no answer."""
        super().fit(lives, quantity)
        columns = {name: np.full(len(lives.family), np.nan) for name in Lines.__dataclass_fields__}
        from threadpoolctl import threadpool_limits  # scikit-learn's own; a dozen readings need no threads

        able = np.flatnonzero(lives.count >= 2)
        with threadpool_limits(1):
            for i in able[:: max(1, -(-len(able) // self.most_lives))]:
                k = lives.count[i]
                line = _fit_life(lives.miles[i, :k], lives.wear[i, :k], float(lives.limit[i]))
                for name, value in line.items():
                    columns[name][i] = value
        self.lines_ = Lines(**columns)
        return self


def _fit_life(miles: Floats, wear: Floats, limit: float) -> dict[str, float]:
    """Level at zero and rate of one life, their covariance, the noise."""
    from sklearn.exceptions import ConvergenceWarning  # slow to import, needed here only
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import ConstantKernel, DotProduct, WhiteKernel

    scale = float(miles.max()) or 1.0
    kernel = ConstantKernel(0.3, (1e-3, 10.0)) * DotProduct(0.3, (1e-3, 10.0)) + WhiteKernel(
        1e-3, (1e-7, 1e-1)
    )
    process = GaussianProcessRegressor(kernel, random_state=0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)  # a parameter at its bound is a usable answer
        process.fit(miles[:, None] / scale, wear / limit)
    linear, white = process.kernel_.k1, process.kernel_.k2
    noise = float(white.noise_level)
    between = float(linear.k1.constant_value) * np.diag([float(linear.k2.sigma_0) ** 2, 1.0])
    design = np.column_stack([np.ones_like(miles), miles / scale])
    gain = between @ design.T @ np.linalg.inv(design @ between @ design.T + noise * np.eye(len(miles)))
    line, cov = gain @ (wear / limit), between - gain @ design @ between
    rate = limit / scale
    return {
        "level": line[0] * limit,
        "rate": line[1] * rate,
        "level_var": cov[0, 0] * limit**2,
        "rate_var": cov[1, 1] * rate**2,
        "covariance": cov[0, 1] * limit * rate,
        "reading_var": noise * limit**2,
        "origin": 0.0,
    }
