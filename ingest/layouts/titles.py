"""What the title of a sheet says of all its rows: the engine, the part, what was measured, the unit."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

import pandas as pd

from ingest.layouts.blocks import unmerged
from ingest.layouts.find import are_dates
from ingest.layouts.pointed import Pointed
from ingest.sheets.cells import RawCells
from ingest.unit_names import is_known, unit_of

_LONGEST = 400  # characters of titles that are looked through
_WORD = re.compile(r"[^\W_]+(?:\.[^\W_]+)*")
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
    found["date"] = tab if tab and are_dates([tab])[0] else _day(list(map(str, above)))
    fixed = {column: name for column, name in found.items() if name and column not in given}
    return replace(pointed, fixed={**pointed.fixed, **fixed})


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


def _day(lines: Sequence[str]) -> str:
    """The one day that stands in some lines, as it is written there; empty where none or several do."""
    days: set[str] = set()
    for line in lines:
        words = line[:_LONGEST].split()
        said = [" ".join(words[at : at + n]).strip(" ,;:()") for n in (3, 2, 1) for at in range(len(words))]
        said = [text for text in dict.fromkeys(said) if re.search(r"\d", text) and not text.isdigit()]
        here = [text for text, is_day in zip(said, are_dates(said), strict=True) if is_day] if said else []
        days |= {text for text in here if not any(text != other and text in other for other in here)}
    return days.pop() if len(days) == 1 else ""


def _unit(words: list[str]) -> str:
    units = {unit for word in words if word not in _NO_UNITS and is_known(unit := unit_of(word) or "")}
    return units.pop() if len(units) == 1 else ""
