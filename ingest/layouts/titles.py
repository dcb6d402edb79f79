"""What the title of a sheet says of all its rows: the engine, the part, what was measured, the unit."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from importlib.resources import files

import pandas as pd

from ingest.layouts.blocks import unmerged
from ingest.layouts.clues import other_day_words
from ingest.layouts.find import are_dates
from ingest.layouts.pointed import Pointed
from ingest.sheets.cells import RawCells
from ingest.unit_names import is_known, unit_of

_LONGEST = 400  # characters of titles that are looked through
_WORD = re.compile(r"[^\W_]+(?:\.[^\W_]+)*")
_YEAR = re.compile(r"(?<![\d/–-])((?:19|20)\d\d)(?!\d|\s?[/–-]\s?\d)")
_NO_YEAR = re.compile(r"\d{1,2}\.?[ -]?[^\W\d_]{3,12}\.?|[^\W\d_]{3,12}\.? ?\d{1,2}|\d{1,2}([./-])\d{1,2}\1?")
"""A day and a month: ``14 June``, ``June 14``, ``14.6.``, ``14/6``."""
_BETWEEN = re.compile(r"\d([./-])\d")
_NO_UNITS = {"in", "m", "h", "cal", "days", "day"}
"""Units that are words of a title too."""


def names_on_record(points: pd.DataFrame) -> dict[str, list[str]]:
    """What wear points are called: column -> names of vehicles, components, quantities."""
    return {
        name: sorted(points[name].unique()) for name in ("vehicle", "component", "quantity") if len(points)
    }


def with_title(sheet: RawCells, pointed: Pointed, names: Mapping[str, Sequence[str]]) -> Pointed:
    """The proposal with what stands above the headings, or on the sheet's tab, filled in where it is open.

    A tab that is a day is that of all its rows, else the one day that stands above the headings.

    Parameters
    ----------
    names : column -> names on record (vehicle, component, quantity). One is taken where it alone stands
        there, or holds the others (``flange thickness`` beside ``thickness``). A person sees and confirms it.
    """
    if pointed.starts or pointed.engines or not pointed.header:
        return pointed
    pointed = replace(pointed, tells=_vehicles_told(sheet, pointed, names.get("vehicle", ())))
    above = sheet.cells.iloc[: min(pointed.header) - 1].to_numpy(dtype=object).ravel()
    text = " ".join(filter(None, [sheet.sheet or "", *map(str, above)]))[:_LONGEST]
    words = _WORD.findall(text.casefold())
    given = {*pointed.columns.values(), *pointed.cells, *pointed.tells, *pointed.fixed}
    found = {column: _named(words, listed) for column, listed in names.items()}
    found["unit"] = _unit(words)
    if _named_below(sheet, pointed, names.get("vehicle", ())) - {found.get("vehicle", "").casefold()}:
        found["vehicle"] = ""
    if "point" in given:
        found = {"unit": found["unit"]}
    tab = sheet.sheet or ""
    lines = [text for text in map(str, above) if _of_readings(text)]
    found["date"] = tab if tab and are_dates([tab])[0] else _day(lines)
    if not found["date"] and "date" not in given:
        found["date"], skip = _signed(sheet, pointed)
        pointed = replace(pointed, skip=(*pointed.skip, *skip))
    if "date" in pointed.columns.values() and (days := _of_the_year(sheet, pointed, [tab, *lines])):
        pointed = replace(pointed, words={**pointed.words, "date": days})
    fixed = {column: name for column, name in found.items() if name and column not in given}
    return replace(pointed, fixed={**pointed.fixed, **fixed})


def _signed(sheet: RawCells, pointed: Pointed) -> tuple[str, tuple[str, ...]]:
    """The one day of lines below the table that say when it was measured, and how these begin, to be skipped.

    *Measured by A. Fenn, 14 June 2003*, or *Date* beside the day; never *Next due*.
    """
    values = [*pointed.spread, *(p for p, column in pointed.columns.items() if column == "value")]
    days: dict[str, str] = {}
    for place in range(len(sheet.cells) - 1, max(pointed.header) - 1, -1):
        line = sheet.cells.iloc[place]
        text = " ".join(str(cell) for cell in line if cell)[:_LONGEST]
        signed = not _signature_words().isdisjoint(_WORD.findall(text.casefold()))
        if signed and _of_readings(text):
            days[next(str(cell) for cell in line if cell)] = text
        elif (line.iloc[values] != "").any():
            break
    day = _day(list(days.values()))
    return (day, tuple(f"{begin}*" for begin in days if "*" not in begin)) if day else ("", ())


def _of_the_year(sheet: RawCells, pointed: Pointed, above: Sequence[str]) -> dict[str, str]:
    """Days as a column writes them without a year -> with the one year that stands above; else nothing.

    Not where a season is told (*2003/04*): which of its years a day is of nobody says.
    """
    years = {year for line in above for year in _YEAR.findall(line[:_LONGEST])}
    places = [p for p, column in pointed.columns.items() if column == "date"]
    texts = {str(text) for text in sheet.cells.iloc[max(pointed.header) :, places[0]] if text}
    if len(places) != 1 or len(years) != 1 or not texts or not all(map(_NO_YEAR.fullmatch, texts)):
        return {}
    year = years.pop()
    days = {text: _with_year(text, year) for text in texts}
    return dict(sorted(days.items())) if are_dates([*days.values()]).all() else {}


def _with_year(day: str, year: str) -> str:
    """``14 June 2003``, ``14.6.2003``, ``14/6/2003``."""
    mark = _BETWEEN.search(day)
    return f"{day} {year}" if mark is None else f"{day.removesuffix(mark[1])}{mark[1]}{year}"


def _of_readings(line: str) -> bool:
    """Whether no word of a line says that its day is that of something else: *next due*."""
    return other_day_words().isdisjoint(_WORD.findall(line[:_LONGEST].casefold()))


@cache
def _signature_words() -> frozenset[str]:
    text = (files("ingest.layouts") / "signature_words.toml").read_text(encoding="utf-8")
    return frozenset(word for words in tomllib.loads(text).values() for word in words)


def _named_below(sheet: RawCells, pointed: Pointed, vehicles: Sequence[str]) -> set[str]:
    """Vehicles that stand alone in a line below the headings: what follows is about them."""
    below = sheet.cells.iloc[max(pointed.header) :]
    alone = below[(below != "").sum(axis=1) == 1].to_numpy(dtype=object).ravel()
    return {named_in(str(text), vehicles).casefold() for text in alone if text} - {""}


def _vehicles_told(sheet: RawCells, pointed: Pointed, vehicles: Sequence[str]) -> tuple[str, ...]:
    """What the rows of headings say, engines where nothing but names of engines on record stands in one."""
    known, cells = {name.casefold() for name in vehicles}, unmerged(sheet)
    tells = list(pointed.tells)
    for place, row in enumerate(pointed.header[: len(tells)]):
        texts = {str(cells.iloc[row - 1, p]).strip().casefold() for p in pointed.spread} - {""}
        if texts and texts <= known:
            tells[place] = "vehicle"
    return tuple(tells)


def named_in(text: str, names: Sequence[str]) -> str:
    """The one name that stands in a text, as for :func:`with_title`; empty where none or several do."""
    return _named(_WORD.findall(text[:_LONGEST].casefold()), names)


def _named(words: list[str], names: Sequence[str]) -> str:
    """The one name whose words stand in a row among these; empty where several do, unless it holds them."""
    here = [name for name in names if _stands(_WORD.findall(name.casefold()), words)]
    longest = max(here, key=len, default="")
    return longest if all(name.casefold() in longest.casefold() for name in here) else ""


def _stands(name: list[str], words: list[str]) -> bool:
    """Whether the words of a name stand in a row, the last one also in its plural."""
    if not name:
        return False
    for start in range(len(words) - len(name) + 1):
        *first, last = words[start : start + len(name)]
        if first == name[:-1] and last in (name[-1], f"{name[-1]}s", f"{name[-1]}es"):
            return True
    return False


def days_in(lines: Sequence[str]) -> dict[str, set[str]]:
    """Lines -> the days that stand in each, as they are written there; asked about all at once."""
    said: dict[str, list[str]] = {}
    for line in dict.fromkeys(lines):
        words = line[:_LONGEST].split()
        parts = [" ".join(words[at : at + n]).strip(" ,;:()") for n in (3, 2, 1) for at in range(len(words))]
        said[line] = [text for text in dict.fromkeys(parts) if re.search(r"\d", text) and not text.isdigit()]
    texts = list(dict.fromkeys(text for parts in said.values() for text in parts))
    days = {text for text, is_day in zip(texts, are_dates(texts), strict=True) if is_day} if texts else set()
    here = {line: [text for text in parts if text in days] for line, parts in said.items()}
    return {
        line: {text for text in parts if not any(text != other and text in other for other in parts)}
        for line, parts in here.items()
    }


def _day(lines: Sequence[str]) -> str:
    """The one day that stands in some lines; empty where none or several do."""
    days = set[str]().union(*days_in(lines).values())
    return days.pop() if len(days) == 1 else ""


def _unit(words: list[str]) -> str:
    units = {unit for word in words if word not in _NO_UNITS and is_known(unit := unit_of(word) or "")}
    return units.pop() if len(units) == 1 else ""
