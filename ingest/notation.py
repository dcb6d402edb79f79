"""The grammar of one measurement in words and figures: what is read, and why the rest is refused.

Nothing is evaluated: a text fits the grammar and has one meaning, or it is refused with the reason.
"""

import numpy as np
import numpy.typing as npt
import pandas as pd

from ingest.bounds import bound
from ingest.neutral import quoted

Mask = npt.NDArray[np.bool_]
Numbers = dict[str, npt.NDArray[np.float64]]

PLAIN = r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
"""A plain decimal: what most cells hold, read without the grammar."""

_COUNT = r"(?:[1-9][0-9]{0,2}(?:,[0-9]{3})+|[0-9]+)"  # thousands marked or not; no group begins with 0
_DECIMAL = rf"(?P<decimal>(?:{_COUNT}(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]{{1,3}})?)"
_WHOLE = r"(?:(?P<whole>[0-9]{1,6})(?: ?- ?| ))?"
_FRACTION = rf"{_WHOLE}(?P<top>[0-9]{{1,6}}) ?/ ?(?P<bottom>[0-9]{{1,6}})(?:ths?|nds?)?"
_FEET = r"(?:(?P<feet>[0-9]{1,5}(?:\.[0-9]+)?) ?(?:'|(?i:ft|feet|foot))\.?(?: ?[-,] ?| ?))?"
_UNIT = r"(?: ?(?P<unit>[^0-9 .,/+-][^0-9]{0,23}|(?:8|16|64)ths?|32nds?))?"
_GRAMMAR = rf"^(?P<sign>[-+] ?)?{_FEET}(?:{_FRACTION}|{_DECIMAL})?{_UNIT}$"

_SPELLED = {  # before the compatibility form, which would make 13/8 of 1⅜
    "([¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞])": r" \1",
    "([0-9])([⁰¹²³⁴⁵⁶⁷⁸⁹])": r"\1 \2",
}
_MARKS = {  # after it
    "[\u00ad\u200b-\u200f\u2060\ufeff]": "",
    "[−‐‑‒–—]": "-",
    "[⁄∕]": "/",
    "[′’‘`´]": "'",
    "[″”“„]|''": '"',
    r"\s+": " ",
}

_MONTH = "(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*"
_DATE = (
    r"[0-9]{4}[-/.][0-9]{1,2}[-/.][0-9]{1,2}(?:[ t].*)?|[0-9]{1,2}[-/.][0-9]{1,2}[-/.][0-9]{2,4}"
    rf"|[0-9]{{1,2}}[-/ .]*{_MONTH}(?:[-/ .,]*[0-9]{{2,4}})?"
    rf"|{_MONTH}[-/ .,]*[0-9]{{1,4}}(?:[-/ .,]+[0-9]{{2,4}})?"
)
_NONE = (
    r"[-?.*x/]+|n\.? ?/?\.? ?[amr]\.?|nan|none|nil|null|tbd|tba|unk(?:nown)?|missing|no reading"
    r"|not (?:measured|taken|read)|#(?:n/a|div/0!|value!|ref!|num!|name\?|null!)"
)
_BOUND = r"(?:[<>≤≥~≈±]|about |abt |approx|ca?\. ?[0-9]|over |under |max|min).*|.*[0-9] ?[+?]"
_NUMBER = r"(?:[0-9]+(?:[.,][0-9]+)*|\.[0-9]+)"

# In this order: the first that fits the whole text is the reason; {} is the cell.
_REFUSALS = (
    ("", "the cell is empty; a measured value was expected"),
    (_NONE, "{} is no measurement; leave the cell empty if nothing was measured"),
    ("true|false|yes|no|ok|good|pass(?:ed)?|fail(?:ed)?", "{} is a verdict; write the measured value"),
    (_DATE, "{} is a date, not a measurement; a spreadsheet makes 3/4 a date unless the cell is text"),
    ("[0-9]{1,2}:[0-9]{2}.*", "{} is a time of day, not a measurement"),
    (_BOUND, "{} is a bound or an estimate; one measured value was expected"),
    (
        "[-+]?[0-9]*,[0-9]+[^0-9]*",
        "the comma of {} marks no thousands; if it marks decimals, say so in a layout",
    ),
    (rf".*?{_NUMBER}.*?[^0-9.,].*?[0-9].*", "{} holds more than one number; one measured value was expected"),
    (".*[0-9].*", "{} cannot be read as one number; write it like 1.375, 1 3/8 or 34.9 mm"),
    (".*", "{} holds no number; a measured value was expected"),
)


