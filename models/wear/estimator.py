"""The one interface behind which every forecaster stands: the wear model and its rivals alike.

A new forecaster is one method, :meth:`Forecaster.wear_paths`; readings to come and remaining miles follow
from it (:mod:`models.wear.drawn`). A forecaster that has them in closed form overrides
them, which is quicker and exact.

The interface follows scikit-learn's conventions (parameters in the constructor and nowhere else, fitted
attributes end in an underscore, ``sklearn.base.clone`` works) without importing scikit-learn, whose import
alone takes longer than a forecast may. A forecaster without parameters needs no constructor; one with
parameters may be a ``dataclass``.
"""

from __future__ import annotations

import inspect
from abc import ABC, abstractmethod
from typing import Any, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.lives.table import Lives
from models.wear.drawn import readings_drawn, remaining_drawn

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Forecaster(ABC):
    """Learns from the lives of one or many families and forecasts each of those lives.

    A forecaster sees the readings in ``lives`` and nothing later. It answers for every life, ended ones
    too (as though the part had stayed in service); where it has no answer it says NaN, never a guess.

    Attributes
    ----------
    lives_ : the lives that were fitted.
    """

    lives_: Lives

    @abstractmethod
    def wear_paths(self, miles: Floats, draws: int, rng: np.random.Generator) -> Floats:
        """Draw the wear of every life along the miles ahead: the wear itself, without the gauge's error.

        Parameters
        ----------
        miles : shape (n, r), non-decreasing along the row. Miles since each life began, at or after its last
            reading. [mi]
        draws : number of paths of each life. >= 1
        rng : the only source of chance, so that the same generator gives the same paths.

        Returns
        -------
        Wear, shape (draws, n, r), each row one path: the wear at the same draw and life is of one future.
        NaN where nothing can be said. [unit of ``lives.wear``]
        """

    def fit(self, lives: Lives, quantity: Ints | None = None) -> Self:  # noqa: ARG002 (interface)
        """Keep the lives. A forecaster that learns something beforehand overrides this and calls it first.

        Parameters
        ----------
        lives : n lives of one or more families. A family's number may be without a life.
        quantity : shape (lives.n_families,), optional. Families of one number measure one quantity and may
            learn from each other.
        """
        self.lives_ = lives
        return self

    def reading_sd(self) -> Floats:
        """Standard deviation of a reading about the wear, shape (n,): the gauge's stated error (root mean
        square over the life's readings), 0 where none is stated. [unit of ``lives.wear``]"""
        stated = np.isfinite(self.lives_.gauge_sd)
        square = np.where(stated, self.lives_.gauge_sd, 0.0) ** 2
        return np.asarray(np.sqrt(square.sum(axis=1) / np.maximum(stated.sum(axis=1), 1)))

    def predict_readings(self, miles: ArrayLike, probabilities: ArrayLike) -> Floats:
        """Quantiles of a reading taken at later miles: the wear and the gauge's error together.

        Parameters
        ----------
        miles : shape (n, r). Miles since each life began, at or after its last reading. [mi] NaN: not asked
        probabilities : shape (p,), increasing. [1], in (0, 1)

        Returns
        -------
        Wear, shape (n, r, p), non-decreasing along the last axis. NaN where miles are NaN or nothing
        can be said. [unit of ``lives.wear``]
        """
        asked, levels = np.asarray(miles, dtype=float), np.asarray(probabilities, dtype=float)
        return readings_drawn(self.wear_paths, self.lives_, asked, levels, self.reading_sd())

    def predict_remaining(self, probabilities: ArrayLike) -> Floats:
        """Quantiles of the miles from ``lives.as_of_miles`` until the wear first reaches ``lives.limit``.

        Parameters
        ----------
        probabilities : shape (p,), increasing. [1], in (0, 1)

        Returns
        -------
        Miles, shape (n, p), non-decreasing along the last axis. 0 where the limit has already been
        reached, +inf where the wear reaches it with a chance below that probability, NaN where nothing
        can be said. [mi]
        """
        return remaining_drawn(self.wear_paths, self.lives_, np.asarray(probabilities, dtype=float))

    @classmethod
    def _parameter_names(cls) -> list[str]:
        named = (inspect.Parameter.POSITIONAL_OR_KEYWORD, inspect.Parameter.KEYWORD_ONLY)
        parameters = inspect.signature(cls).parameters.values()
        return sorted(p.name for p in parameters if p.kind in named)

    def get_params(self, deep: bool = True) -> dict[str, Any]:  # noqa: ARG002 (scikit-learn's signature)
        """Parameters of the constructor, by name."""
        return {name: getattr(self, name) for name in self._parameter_names()}

    def set_params(self, **params: object) -> Self:
        """Set parameters of the constructor.

        Raises
        ------
        ValueError : a name that the constructor does not have.
        """
        known = self._parameter_names()
        for name, value in params.items():
            if name not in known:
                msg = f"{type(self).__name__} has no parameter {name!r}; it has {known}."
                raise ValueError(msg)
            setattr(self, name, value)
        return self

    def __repr__(self) -> str:
        inside = ", ".join(f"{name}={value!r}" for name, value in self.get_params().items())
        return f"{type(self).__name__}({inside})"
