"""Dates as people write them, to days. An order of day and month that nobody stated is never guessed.

A two-digit year is read as POSIX reads it: 69-99 in the twentieth century, 00-68 in the twenty-first
(IEEE Std 1003.1, strptime, %y). A year that this puts in the future is then held back as a future date.
"""

import tomllib
from collections.abc import Iterator
from datetime import date
from importlib.resources import files

import numpy as np
import numpy.typing as npt
import pandas as pd

from ingest.errors import WrongUsage
from ingest.figures import bound
from ingest.neutral import quoted
from ingest.notation.once import read_once

ORDERS = {"dmy": ("day", "month", "year"), "mdy": ("month", "day", "year"), "ymd": ("year", "month", "day")}
"""Which of three figures is what; a layout states one of them."""

SEVERAL_ORDERS = "can be read in more than one order"
"""Part of the reason of a date whose order nobody stated."""


def month_words() -> Iterator[tuple[str, str, int]]:
    """Language, name without marks on letters, and number of the months of ``month_names.toml``."""
    written = tomllib.loads((files("ingest.notation") / "month_names.toml").read_text(encoding="utf-8"))
    for language, months in written.items():
        for month, words in enumerate(months, start=1):
            for word in words.split():
                yield language, word, month


_SHORT = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH_OF = {word: month for _, word, month in month_words()}


def _any_of(*, roman: bool) -> str:
    """Pattern of a month by its name, or by its Roman number."""
    words = {word for language, word, _ in month_words() if (language == "roman") == roman}
    return f"(?P<name>{'|'.join(sorted(words, key=lambda word: (-len(word), word)))})"


_NAME, _ROMAN = _any_of(roman=False), _any_of(roman=True)
_WEEKDAY = "(?:(?:mon|tue|tues|wed|wednes|thu|thur|thurs|fri|sat|satur|sun)(?:day)?[., ]+)?"
_CLOCK = r"(?:[t ] ?[0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]+)?)? ?(?:[ap]m|z)?)?"
_DAY = "(?P<day>[0-9]{1,2})(?:st|nd|rd|th|er|º|°)?"
_OF = "(?:of |de |del |d')?"
_YEAR = "(?P<year>[0-9]{4}|'?[0-9]{2})"

_MONTH_ALONE = {
    r"^([0-9]{4})[-/.]([0-9]{1,2})$": r"\1-\2-1",
    r"^([0-9]{1,2})[-/.]([0-9]{4})$": r"\2-\1-1",
    r"^([^\W\d_]{3,12})\.?[-/ ,]+('?[0-9]{2}|[0-9]{4})$": r"1 \1 \2",
}

_FORMS = {
    "year first": rf"(?P<year>[0-9]{{4}})([-/.])(?P<month>[0-9]{{1,2}})\2(?P<day>[0-9]{{1,2}}){_CLOCK}",
    "day and ordinal": r"(?P<day>[0-9]{1,2})\. (?P<month>[0-9]{1,2})\. ?(?P<year>[0-9]{4})",  # 3. 5. 1998
    "compact": "(?P<year>(?:18|19|20)[0-9]{2})(?P<month>[0-9]{2})(?P<day>[0-9]{2})",
    "day and name": rf"{_WEEKDAY}{_DAY}[-/., ]*{_OF}{_NAME}[-/., ]*{_OF}{_YEAR}{_CLOCK}",
    "day and Roman month": rf"{_DAY}[-/., ]+{_ROMAN}[-/., ]+(?P<year>[0-9]{{4}})",  # 5 x 10 is no date
    "name and day": rf"{_WEEKDAY}{_NAME}[-/. ]*{_DAY}[-/., ]+{_YEAR}{_CLOCK}",
}
_THREE = rf"(?P<a>[0-9]{{1,4}})([-/.])(?P<b>[0-9]{{1,2}})\2(?P<c>[0-9]{{4}}|[0-9]{{2}}){_CLOCK}"
_SERIAL = r"(?P<serial>[1-9][0-9]{4})(?:\.[0-9]+)?"

# Day 0 of the spreadsheet calendar that begins in 1900, its false 29 February 1900 counted (ECMA-376 Part 1,
# 18.17.4.1): right for every serial from 61 on; five figures mean 18 May 1927 to 14 October 2173.
_SERIAL_ZERO = np.datetime64("1899-12-30", "D")

EARLIEST_YEAR, LATEST_YEAR = 1800, 2199  # no published source: railways, and no typing error of a century

Whole = npt.NDArray[np.int64]
Days = npt.NDArray[np.datetime64]
Words = npt.NDArray[np.object_]