def read_notation(cells: pd.Series, decimal: str) -> pd.DataFrame:
    """Value, unit as written and problem of each different cell.

    Parameters
    ----------
    cells : texts, shape (n,), none missing.
    decimal : the decimal mark, "." or ",".

    Returns
    -------
    DataFrame : index of `cells`; ``value`` (NaN if refused), ``written`` the unit's spelling, "" if none,
        ``feet`` whether feet stood before it, ``problem``.
    """
    folded = _fold(cells, decimal)
    part = folded.str.extract(_GRAMMAR)
    number: Numbers = {
        name: part[name].to_numpy(dtype=np.float64) for name in ("feet", "whole", "top", "bottom")
    }
    number["decimal"] = part["decimal"].str.replace(",", "").to_numpy(dtype=np.float64)
    value = _amount(number)
    feet = ~np.isnan(number["feet"])
    inches = ~(np.isnan(number["decimal"]) & np.isnan(number["bottom"]))
    out = pd.DataFrame(
        {"value": np.where(feet & inches, 12 * np.nan_to_num(number["feet"]), 0.0)}, cells.index
    )
    out["value"] += np.where(inches, value, number["feet"])
    out["value"] *= np.where(part["sign"].str.startswith("-").fillna(False).to_numpy(dtype=bool), -1.0, 1.0)
    out["written"] = part["unit"].fillna("").str.strip()
    out["feet"] = feet
    out["problem"] = _problems(cells, folded, number, value)
    out.loc[feet & inches & (out["written"] == ""), "written"] = "in"
    out.loc[feet & ~inches & (out["written"] == ""), "written"] = "ft"
    refused = out["problem"] != ""
    out["value"], out["written"] = out["value"].mask(refused), out["written"].mask(refused, "")
    return out


def _amount(number: Numbers) -> npt.NDArray[np.float64]:
    """The figure beside the feet: a decimal, or a whole number and a fraction; NaN where there is none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        fraction = np.nan_to_num(number["whole"]) + number["top"] / number["bottom"]
    return np.where(np.isnan(number["decimal"]), fraction, number["decimal"])


def _problems(
    cells: pd.Series,
    folded: pd.Series,
    number: Numbers,
    value: npt.NDArray[np.float64],
) -> pd.Series:
    """The first reason to refuse each cell, "" where there is none."""
    problem = pd.Series("", index=cells.index, dtype="str")
    feet = ~np.isnan(number["feet"])
    mixed = ~np.isnan(number["whole"]) & (number["top"] >= number["bottom"])
    longest = bound("cell", "longest_measurement")
    _refuse(
        problem, cells, (cells.str.len() > longest).to_numpy(dtype=bool), "{} is too long for one measurement"
    )
    _refuse(
        problem, cells, number["bottom"] == 0, "{} divides by 0; the lower figure of a fraction is 1 or more"
    )
    _refuse(problem, cells, mixed, "the fraction of {} is not below 1; write it as one number")
    _refuse(
        problem, cells, feet & (value >= 12), "{} is not feet and inches: beside feet, inches are below 12"
    )
    unread = np.isnan(value) & ~feet
    lower = folded.str.lower()
    for pattern, words in _REFUSALS:
        if not unread.any():
            break
        fits = np.zeros(len(cells), dtype=bool)
        fits[unread] = lower[unread].str.fullmatch(pattern).to_numpy(dtype=bool)
        _refuse(problem, cells, fits, words)
        unread &= ~fits
    return problem


def _refuse(problem: pd.Series, cells: pd.Series, where: Mask, words: str) -> None:
    """Put the reason on the cells of `where` that have none yet."""
    fresh = where & (problem == "").to_numpy(dtype=bool)
    if fresh.any():
        problem[fresh] = [words.format(quoted(cell)) for cell in cells[fresh]]


def _fold(cells: pd.Series, decimal: str) -> pd.Series:
    """One spelling of every mark: spaces, signs, primes, strokes, fractions of one character."""
    folded = cells
    for pattern, mark in _SPELLED.items():
        folded = folded.str.replace(pattern, mark, regex=True)
    folded = folded.str.normalize("NFKC")
    for pattern, mark in _MARKS.items():
        folded = folded.str.replace(pattern, mark, regex=True)
    if decimal == ",":
        folded = folded.str.translate(str.maketrans(",.", ".,"))
    return folded.str.strip()
