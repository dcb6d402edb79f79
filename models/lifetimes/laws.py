"""Laws of life: how the lives of like parts are spread, Weibull and lognormal.

Both are stated alike, so that one prior holds for either: by ``log_median``, the logarithm of the distance
that half of the parts reach, and ``spread``, the standard deviation of the logarithm of the life. In the
usual letters a Weibull law of shape beta and scale lambda has the spread pi / (sqrt(6) beta) and the median
lambda (log 2)^(1 / beta); a lognormal law has the spread sigma and the median exp(mu).
"""

from abc import ABC, abstractmethod

import numpy as np
from numpy.typing import NDArray
from scipy.special import gamma, gammaincc, log_ndtr, ndtr

Floats = NDArray[np.float64]

PER_SHAPE = np.sqrt(6.0) / np.pi
"""1 / beta of a Weibull law whose log lives have the standard deviation 1."""


class Law(ABC):
    """A law of life by its survival; arguments broadcast."""

    @abstractmethod
    def log_survival(self, miles: Floats, log_median: Floats, spread: Floats) -> Floats:
        """Logarithm of the chance that a part runs further. [mi], >= 0"""

    @abstractmethod
    def miles_beyond(self, miles: Floats, log_median: Floats, spread: Floats) -> Floats:
        """Integral of the survival from these miles on: the miles that parts run beyond them, all parts
        counted, also those that do not come so far. [mi]"""

    def log_chance(self, low: Floats, high: Floats, log_median: Floats, spread: Floats) -> Floats:
        """Logarithm of the chance that a life ends after ``low`` and no later than ``high``; high may be
        inf."""
        after_low = self.log_survival(low, log_median, spread)
        ended = self.log_survival(high, log_median, spread) - after_low
        with np.errstate(divide="ignore"):
            return np.asarray(after_low + np.log(-np.expm1(ended)))


class Weibull(Law):
    """The law of the weakest of many places."""

    def log_survival(self, miles: Floats, log_median: Floats, spread: Floats) -> Floats:
        return np.asarray(-np.log(2.0) * np.exp((_log(miles) - log_median) / (PER_SHAPE * spread)))

    def miles_beyond(self, miles: Floats, log_median: Floats, spread: Floats) -> Floats:
        per_shape = PER_SHAPE * spread
        scale = np.exp(log_median) / np.log(2.0) ** per_shape
        hazard = -self.log_survival(miles, log_median, spread)
        return np.asarray(scale * gamma(1.0 + per_shape) * gammaincc(per_shape, hazard))


class Lognormal(Law):
    """The law of lives that many small factors make shorter or longer."""

    def log_survival(self, miles: Floats, log_median: Floats, spread: Floats) -> Floats:
        return np.asarray(log_ndtr((log_median - _log(miles)) / spread))

    def log_chance(self, low: Floats, high: Floats, log_median: Floats, spread: Floats) -> Floats:
        """As the base class has it; from below where both survivals are nearly 1."""
        far = (_log(low) > log_median) & np.isfinite(low)
        sign = np.where(far, 1.0, -1.0)
        near, beyond = (sign * (log_median - _log(x)) / spread for x in (low, high))
        first, second = log_ndtr(np.where(far, near, beyond)), log_ndtr(np.where(far, beyond, near))
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(first + np.log(-np.expm1(second - first)))

    def miles_beyond(self, miles: Floats, log_median: Floats, spread: Floats) -> Floats:
        score = (log_median - _log(miles)) / spread
        mean = np.exp(log_median + 0.5 * spread**2)
        beyond = np.where(miles > 0, miles, 0.0) * ndtr(score)
        return np.asarray(np.maximum(mean * ndtr(score + spread) - beyond, 0.0))


LAWS: tuple[Law, ...] = (Weibull(), Lognormal())
"""One as likely as the other before any life."""


def _log(miles: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(miles))