def parse_dates(text: pd.Series, order: str | None = None) -> pd.DataFrame:
    """Days named by cells.

    Parameters
    ----------
    text : cells, shape (n,): ``1998-05-03``, ``3 May 1998``, ``May 3, 1998``, ``3. März 1998``,
        ``3. 5. 1998``, ``3 V 1998``, ``19980503``, a spreadsheet's day number (``35918``); ``03/04/05`` only
        where `order` is given. A time of day is passed over. Names of months are those of
        ``month_names.toml``.
    order : ``dmy``, ``mdy`` or ``ymd``, or None: nobody stated it. Then three figures are read only when
        every order that makes a date of them makes the same one (``25/12/1998``).

    Returns
    -------
    DataFrame : index of `text`; ``date`` datetime64[us] at midnight, NaT where there is a problem;
        ``problem`` why it was refused, "" if it was not.
    """
    code, cells = pd.factorize(text.fillna("").astype("str"))
    read = read_once(_read, cells, order)
    return read.take(code).set_axis(text.index, axis=0)


def parse_months(text: pd.Series, order: str | None = None) -> pd.DataFrame:
    """First days of the months named by cells.

    Parameters
    ----------
    text : cells, shape (n,): ``1998-05``, ``May 1998``, ``05/1998``, or any day of the month.
    order : order of day and month where a whole date is written, see `parse_dates`.

    Returns
    -------
    DataFrame : as of `parse_dates`; ``date`` is the first of the month.
    """
    folded = text.fillna("").astype("str").str.strip()
    for pattern, day in _MONTH_ALONE.items():
        folded = folded.str.replace(pattern, day, regex=True)
    out = parse_dates(folded, order)
    out["date"] = out["date"].to_numpy().astype("datetime64[M]").astype("datetime64[us]")
    return out


def _read(cells: pd.Series, order: str | None) -> pd.DataFrame:
    """Date and problem of each different cell."""
    # No way to write a day is longer: a longer text is none, and not looked through.
    short = cells.where(cells.str.len() <= bound("cell", "longest_measurement"), "")
    folded = short.str.replace(r"[\u00ad\u200b-\u200f\u2060\ufeff]", "", regex=True).str.normalize("NFKC")
    folded = folded.str.replace(r"\s+", " ", regex=True).str.strip().str.lower()
    folded = folded.str.replace("[−‐‑–—]", "-", regex=True).str.replace("[’‘]", "'", regex=True)
    out = pd.DataFrame({"date": np.datetime64("NaT", "us"), "problem": ""}, index=cells.index)
    out = out.astype({"date": "datetime64[us]", "problem": "str"})
    open_ = np.ones(len(cells), dtype=bool)
    for read_form in (_read_named, _read_three, _read_serial):
        if open_.any():
            part = read_form(cells[open_], folded[open_], order)
            out.loc[part.index, ["date", "problem"]] = part
            open_ &= ~cells.index.isin(part.index)
    left = cells[open_]
    out.loc[open_, "problem"] = [
        "the date is empty; a day like 1998-05-03 was expected"
        if not words.strip()
        else f"{quoted(words)} is no date; write the day like 1998-05-03 or 3 May 1998"
        for words in left
    ]
    return out


def _read_named(cells: pd.Series, folded: pd.Series, order: str | None) -> pd.DataFrame:  # noqa: ARG001
    """Dates whose form itself says what is what, whatever the order."""
    parts = []
    left = folded.str.normalize("NFKD").str.replace(r"[\u0300-\u036f]", "", regex=True)
    for pattern in _FORMS.values():
        part = left.str.extract(f"^{pattern}$")
        part = part[part["year"].notna()]
        left = left.drop(part.index)
        if "name" in part:
            part["month"] = part["name"].map(_MONTH_OF)
        parts.append(part[["year", "month", "day"]])
    figures = pd.concat(parts).sort_index()
    year = _full_year(figures["year"].str.lstrip("'"))
    date, wrong = _days(year, figures["month"].to_numpy(dtype=np.int64), _whole(figures["day"]))
    return _answer(cells[figures.index], date, wrong)


def _read_three(cells: pd.Series, folded: pd.Series, order: str | None) -> pd.DataFrame:
    """Three figures, in the order stated, or in the only order that makes a date."""
    figures = folded.str.extract(f"^{_THREE}$")
    figures = figures[figures["a"].notna()]
    cells = cells[figures.index]
    if order is not None:
        date, wrong = _in_order(figures, ORDERS[order])
        return _answer(cells, date, np.where(wrong == "", "", wrong + f" (in the order {order})"))
    tried = [_in_order(figures, places) for places in ORDERS.values()]
    dates = np.vstack([date for date, _ in tried])
    first = np.min(np.where(np.isnat(dates), np.datetime64("9999-12-31"), dates), axis=0)
    is_date = (~np.isnat(dates)).any(axis=0)
    is_clear = is_date & ((dates == first) | np.isnat(dates)).all(axis=0)
    words = np.where(is_date, f"{SEVERAL_ORDERS}; state it in a layout, or write 2005-04-03", "")
    for _, wrong in tried:  # where no order makes a date, the first one that has such a month says why not
        words = np.where((words == "") & np.char.startswith(wrong.astype(str), "is "), wrong, words)
    words = np.where(words == "", "is no date in any order of day, month and year", words)
    return _answer(cells, np.where(is_clear, first, np.datetime64("NaT")), np.where(is_clear, "", words))


