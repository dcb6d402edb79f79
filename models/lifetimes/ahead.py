"""Miles that are left of a part by the law of life of its family."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from models.lifetimes.posterior import Posterior

Floats = NDArray[np.float64]

HALVINGS = 36
"""Of the interval of log miles in which a quantile is looked for: its last is a ten-thousandth of a mile in a
million."""
LEAST_LOG = -5.0
"""Log miles below which no quantile is looked for. [log mi]"""
SPREADS_AWAY = 12.0
"""Standard deviations above the median beyond which no quantile that is asked for lies."""


def new_life(found: Posterior, probabilities: Floats) -> Floats:
    """Quantiles of the life of a new part, shape (p,). [mi]"""
    return _quantiles(lambda miles: np.exp(found.log_survival(miles)), found, probabilities)


def remaining(found: Posterior, ran: float, *, from_new: bool, probabilities: Floats) -> Floats:
    """Quantiles of the remaining miles of a part in service, whose life is not over, shape (p,). [mi]

    Parameters
    ----------
    ran : miles that it has run, at least those on record. [mi]
    from_new : it was new when they began; else it had run nobody knows how far, any distance that such parts
        reach as likely as another.
    probabilities : shape (p,).
    """
    now = np.array([ran])
    if from_new:
        before = found.log_survival(now)

        def lasts(ahead: Floats) -> Floats:
            return np.asarray(np.exp(found.log_survival(ran + ahead) - before))
    else:
        # The survival is integrated over all that the part may have run, from the miles on record on.
        whole = found.miles_beyond(now)

        def lasts(ahead: Floats) -> Floats:
            beyond = found.miles_beyond(ran + ahead)
            return np.divide(beyond, whole, out=np.zeros_like(beyond), where=whole > 0)

    return _quantiles(lasts, found, probabilities)


def _quantiles(lasts: Callable[[Floats], Floats], found: Posterior, probabilities: Floats) -> Floats:
    """Miles after which the mixture has ended with each probability, by halving, (p,).

    Parameters
    ----------
    lasts : chance under each node to last at least so many miles ahead, (k, r).
    """
    top = float((found.log_median + SPREADS_AWAY * found.spread).max())
    low, high = np.full(len(probabilities), LEAST_LOG), np.full(len(probabilities), top)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        ended = 1.0 - found.weight @ lasts(np.exp(middle)) >= probabilities
        low, high = np.where(ended, low, middle), np.where(ended, middle, high)
    return np.asarray(np.exp(high))
