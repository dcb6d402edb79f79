"""The grammar of one measurement in words and figures: what is read, and why the rest is refused.

Nothing is evaluated: a text fits the grammar and has one meaning, or it is refused with the reason.
"""

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from ingest.figures import bound
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
_ODD_MARKS = {  # after it
    "[\u00ad\u200b-\u200f\u2060\ufeff]": "",
    "[−‐‑‒–—]": "-",
    "[⁄∕]": "/",
    "[′’‘´]": "'",
    "[″”“„]": '"',
}
_MARKS = {"`": "'", "''": '"', r"\s+": " "}

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

WORDS = {
    "too long": "{} is too long for one measurement",
    "by 0": "{} divides by 0; the lower figure of a fraction is 1 or more",
    "not below 1": "the fraction of {} is not below 1; write it as one number",
    "not feet and inches": "{} is not feet and inches: beside feet, inches are below 12",
}
"""Reasons to refuse a text that fits the grammar, looked for in this order; {} is the cell."""

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


def rules() -> dict[str, Any]:
    """What this module reads by, for a reader elsewhere: patterns, and what is put in place of what."""
    return {
        "plain": PLAIN,
        "grammar": _GRAMMAR,
        "spelled": list(_SPELLED.items()),
        "odd_marks": list(_ODD_MARKS.items()),
        "marks": list(_MARKS.items()),
        "refusals": [[pattern, words] for pattern, words in _REFUSALS],
        "words": WORDS,
    }


def read_notation(cells: pd.Series, decimal: str) -> pd.DataFrame:
    """Value, unit as written and problem of each different cell.

    Parameters
    ----------
    cells : texts, shape (n,), none missing.
    decimal : the decimal mark, "." or ",".

    Returns
    -------
    DataFrame : index of `cells`; ``value`` (NaN if refused), ``written`` the unit's spelling, "" if none,
        ``feet`` whether feet stood before it, ``fraction`` whether it is one, ``problem``.
    """
    longest = bound("cell", "longest_measurement")
    folded = _fold(cells.str.slice(0, longest + 1), decimal)  # a longer one is refused for that
    part = pc.extract_regex(pa.array(folded, pa.large_string()), _GRAMMAR)
    number: Numbers = {name: _numbers(part, name) for name in ("feet", "whole", "top", "bottom", "decimal")}
    amount = _amount(number)
    feet = ~np.isnan(number["feet"])
    inches = ~(np.isnan(number["decimal"]) & np.isnan(number["bottom"]))
    value = np.where(feet & inches, 12 * number["feet"] + amount, np.where(inches, amount, number["feet"]))
    value = np.where(pc.starts_with(_texts(part, "sign"), "-").to_numpy(zero_copy_only=False), -value, value)
    problem = _problems(cells, folded, number, amount)
    fraction = ~np.isnan(number["bottom"])
    out = pd.DataFrame({"value": value, "feet": feet, "fraction": fraction}, index=cells.index)
    out["written"] = pd.Series(pc.utf8_trim_whitespace(_texts(part, "unit")), index=cells.index, dtype="str")
    bare = feet & (out["written"] == "").to_numpy(dtype=bool)
    if bare.any():
        out.loc[bare, "written"] = np.where(inches[bare], "in", "ft")
    out["problem"] = pd.Series(problem, index=cells.index, dtype="str")
    refused = problem != ""
    if refused.any():
        out.loc[refused, "value"] = np.nan
        out.loc[refused, "written"] = ""
    return out


def _texts(part: pa.StructArray, name: str) -> pa.Array:
    """What one group of the grammar took; "" where it took nothing or the text did not fit."""
    return pc.fill_null(pc.struct_field(part, name), "")


def _numbers(part: pa.StructArray, name: str) -> npt.NDArray[np.float64]:
    """The figures of one group, NaN where it took none; marked thousands are joined."""
    texts = pc.replace_substring(_texts(part, name), ",", "")
    filled = pc.if_else(pc.equal(texts, ""), pa.scalar(None, texts.type), texts)
    figures: npt.NDArray[np.float64] = pc.cast(filled, pa.float64()).to_numpy(zero_copy_only=False)
    return figures


def _amount(number: Numbers) -> npt.NDArray[np.float64]:
    """The figure beside the feet: a decimal, or a whole number and a fraction; NaN where there is none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        fraction = np.nan_to_num(number["whole"]) + number["top"] / number["bottom"]
    return np.where(np.isnan(number["decimal"]), fraction, number["decimal"])


def _problems(
    cells: pd.Series, folded: pd.Series, number: Numbers, amount: npt.NDArray[np.float64]
) -> npt.NDArray[np.object_]:
    """The first reason to refuse each cell, "" where there is none."""
    feet = ~np.isnan(number["feet"])
    too_long = (cells.str.len() > bound("cell", "longest_measurement")).to_numpy(dtype=bool)
    mixed = ~np.isnan(number["whole"]) & (number["top"] >= number["bottom"])
    problem = np.full(len(cells), "", dtype=object)
    for where, words in (
        (too_long, WORDS["too long"]),
        (number["bottom"] == 0, WORDS["by 0"]),
        (mixed, WORDS["not below 1"]),
        (feet & (amount >= 12), WORDS["not feet and inches"]),
    ):
        _refuse(problem, cells, where, words)
    unread = np.flatnonzero(np.isnan(amount) & ~feet)
    lower = folded.iloc[unread].str.lower()
    for pattern, words in _REFUSALS if len(unread) else ():
        fits = lower.str.fullmatch(pattern).to_numpy(dtype=bool)
        where = np.zeros(len(cells), dtype=bool)
        where[unread[fits]] = True
        _refuse(problem, cells, where, words)
        unread, lower = unread[~fits], lower[~fits]
    return problem


def _refuse(problem: npt.NDArray[np.object_], cells: pd.Series, where: Mask, words: str) -> None:
    """Put the reason on the cells of `where` that have none yet."""
    fresh = where & (problem == "")
    if fresh.any():
        problem[fresh] = [words.format(quoted(cell)) for cell in cells[fresh]]


def _fold(cells: pd.Series, decimal: str) -> pd.Series:
    """One spelling of every mark: spaces, signs, primes, strokes, fractions of one character."""
    odd = ~cells.str.isascii().to_numpy(dtype=bool)
    folded = cells.copy()
    if odd.any():
        folded[odd] = _replaced(_replaced(cells[odd], _SPELLED).str.normalize("NFKC"), _ODD_MARKS)
    folded = _replaced(folded, _MARKS)
    if decimal == ",":
        folded = folded.str.translate(str.maketrans(",.", ".,"))
    return folded.str.strip()


def _replaced(texts: pd.Series, marks: dict[str, str]) -> pd.Series:
    for pattern, mark in marks.items():
        texts = texts.str.replace(pattern, mark, regex=True)
    return texts
