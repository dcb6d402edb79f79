"""What differs within a family: the wheelset's number, the side or the material, kept only where the readings
show that it pays."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import chdtrc

from ingest.names.positions import Position, read_position
from models.laws.place_memory import LifeRates

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_LIVES = 8
"""Lives with a known rate that a family must have before it is screened."""
LEAST_IN_LEVEL = 2
"""And each value of the covariate."""
SIGNIFICANCE = 0.001
"""Of one screening, divided by their number: a difference that is not there costs more than one that is
missed."""


@dataclass(frozen=True)
class Effect:
    """One covariate kept for one family.

    Attributes
    ----------
    family : number of the family.
    covariate : its name.
    levels : value -> factor on the family's mean rate.
    p_value : of the weighted regression. [1]
    """

    family: int
    covariate: str
    levels: dict[str, float]
    p_value: float


def covariates_of_positions(positions: pd.Series) -> pd.DataFrame:
    """Number of the wheelset and side, as far as a position's words tell; empty text where they do not.

    Parameters
    ----------
    positions : texts, as :func:`ingest.names.positions.read_position` understands them. A place between two
        wheelsets counts as the first of them; the last of a group, whose number is not known, as none.

    Returns
    -------
    Columns ``wheelset`` and ``side``, rows as given.
    """
    written = positions.fillna("").astype(str)
    read = {text: read_position(text) or Position() for text in written.unique()}
    number = {text: str(position.number) if position.number > 0 else "" for text, position in read.items()}
    side = {text: position.side for text, position in read.items()}
    return pd.DataFrame({"wheelset": written.map(number), "side": written.map(side)}, index=positions.index)


def screen(rates: LifeRates, family: Ints, covariates: pd.DataFrame) -> tuple[Floats, list[Effect]]:
    """Differences of the rate that pay, and each life's offset from its family's mean rate.

    Parameters
    ----------
    rates : of n lives, relative to the families' mean rates (about 1).
    family : shape (n,), non-decreasing.
    covariates : n rows of texts; an empty text is no value.

    Returns
    -------
    Offset of the rate, shape (n,), 0 where nothing is kept; the effects kept.

    Notes
    -----
    A chi-square of the weighted level means picks candidates at no cost; statsmodels' weighted least squares
    decides. A kept difference is shrunk by 1 - (levels - 1)/chi-square (W. James, C. Stein, Proc. 4th
    Berkeley Symp. 1961, 361-379).
    """
    offset = np.zeros(len(family))
    large = _large_enough(rates, family)
    tests = len(large) * covariates.shape[1]
    found: dict[int, tuple[Effect, Ints, Floats]] = {}
    for name in covariates:
        for f in _likely(rates, family, covariates[name], tests):
            of_family = np.arange(*np.searchsorted(family, [f, f + 1]))
            value = covariates[name].to_numpy()[of_family].astype(str)
            one = _difference(rates, of_family, value, int(f), str(name))
            # Of two that say nearly the same, as material and wheelset may, the one that says it best.
            if f not in found or one[0].p_value < found[f][0].p_value:
                found[int(f)] = one
    kept = []
    for effect, rows, values in found.values():
        if effect.p_value <= SIGNIFICANCE / tests * 10:
            offset[rows] = values
            kept.append(effect)
    return offset, kept


def _difference(
    rates: LifeRates, of_family: Ints, value: NDArray[np.str_], family: int, name: str
) -> tuple[Effect, Ints, Floats]:
    """One covariate in one family: its effect, and the lives whose value was seen, with their offsets."""
    written = value != ""
    rows, level = of_family[written], value[written]
    known = np.isfinite(rates.var[rows])
    rows, level = rows[known], level[known]
    names, code = np.unique(level, return_inverse=True)
    effect, square = _level_means(rates, rows, code)
    p_value = _weighted_regression(rates, rows, level)
    effect = effect * max(1.0 - (len(names) - 1) / square, 0.0)
    seen = np.isin(value, names)
    factors = {str(n): float(1.0 + e) for n, e in zip(names, effect, strict=True)}
    about = Effect(family, name, factors, p_value)
    return about, of_family[seen], effect[np.searchsorted(names, value[seen])]


def _large_enough(rates: LifeRates, family: Ints) -> Ints:
    """Families with enough lives whose rate is known at all well."""
    well = np.isfinite(rates.var) & (rates.var < rates.spread**2 * 4.0)
    return np.flatnonzero(np.bincount(family[well], minlength=1) >= LEAST_LIVES)


def _likely(rates: LifeRates, family: Ints, covariate: pd.Series, tests: int) -> Ints:
    """Families whose level means differ by more than chance would have it in so many tests."""
    code, levels = pd.factorize(covariate)
    large = np.zeros(int(family[-1]) + 1 if len(family) else 0, dtype=bool)
    large[_large_enough(rates, family)] = True
    rows = np.flatnonzero((covariate.to_numpy() != "") & np.isfinite(rates.var) & large[family])
    shape = (len(large), len(levels))
    cell = family[rows] * shape[1] + code[rows]
    weight = 1.0 / (rates.spread[rows] ** 2 + rates.var[rows])
    deviation = rates.rate[rows] - rates.mean[rows]
    size = shape[0] * shape[1]
    count = np.bincount(cell, minlength=size).reshape(shape)
    total = np.bincount(cell, weight, size).reshape(shape)
    sums = np.bincount(cell, weight * deviation, size).reshape(shape)
    mean = sums / np.where(count > 0, total, 1.0)
    centre = sums.sum(axis=1) / np.where(count.any(axis=1), total.sum(axis=1), 1.0)
    square = (total * (mean - centre[:, None]) ** 2).sum(axis=1)
    held = (count > 0).sum(axis=1)
    enough = (held >= 2) & ((count == 0) | (count >= LEAST_IN_LEVEL)).all(axis=1)
    chance = chdtrc(np.maximum(held - 1, 1), square)
    return np.flatnonzero(enough & (chance <= SIGNIFICANCE / max(tests, 1)))


def _level_means(rates: LifeRates, rows: Ints, code: Ints) -> tuple[Floats, float]:
    """Weighted means of each level less the family's, and their chi-square."""
    weight = 1.0 / (rates.spread[rows] ** 2 + rates.var[rows])
    deviation = rates.rate[rows] - rates.mean[rows]
    total = np.bincount(code, weight)
    mean = np.bincount(code, weight * deviation) / total
    centred = mean - (total * mean).sum() / total.sum()
    return centred, float((total * centred**2).sum())


def _weighted_regression(rates: LifeRates, rows: Ints, level: NDArray[np.str_]) -> float:
    """p-value of the level in a weighted regression of the rates, its residual variance estimated."""
    import statsmodels.api as sm  # takes a second to import, and few forecasts come this far

    weight = 1.0 / (rates.spread[rows] ** 2 + rates.var[rows])
    dummies = pd.get_dummies(pd.Series(level), drop_first=True, dtype=float)
    fit = sm.WLS(rates.rate[rows], sm.add_constant(dummies.to_numpy()), weights=weight).fit()
    return float(fit.f_pvalue)
