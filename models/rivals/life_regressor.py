"""Any forecaster as a scikit-learn regressor: the engine in a notebook, without a store.

It works in scikit-learn's cross-validation, pipelines and searches.

Examples
--------
Three bearings, read three times each: miles since renewal and the bearing's number, and the wear in mm.

>>> import numpy as np
>>> from models.rivals.life_regressor import LifeRegressor
>>> from models.wear.model import PooledWear
>>> X = np.array([[4000, 1], [9000, 1], [15000, 1], [5000, 2], [11000, 2], [14000, 2],
...               [3000, 3], [8000, 3], [16000, 3]], dtype=float)
>>> y = np.array([0.11, 0.22, 0.39, 0.09, 0.23, 0.27, 0.09, 0.20, 0.42])
>>> engine = LifeRegressor(PooledWear(), limit=1.0).fit(X, y)

What the first and the third will read at 20,000 miles, and the first with its doubt:

>>> engine.predict([[20_000, 1], [20_000, 3]]).round(2)
array([0.51, 0.52])
>>> engine.predict_quantiles([[20_000, 1]], [0.1, 0.5, 0.9]).round(2)
array([[0.47, 0.51, 0.56]])

Miles left of each from its last reading, in thousands, with a chance of one in ten and one in two:

>>> (engine.forecaster_.predict_remaining([0.1, 0.5]) / 1000).round()
array([[18., 24.],
       [26., 35.],
       [17., 23.]])

Which forecaster reads ahead best is a search like any other:

>>> from sklearn.model_selection import GridSearchCV
>>> from models.rivals import LastTwoReadings, LeastSquares
>>> choice = {"forecaster": [LeastSquares(), LastTwoReadings()]}
>>> GridSearchCV(LifeRegressor(limit=1.0), choice, cv=3).fit(X, y).best_params_
{'forecaster': LeastSquares()}
"""

from __future__ import annotations

from typing import Any, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sklearn.base import BaseEstimator, RegressorMixin, clone
from sklearn.utils.validation import check_is_fitted, validate_data

from models.lives.table import Lives
from models.rivals.least_squares import LeastSquares
from models.wear.estimator import Floats, Forecaster

Ints = NDArray[np.int64]


class LifeRegressor(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """Predicts readings: the first column of X is miles, rows that agree in all others belong to one life.

    A life that was not fitted, or of which the forecaster can say nothing, gets the line of least squares
    through all readings, or their mean where there is no line.

    Parameters
    ----------
    forecaster : any forecaster; None: least squares through each life.
    limit : wear at the condemning limit, which some forecasters scale by; None: twice the largest reading.
    """

    def __init__(self, forecaster: Forecaster | None = None, limit: float | None = None) -> None:
        self.forecaster = forecaster
        self.limit = limit

    def fit(self, X: ArrayLike, y: ArrayLike) -> Self:
        """Fit the forecaster to readings y at X.

        Parameters
        ----------
        X : shape (rows, columns). Miles since the part was renewed [mi], then what names the part.
        y : shape (rows,). Wear, growing toward the limit. [any one unit]

        Raises
        ------
        ValueError : by scikit-learn's own validation, where X or y hold no finite numbers.
        """
        x, wear = validate_data(self, X, y, dtype=np.float64, y_numeric=True)
        keys, life = np.unique(x[:, 1:], axis=0, return_inverse=True)
        self.keys_, life = keys, life.ravel()
        self.lives_ = _padded(life, x[:, 0], wear, self.limit)
        self.forecaster_ = clone(self.forecaster or LeastSquares()).fit(self.lives_)
        away, rise = x[:, 0] - x[:, 0].mean(), wear - wear.mean()
        spread = float(away @ away)
        slope = float(away @ rise) / spread if spread > 0 else 0.0
        self.pooled_ = (float(x[:, 0].mean()), float(wear.mean()), slope)
        return self

    def predict(self, X: ArrayLike) -> Floats:
        """Median reading at each row of X, shape (rows,)."""
        return self.predict_quantiles(X, [0.5])[:, 0]

    def predict_quantiles(self, X: ArrayLike, probabilities: ArrayLike) -> Floats:
        """Quantiles of a reading at each row of X, shape (rows, p)."""
        check_is_fitted(self)
        x = validate_data(self, X, reset=False, dtype=np.float64)
        life = _which(self.keys_, x[:, 1:])
        answer = np.full((len(x), np.size(probabilities)), np.nan)
        known = np.flatnonzero(life >= 0)
        if len(known):
            rows, column, miles = _by_life(life[known], x[known, 0], len(self.keys_))
            answer[known] = self.forecaster_.predict_readings(miles, probabilities)[rows, column]
        mean_miles, level, slope = self.pooled_
        return np.where(np.isnan(answer), (level + slope * (x[:, 0] - mean_miles))[:, None], answer)

    def __sklearn_tags__(self) -> Any:  # noqa: ANN401 (scikit-learn's own class, which has no types)
        tags = super().__sklearn_tags__()
        tags.regressor_tags.poor_score = True  # random columns make every row a life of its own
        return tags


def _which(keys: Floats, asked: Floats) -> Ints:
    """Row of ``keys`` that each row asked for equals; -1 where none does."""
    numbered, inverse = np.unique(np.vstack([keys, asked]), axis=0, return_inverse=True)
    inverse = inverse.ravel()
    row = np.full(len(numbered), -1, dtype=np.int64)
    row[inverse[: len(keys)]] = np.arange(len(keys))
    return row[inverse[len(keys) :]]


def _by_life(life: Ints, miles: Floats, n: int) -> tuple[Ints, Ints, Floats]:
    """Rows laid out life by life: their life, their column, and the padded miles of shape (n, columns)."""
    order = np.lexsort((miles, life))
    start = np.searchsorted(life[order], np.arange(n))
    column = np.empty(len(life), dtype=np.int64)
    column[order] = np.arange(len(life)) - start[life[order]]
    laid = np.full((n, int(column.max(initial=0)) + 1), np.nan)
    laid[life, column] = miles
    return life, column, laid


def _padded(life: Ints, miles: Floats, wear: Floats, limit: float | None) -> Lives:
    """Readings of numbered lives as one family, counted from each life's last reading."""
    n = int(life.max(initial=-1)) + 1
    rows, column, laid = _by_life(life, miles, n)
    values = np.full_like(laid, np.nan)
    values[rows, column] = wear
    largest = limit or 2 * float(np.abs(wear).max(initial=0.0)) or 1.0
    return Lives(
        family=np.zeros(n, dtype=np.int64),
        miles=laid,
        wear=values,
        limit=np.full(n, largest),
        gauge_sd=np.full_like(laid, np.nan),
        as_of_miles=np.nanmax(laid, axis=1, initial=0.0),
        ended=np.zeros(n, dtype=bool),
        day=laid,
    )
