"""The memory of a position: a part renewed at a place that wears fast wears fast again, to a degree that is
learned."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

USUAL = 0.1
"""Share of the rates' variance that belongs to the place before any is seen. Assumption, no source."""
PAIRS_WORTH = 25.0
"""Pairs of well-measured lives at one place that this assumption is worth (its spread is 0.2)."""
MOST = 0.8


@dataclass(frozen=True)
class LifeRates:
    """Each life's own rate from its own readings, shape (n,), with the family's mean and spread.

    Attributes
    ----------
    rate, var : estimate and its sampling variance; var is inf where the readings say nothing of the rate.
    mean, spread : the family's mean rate and standard deviation of rates.
    """

    rate: Floats
    var: Floats
    mean: Floats
    spread: Floats


def learn_memory(rates: LifeRates, place: Ints) -> float:
    """Share of the variance of rates that belongs to the place, learned from all places with several lives.

    Notes
    -----
    The products of two lives' deviations at one place have the place's share of the variance as their mean;
    each pair counts by how well both rates are known (a weighted analysis-of-variance estimator, S. R.
    Searle, G. Casella, C. E. McCulloch, *Variance Components*, 1992, chapter 3), with the assumption as
    further pairs.
    """
    known = np.isfinite(rates.var) & (rates.spread > 0)
    weight = np.where(known, rates.spread**2 / (rates.spread**2 + np.where(known, rates.var, 1.0)), 0.0)
    deviation = np.where(known, (rates.rate - rates.mean) / np.where(known, rates.spread, 1.0), 0.0) * weight
    n = int(place.max()) + 1 if len(place) else 0
    both = np.bincount(place, deviation, n) ** 2 - np.bincount(place, deviation**2, n)
    pairs = np.bincount(place, weight, n) ** 2 - np.bincount(place, weight**2, n)
    share = (0.5 * both.sum() + USUAL * PAIRS_WORTH) / (0.5 * pairs.sum() + PAIRS_WORTH)
    return float(np.clip(share, 0.0, MOST))


def remembered(rates: LifeRates, place: Ints, share: float) -> tuple[Floats, Floats]:
    """What the other lives at its place say of each life's rate, before its own readings.

    Parameters
    ----------
    place : shape (n,). Lives of one position share a number.
    share : of the variance, from :func:`learn_memory`.

    Returns
    -------
    Shift of the mean rate in spreads, shape (n,); factor on the variance of the rate, shape (n,), at most 1.
    """
    if share <= 0.0:
        return np.zeros(len(place)), np.ones(len(place))
    own = (1.0 - share) + rates.var / rates.spread**2  # in squared spreads, without the place's part
    weight = 1.0 / own
    deviation = np.where(np.isfinite(rates.var), (rates.rate - rates.mean) / rates.spread, 0.0) * weight
    n = int(place.max()) + 1 if len(place) else 0
    others = np.bincount(place, weight, n)[place] - weight
    said = np.bincount(place, deviation, n)[place] - deviation
    precision = 1.0 / share + np.maximum(others, 0.0)
    return said / precision, (1.0 - share) + 1.0 / precision
