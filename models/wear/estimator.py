"""The one interface behind which every forecaster stands: the wear model and its rivals alike.

It follows scikit-learn's conventions (parameters in the constructor and nowhere else, fitted attributes
end in an underscore, ``sklearn.base.clone`` works) without importing scikit-learn, whose import alone takes
longer than a forecast may.
"""

from __future__ import annotations

import inspect
from abc import ABC, abstractmethod
from typing import Any, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.lives.table import Lives

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Forecaster(ABC):
    """Learns from the lives of one or many families and forecasts each of those lives.

    A forecaster sees the readings in ``lives`` and nothing later. It answers for every life, ended ones
    too (as though the part had stayed in service); where it has no answer it says NaN, never a guess.
    """

    @abstractmethod
    def fit(self, lives: Lives, quantity: Ints | None = None) -> Self:
        """Learn from the lives and keep what is needed to forecast each of them.

        Parameters
        ----------
        lives : n lives of one or more families. A family's number may be without a life.
        quantity : shape (lives.n_families,), optional. Families of one number measure one quantity and may
            learn from each other.
        """

    @abstractmethod
    def predict_readings(self, miles: ArrayLike, probabilities: ArrayLike) -> Floats:
        """Quantiles of a reading taken at later miles: the wear and the gauge's error together.

        Parameters
        ----------
        miles : shape (n, q). Miles since each life began, at or after its last reading. [mi] NaN: not asked
        probabilities : shape (p,), increasing. [1], in (0, 1)

        Returns
        -------
        Wear, shape (n, q, p), non-decreasing along the last axis. NaN where miles are NaN or nothing
        can be said. [unit of ``lives.wear``]
        """

    @abstractmethod
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
