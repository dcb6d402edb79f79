"""The only conversion table: lengths to mm, distances to miles.

A unit that is no known length is a unit of its own (%, hours): its base unit is itself. Money, time and
areas are not lengths and are never converted.
"""

from typing import overload

import numpy as np
import numpy.typing as npt
import pandas as pd

from ingest.unit_names import is_known, spellings, unit_of

__all__ = [
    "DISTANCE_MI",
    "LENGTH_MM",
    "PARTS_OF_MM",
    "base_unit",
    "from_base",
    "is_known",
    "is_length",
    "per_unit",
    "spellings",
    "to_base",
    "unit_of",
]

# Exact since 1 July 1959: the yard is 0.9144 m (agreement of the national laboratories of Australia, Canada,
# New Zealand, South Africa, the United Kingdom and the United States; US Federal Register 24 FR 5348).
# Hence inch = 25.4 mm, foot = 304.8 mm, mile = 1,760 yd = 1,609.344 m, all exact.
MM_PER_YARD = 914.4
MM_PER_INCH = MM_PER_YARD / 36
MM_PER_MILE = MM_PER_YARD * 1760

LENGTH_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "µm": 0.001,
    "1/10 mm": 0.1,  # workshops count clearances in these, where others count thousandths of an inch
    "1/100 mm": 0.01,
    "in": MM_PER_INCH,
    "thou": MM_PER_INCH / 1000,
    "1/8 in": MM_PER_INCH / 8,  # gauges whose scale counts parts of an inch are read as that count
    "1/16 in": MM_PER_INCH / 16,
    "1/32 in": MM_PER_INCH / 32,
    "1/64 in": MM_PER_INCH / 64,
    "ft": MM_PER_YARD / 3,
    "yd": MM_PER_YARD,
}
"""Millimetres in one of each canonical unit of length. [mm]"""

PARTS_OF_MM = ("1/10 mm", "1/100 mm")
"""Units that count parts of a millimetre; ``0.1 mm`` may also say how finely was read."""

DISTANCE_MI = {"mi": 1.0, "km": 1_000_000 / MM_PER_MILE}
"""Miles in one of each canonical unit of distance. [mi]"""


def is_length(unit: str) -> bool:
    """Whether `unit` is a canonical unit of length."""
    return unit in LENGTH_MM


def base_unit(unit: str) -> str:
    """``mm`` for a length, ``mi`` for a distance, the unit itself otherwise."""
    if unit in LENGTH_MM:
        return "mm"
    return "mi" if unit in DISTANCE_MI else unit


def per_unit(unit: str) -> float:
    """Base units in one `unit`: ``per_unit("in")`` is 25.4 [mm/in]; 1 for a unit of its own."""
    return LENGTH_MM.get(unit, DISTANCE_MI.get(unit, 1.0))


@overload
def to_base(value: float, unit: str) -> float: ...
@overload
def to_base(value: npt.NDArray[np.float64], unit: str) -> npt.NDArray[np.float64]: ...
@overload
def to_base(value: pd.Series, unit: str | pd.Series) -> pd.Series: ...
def to_base(
    value: float | npt.NDArray[np.float64] | pd.Series, unit: str | pd.Series
) -> float | npt.NDArray[np.float64] | pd.Series:
    """The value in its base unit: mm for lengths, miles for distances, unchanged otherwise.

    Parameters
    ----------
    value : one number, an array, or a Series of numbers.
    unit : canonical unit (`unit_of`) of all of them, or a Series beside `value`; an unknown, empty or
        missing unit leaves the value as it is.

    Returns
    -------
    Same kind as `value`. [mm], [mi] or the unit itself

    Notes
    -----
    Exact factors: the international yard of 1959 (24 FR 5348).
    """
    if isinstance(unit, pd.Series):
        return value * unit.map({word: per_unit(word) for word in unit.unique()}).astype("float64")
    return value * per_unit(unit)


def from_base(value: float, unit: str) -> float:
    """Inverse of `to_base`: a value in mm or miles in the unit that people see."""
    return value / per_unit(unit)
