"""Ordinary least squares through each life, with Fieller bounds on where the line crosses the limit."""

from __future__ import annotations

from typing import Self

import numpy as np

from models.lives.table import Lives
from models.rivals.lines import LineForecaster, Lines
from models.wear.estimator import Floats, Ints


def fit_lines(miles: Floats, wear: Floats) -> tuple[Lines, Floats]:
    """Least-squares line through each row, all rows at once.

    Parameters
    ----------
    miles, wear : shape (n, k), NaN where there is no reading. [mi], [unit]

    Returns
    -------
    Lines described at the mean miles of each row, and their degrees of freedom, shape (n,). NaN throughout
    where fewer than three readings or no two different miles leave no scatter to judge by.

    Notes
    -----
    Centered sums: level var s^2/n, rate var s^2/Sxx, uncorrelated at the mean. Checked against the certified
    regressions of NIST StRD in ``tests/published``.
    """
    read = np.isfinite(miles) & np.isfinite(wear)
    n = read.sum(axis=1).astype(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_miles = np.where(read, miles, 0.0).sum(axis=1) / n
        mean_wear = np.where(read, wear, 0.0).sum(axis=1) / n
        x = np.where(read, miles - mean_miles[:, None], 0.0)
        y = np.where(read, wear - mean_wear[:, None], 0.0)
        sxx = (x**2).sum(axis=1)
        rate = np.divide((x * y).sum(axis=1), sxx)
        residual = y - rate[:, None] * x
        freedom = np.where((n >= 3) & (sxx > 0), n - 2, np.nan)
        variance = np.divide((residual**2).sum(axis=1), freedom)
        lines = Lines(
            level=mean_wear,
            rate=rate,
            level_var=variance / n,
            rate_var=variance / sxx,
            covariance=np.where(np.isnan(variance), np.nan, 0.0),
            reading_var=variance,
            origin=mean_miles,
        )
    return lines, freedom


class LeastSquares(LineForecaster):
    """A line through each life on its own: what a careful user of a spreadsheet does; t quantiles.

    Examples
    --------
    >>> import numpy as np
    >>> from models.lives.table import Lives
    >>> miles = np.array([[4000.0, 9000, 15_000], [5000.0, 11_000, 14_000], [3000.0, 8000, 16_000]])
    >>> wear = np.array([[0.11, 0.22, 0.39], [0.09, 0.23, 0.27], [0.09, 0.20, 0.42]])
    >>> lives = Lives(
    ...     family=np.zeros(3, dtype=int), miles=miles, wear=wear, limit=np.ones(3),
    ...     gauge_sd=np.full((3, 3), 0.01), as_of_miles=miles[:, -1], day=miles,
    ...     ended=np.zeros(3, dtype=bool),
    ... )
    >>> from models.rivals.least_squares import LeastSquares
    >>> LeastSquares().fit(lives).predict_remaining([0.1, 0.5, 0.9]).round(-3)
    array([[19000., 24000., 32000.],
           [25000., 35000., 59000.],
           [18000., 23000., 29000.]])
    """

    def fit(self, lives: Lives, quantity: Ints | None = None) -> Self:
        """Fit every life; one with fewer than three readings has no answer."""
        super().fit(lives, quantity)
        self.lines_, self.freedom_ = fit_lines(lives.miles, lives.wear)
        return self
