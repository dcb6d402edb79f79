"""Wear points with a value as plain arrays, and which of them stand at one place.

A check looks at a handful of points: on arrays it costs microseconds where frames would cost milliseconds,
and all vehicles are checked in one go.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Dates = NDArray[np.datetime64]
Texts = NDArray[np.object_]

_NUMBERS = {"axle": "i8", "axle_to": "i8", "places": "i8", "value": "f8", "low": "f8", "high": "f8"}


@dataclass(frozen=True)
class Measured:
    """Wear points that have a value: arrays of one length.

    Attributes
    ----------
    point, vehicle, position, matched_set : as in the store; matched_set empty where there is none.
    part, measure, group, axle, side : as ``ingest.catalogue.classify`` gives them.
    value : in base unit.
    """

    point: Texts
    vehicle: Texts
    position: Texts
    matched_set: Texts
    part: Texts
    measure: Texts
    group: Texts
    axle: Ints
    side: Texts
    value: Floats

    @classmethod
    def of(cls, values: pd.DataFrame) -> Self:
        """From a frame with a column for each attribute."""
        return cls(**{field.name: _column(values, field.name) for field in fields(cls)})

    def rows(self, part: str, measure: str) -> Ints:
        """Rows of one kind."""
        return np.flatnonzero((self.part == part) & (self.measure == measure))


@dataclass(frozen=True)
class LastRead(Measured):
    """Wear points with their last reading.

    Attributes
    ----------
    axle_to : second axle of a gap, else 0.
    low, high : smallest and largest of the day. [base unit]
    places : how many were read on that day, around the part.
    date : of the reading.
    """

    axle_to: Ints
    low: Floats
    high: Floats
    places: Ints
    date: Dates


def _column(values: pd.DataFrame, name: str) -> NDArray:
    if name == "date":
        return values[name].to_numpy("datetime64[us]")
    if name in _NUMBERS:
        return values[name].to_numpy(_NUMBERS[name])
    column = values[name].fillna("") if name == "matched_set" else values[name]
    return column.to_numpy(object)


def numbered(*columns: NDArray) -> Ints:
    """A number for each row: the same where all columns are the same, in the order of the columns' values."""
    number = np.zeros(len(columns[0]), np.int64)
    for column in columns:
        own, names = pd.factorize(column, sort=True, use_na_sentinel=False)
        number = np.unique(number * max(len(names), 1) + own, return_inverse=True)[1]
    return number


def pairs(place: Ints, first: Ints, second: Ints) -> tuple[Ints, Ints]:
    """Rows of two kinds that stand at one place: each of the first with each of the second.

    Parameters
    ----------
    place : number of the place of each row.
    first, second : rows of each kind.

    Returns
    -------
    The two rows of each pair, in the order of ``first``, then of ``second``.
    """
    order = second[np.argsort(place[second], kind="stable")]
    start = np.searchsorted(place[order], place[first], "left")
    many = np.searchsorted(place[order], place[first], "right") - start
    within = np.arange(many.sum()) - np.repeat(np.cumsum(many) - many, many)
    return np.repeat(first, many), order[np.repeat(start, many) + within]


@dataclass(frozen=True)
class Groups:
    """Rows sorted by group; each group runs from its start to that of the next.

    Attributes
    ----------
    order : rows, group by group, within a group in their own order.
    start : place in ``order`` where each group begins.
    """

    order: Ints
    start: Ints

    @classmethod
    def of(cls, number: Ints) -> Self:
        """Groups of equal numbers, the smallest number first."""
        order = np.argsort(number, kind="stable")
        return cls(order, np.flatnonzero(np.diff(number[order], prepend=-1)))

    @property
    def first(self) -> Ints:
        """First row of each group."""
        return self.order[self.start]

    @property
    def size(self) -> Ints:
        """How many rows each group has."""
        return np.diff(self.start, append=len(self.order))

    def joined(self, texts: Texts) -> Texts:
        """Texts of each group's rows, parted by commas."""
        ordered = texts[self.order]
        ends = self.start + self.size
        return as_texts([", ".join(ordered[a:b]) for a, b in zip(self.start, ends, strict=True)])


def as_texts(words: Sequence[str]) -> Texts:
    """Words as an array of one dimension, also where there are none."""
    texts = np.empty(len(words), object)
    texts[:] = words
    return texts