def _read_serial(cells: pd.Series, folded: pd.Series, order: str | None) -> pd.DataFrame:  # noqa: ARG001
    """A spreadsheet's count of days."""
    serial = folded.str.extract(f"^{_SERIAL}$")["serial"].dropna()
    date = _SERIAL_ZERO + serial.astype("int64").to_numpy().astype("timedelta64[D]")
    return _answer(cells[serial.index], date, np.full(len(serial), "", dtype=object))


def _in_order(part: pd.DataFrame, places: tuple[str, str, str]) -> tuple[Days, Words]:
    """Days and reasons when the three figures stand in this order."""
    written = dict(zip(places, (part["a"], part["b"], part["c"]), strict=True))
    short = (written["month"].str.len() <= 2) & (written["day"].str.len() <= 2)
    placed = (written["year"].str.len().isin([2, 4]) & short).to_numpy(dtype=bool)
    date, wrong = _days(_full_year(written["year"]), _whole(written["month"]), _whole(written["day"]))
    return np.where(placed, date, np.datetime64("NaT")), np.where(placed, wrong, "has its year elsewhere")


def _full_year(written: pd.Series) -> Whole:
    """Two-digit years by the POSIX rule."""
    year = _whole(written)
    short = (written.str.len() <= 2).to_numpy(dtype=bool)
    return year + np.where(short, np.where(year >= 69, 1900, 2000), 0)


def _whole(written: pd.Series) -> Whole:
    return written.to_numpy(dtype=str).astype(np.int64) if len(written) else np.zeros(0, np.int64)


def _days(year: Whole, month: Whole, day: Whole) -> tuple[Days, Words]:
    """Days of the calendar, NaT with a reason where there is no such day."""
    sound = (month >= 1) & (month <= 12) & (year >= EARLIEST_YEAR) & (year <= LATEST_YEAR)
    months = (np.where(sound, year, 2000) - 1970) * 12 + np.where(sound, month, 1) - 1
    first = months.astype("datetime64[M]")
    length = ((first + 1).astype("datetime64[D]") - first.astype("datetime64[D]")).astype(np.int64)
    exists = sound & (day >= 1) & (day <= length)
    offset = (np.where(exists, day, 1) - 1).astype("timedelta64[D]")
    date = np.where(exists, first.astype("datetime64[D]") + offset, np.datetime64("NaT"))
    wrong = np.full(len(year), "", dtype=object)
    wrong[~exists] = [
        _why_not(*figures) for figures in zip(year[~exists], month[~exists], day[~exists], strict=True)
    ]
    return date, wrong


def _why_not(year: int, month: int, day: int) -> str:
    if not 1 <= month <= 12:
        return "has no month between 1 and 12"
    if not EARLIEST_YEAR <= year <= LATEST_YEAR:
        return f"has a year outside {EARLIEST_YEAR} to {LATEST_YEAR}"
    return f"is {day} {_SHORT[month - 1].capitalize()} {year}, a day that the calendar does not have"


def _answer(cells: pd.Series, date: Days, wrong: Words) -> pd.DataFrame:
    """Dates, with whole sentences for what is wrong with them."""
    problem = [f"{quoted(cell)} {words}" if words else "" for cell, words in zip(cells, wrong, strict=True)]
    frame = pd.DataFrame({"date": date.astype("datetime64[us]"), "problem": problem}, index=cells.index)
    return frame.astype({"problem": "str"})


def day_asked(text: str) -> date:
    """A day that somebody asks about, written 2027-11-01.

    Raises
    ------
    WrongUsage : it is written otherwise, or its year is none that this module reads.
    """
    written = text.strip()
    try:
        day = date.fromisoformat(written) if len(written) == len("2027-11-01") else None
    except ValueError:
        day = None
    if day is None:
        raise WrongUsage(f"{quoted(written)} is no day. Expected a day such as 2027-11-01.")
    if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        raise WrongUsage(
            f"{quoted(written)} is out of reach. Expected a day from {EARLIEST_YEAR} to {LATEST_YEAR}."
        )
    return day
