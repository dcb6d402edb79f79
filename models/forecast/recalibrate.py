"""Stretch the intervals of a family whose past forecasts were too narrow or too wide.

Split-conformal scaling: each past outcome is measured in half-widths of the 80 % interval that was forecast
for it; the 80 % quantile of those numbers is the factor by which the intervals should have been wider. It is
applied only where there is enough evidence that the coverage differs from 80 %.

References
----------
.. [1] Romano, Patterson, Candès, *Conformalized quantile regression*, NeurIPS 2019. arXiv:1905.03222
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEVEL = 0.8
FEWEST_LIVES = 3
"""Lives that a family must have been scored on: of two nothing is proven whatever they did."""
FEWEST_TO_NARROW = 10
"""Lives before an interval is made narrower: a gap in the data makes a forecast more careful, never less."""
RANGE = (0.5, 3.0)
"""Factors are held within this: beyond it the model is wrong, and stretching it does not mend it."""


def half_widths(low: Floats, middle: Floats, high: Floats, outcome: Floats) -> Floats:
    """Distance of each outcome from the median, in half-widths of the interval on its side.

    Parameters
    ----------
    low, middle, high, outcome : shape (m,). The 10, 50 and 90 % quantiles and what happened. [same unit]

    Returns
    -------
    Shape (m,). [1], >= 0; 1 on the bound of the interval; +inf beyond an interval of no width; NaN where
    any of the four is NaN.
    """
    above = outcome >= middle
    width = np.where(above, high - middle, middle - low)
    away = np.abs(outcome - middle)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(away == 0, 0.0, away / width)
    return np.where(np.isnan(low + middle + high + outcome), np.nan, ratio)


def stretch_factor(scores: Floats, life: Ints) -> float:
    """Factor by which the 80 % intervals of one family should be stretched; 1 where nothing is proven.

    Parameters
    ----------
    scores : shape (m,). Outcomes in half-widths. NaN: no evidence.
    life : shape (m,). The life that each belongs to: readings of one life err together, so that the
        evidence counts as lives, not as readings.

    Returns
    -------
    Factor, within ``RANGE``. [1]

    Notes
    -----
    Proven: the cover differs from 80 % by more than two standard errors, sqrt(0.8 * 0.2 / lives). Each life
    has the same weight however many readings it has.
    """
    known = ~np.isnan(scores)
    scores, life = scores[known], life[known]
    lives = len(np.unique(life))
    if lives < FEWEST_LIVES:
        return 1.0
    weight = life_weights(life)
    cover = float(weight[scores <= 1.0].sum())
    if abs(cover - LEVEL) <= _doubt(lives) or (cover > LEVEL and lives < FEWEST_TO_NARROW):
        return 1.0
    order = np.argsort(scores)
    # (lives + 1) / lives: the next life is one more of the same kind [1]_.
    share = min(LEVEL * (1 + 1 / lives), 1.0)
    place = int(np.searchsorted(np.cumsum(weight[order]), share - 1e-12))
    factor = float(scores[order][min(place, len(scores) - 1)])
    return float(np.clip(factor, *RANGE))


def life_weights(life: Ints) -> Floats:
    """Weight of each outcome such that every life counts alike, shape (m,); their sum is 1."""
    lives, index, count = np.unique(life, return_inverse=True, return_counts=True)
    return np.asarray(1.0 / count[index] / max(len(lives), 1))


def proven_short(cover: Floats, lives: Floats) -> NDArray[np.bool_]:
    """Whether so many lives prove that an 80 % interval holds too little."""
    few = lives < FEWEST_LIVES
    return np.asarray(~few & (LEVEL - np.nan_to_num(cover, nan=LEVEL) > _doubt(np.maximum(lives, 1))))


def _doubt(lives: float | Floats) -> Floats:
    """Two standard errors of the cover of so many lives."""
    return np.asarray(2 * np.sqrt(LEVEL * (1 - LEVEL) / lives))


def stretch_factors(scores: Floats, life: Ints, family: Ints, quantity: Ints) -> Floats:
    """:func:`stretch_factor` of every family, shape (families,).

    Parameters
    ----------
    quantity : shape (families,). Families with fewer than ``FEWEST_TO_NARROW`` lives that prove nothing by
        themselves are judged together with the others of their quantity, and are then only widened.
    """
    known = ~np.isnan(scores)
    scores, life, family = scores[known], life[known], family[known]
    out = np.ones(len(quantity))
    seen = np.zeros(len(quantity), dtype=np.int64)
    for f in np.unique(family):
        mine = family == f
        out[f], seen[f] = stretch_factor(scores[mine], life[mine]), len(np.unique(life[mine]))
    for number in np.unique(quantity):
        small = (quantity == number) & (seen < FEWEST_TO_NARROW) & (out == 1.0)
        mine = small[family]
        if small.any() and mine.any():
            out[small] = max(stretch_factor(scores[mine], life[mine]), 1.0)
    return out


def stretch_of(family: NDArray[np.object_], stretch: pd.Series | None) -> Floats:
    """Factor on the intervals of each named family; 1 where the track record has none.

    Parameters
    ----------
    family : shape (n,). Names.
    stretch : factor by family name.
    """
    if stretch is None or stretch.empty:
        return np.ones(len(family))
    return pd.Series(family).map(stretch[~stretch.index.duplicated()]).fillna(1.0).to_numpy(float)


def stretched_readings(quantiles: Floats, median: Floats, factor: Floats) -> Floats:
    """Quantiles of readings moved away from their median by a factor.

    Parameters
    ----------
    quantiles : shape (..., p). [unit]
    median, factor : shape (...).
    """
    moved: Floats = median[..., None] + factor[..., None] * (quantiles - median[..., None])
    return moved


def stretched_remaining(quantiles: Floats, median: Floats, factor: Floats) -> Floats:
    """Quantiles of remaining miles moved away from their median by a factor on the scale of their logarithm.

    Parameters
    ----------
    quantiles : shape (n, p). [mi], >= 0; 0 and +inf stay what they are.
    median, factor : shape (n,).
    """
    safe = (quantiles > 0) & np.isfinite(quantiles) & (median > 0)[:, None] & np.isfinite(median)[:, None]
    q, middle = np.where(safe, quantiles, 1.0), np.where(safe, median[:, None], 1.0)
    return np.where(safe, middle * (q / middle) ** factor[:, None], quantiles)
