"""The only conversion table: lengths to mm, distances to miles.

A unit that is no known length is a unit of its own (%, hours): its base unit is itself. Money, time and
areas are not lengths and are never converted.
"""

import re
import unicodedata
from typing import overload

import numpy as np
import numpy.typing as npt
import pandas as pd

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

DISTANCE_MI = {"mi": 1.0, "km": 1_000_000 / MM_PER_MILE}
"""Miles in one of each canonical unit of distance. [mi]"""

# What people write, after `_folded`. Lower case, no dots, one space between words.
_SPELLINGS = {
    "mm": "mm|millimetre|millimetres|millimeter|millimeters|mms|mil metres",
    "cm": "cm|centimetre|centimetres|centimeter|centimeters|cms",
    "m": "m|metre|metres|meter|meters",
    "µm": "µm|um|micron|microns|micrometre|micrometres|micrometer|micrometers",
    "in": "in|ins|inch|inches|\"|''",
    "thou": "thou|thous|thousandth|thousandths|mil|mils|thou in|0.001 in|.001 in|1/1000 in"
    '|0.001"|.001"|1/1000"',
    "1/8 in": '1/8 in|1/8 ins|1/8 inch|1/8"|8ths|8th|eighths|eighth|8ths in|eighths of an inch',
    "1/16 in": '1/16 in|1/16 ins|1/16 inch|1/16"|16ths|16th|sixteenths|sixteenth|16ths in|'
    "sixteenths of an inch",
    "1/32 in": '1/32 in|1/32 ins|1/32 inch|1/32"|32nds|32nd|32ds|thirty-seconds|thirty-second|32nds in|'
    "thirty-seconds of an inch",
    "1/64 in": '1/64 in|1/64 ins|1/64 inch|1/64"|64ths|64th|sixty-fourths|sixty-fourth|64ths in|'
    "sixty-fourths of an inch",
    "ft": "ft|foot|feet|'",
    "yd": "yd|yds|yard|yards",
    "mi": "mi|mile|miles|statute mile|statute miles",
    "km": "km|kms|kilometre|kilometres|kilometer|kilometers",
    "%": "%|percent|per cent|pct",
    "hours": "hours|hour|h|hr|hrs",
    "days": "days|day",
    "psi": "psi|lb/in2|lbs/in2|lbf/in2",
    "bar": "bar",
    "kPa": "kpa",
    "lb": "lb|lbs|pound|pounds",
    "kg": "kg|kgs|kilogram|kilograms",
    "°": "°|deg|degree|degrees",
    "HB": "hb|hbw|bhn|brinell",
}
_CANONICAL = {word: unit for unit, words in _SPELLINGS.items() for word in words.split("|")}
_MARKS = str.maketrans(
    {"″": '"', "”": '"', "“": '"', "„": '"', "′": "'", "’": "'", "‘": "'", "⁄": "/", "μ": "µ"}
)
_LONGEST_UNIT = 24  # characters; a longer text in a unit column is a remark, not a unit


def unit_of(text: str) -> str | None:
    """Canonical name of a unit as people write it.

    Parameters
    ----------
    text : what the unit column, the heading or the cell says: ``inches``, ``"``, ``Thou.``, ``%``.

    Returns
    -------
    str or None : a key of `LENGTH_MM` or `DISTANCE_MI`; for any other unit its usual name, or the text
        itself, trimmed, in lower case; None where the text is empty or can be no unit (it holds a
        figure, or is longer than a unit is).
    """
    folded = _folded(text)
    if not folded:
        return None
    known = _CANONICAL.get(folded)
    if known is not None:
        return known
    impossible = len(folded) > _LONGEST_UNIT or re.match(r"[-+.]?[0-9]", folded) or not folded.isprintable()
    return None if impossible else folded


def spellings(unit: str) -> list[str]:
    """How people write a canonical unit, in lower case; KeyError if there is no such unit."""
    return _SPELLINGS[unit].split("|")


def is_known(unit: str) -> bool:
    """Whether `unit` is a canonical unit of this module, convertible or not (``in``, ``km``, ``%``)."""
    return unit in _SPELLINGS


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


def _folded(text: str) -> str:
    """Lower case, one space between words, no full stops, brackets or odd marks: only what tells units
    apart."""
    marked = unicodedata.normalize("NFC", str(text)).translate(_MARKS).strip().strip("()[]{}").lower()
    return " ".join(re.sub(r"[.,](?![0-9])", "", marked).split())
