"""The ruler: a line through the last two readings, carried on. No uncertainty: that is what a ruler says."""

from __future__ import annotations

from typing import Self

import numpy as np
from numpy.typing import ArrayLike

from models.lives.table import Lives
from models.wear.estimator import Floats, Forecaster, Ints


class LastTwoReadings(Forecaster):
    """Line through the last two readings of each life; all its quantiles are the same."""

    def fit(self, lives: Lives, quantity: Ints | None = None) -> Self:
        """Take the last two readings of each life; a life with fewer has no answer."""
        super().fit(lives, quantity)
        rows = np.arange(len(lives.family))
        last = lives.count - 1
        known = last >= 1
        m1, w1 = (a[rows, np.maximum(last, 0)] for a in (lives.miles, lives.wear))
        m0, w0 = (a[rows, np.maximum(last - 1, 0)] for a in (lives.miles, lives.wear))
        run = np.where(known & (m1 > m0), m1 - m0, np.nan)
        self.rate_ = (w1 - w0) / run
        self.miles_, self.level_ = m1, w1
        return self

    def reading_sd(self) -> Floats:
        """None: a ruler knows of no error."""
        return np.zeros(len(self.level_))

    def wear_paths(self, miles: Floats, draws: int, rng: np.random.Generator) -> Floats:  # noqa: ARG002
        """The same line in every draw."""
        return np.repeat(self._line(miles)[None], draws, axis=0)

    def predict_readings(self, miles: ArrayLike, probabilities: ArrayLike) -> Floats:
        """The line at those miles, whatever the probability."""
        return np.repeat(
            self._line(np.asarray(miles, dtype=float))[..., None], np.size(probabilities), axis=-1
        )

    def predict_remaining(self, probabilities: ArrayLike) -> Floats:
        """Miles to where the line meets the limit, whatever the probability; +inf where it never does."""
        missing = self.lives_.limit - self.level_
        with np.errstate(divide="ignore", invalid="ignore"):
            to_limit = self.miles_ + missing / self.rate_ - self.lives_.as_of_miles
        to_limit = np.where(self.rate_ > 0, np.maximum(to_limit, 0.0), np.where(missing > 0, np.inf, 0.0))
        to_limit = np.where(np.isnan(self.rate_), np.nan, to_limit)
        return np.repeat(to_limit[:, None], np.size(probabilities), axis=-1)

    def _line(self, miles: Floats) -> Floats:
        return self.level_[:, None] + self.rate_[:, None] * (miles - self.miles_[:, None])
