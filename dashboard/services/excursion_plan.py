"""The excursion plan as people write it: entries of the settings file, options of the command."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from ingest.errors import WrongUsage
from ingest.units import DISTANCE_MI, to_base, unit_of
from models.case.excursion import Excursion

KEYS = ("name", "distance", "days", "seats")
MOST_MILES, MOST_DAYS, MOST_SEATS = 2000.0, 366, 10_000
"""Bounds of one entry: beyond them it is a slip of the keyboard. Miles and seats are of one day."""


def plan_of(entries: object, where: str) -> tuple[Excursion, ...]:
    """The entries of a settings file, ``[[excursion]]`` in it.

    Raises
    ------
    WrongUsage : an unknown name, a missing distance, a figure out of bounds.
    """
    if not isinstance(entries, Sequence) or not all(isinstance(entry, Mapping) for entry in entries):
        raise WrongUsage(f"{where}: excursion is not a list of tables. Expected [[excursion]] above each.")
    return tuple(
        _entry(entry, f"{where}, [[excursion]] {place}") for place, entry in enumerate(entries, start=1)
    )


def _entry(entry: Mapping[str, Any], where: str) -> Excursion:
    unknown = sorted(set(entry) - set(KEYS))
    if unknown:
        raise WrongUsage(f"{where}: {unknown[0]!r} is not known. Known are {', '.join(KEYS)}.")
    if "distance" not in entry:
        raise WrongUsage(f'{where}: it has no distance. Expected that of one day, distance = "62 mi".')
    name = str(entry.get("name") or f"excursion {where.rsplit(' ', 1)[-1]}")
    return excursion(name, str(entry["distance"]), entry.get("days", 1), entry.get("seats", 0), where)


def excursion(name: str, distance: str, days: int, seats: int, where: str) -> Excursion:
    """One entry, its figures checked; ``seats`` 0 says none. Raises WrongUsage."""
    return Excursion(
        name,
        miles_of(distance, where),
        _counted(days, f"{where}: days is", MOST_DAYS, least=1),
        _counted(seats, f"{where}: seats is", MOST_SEATS, least=0),
    )


def miles_of(text: str, where: str) -> float:
    """Miles of ``62``, ``62 mi`` or ``100km``. [mi]

    Raises
    ------
    WrongUsage : no distance, or one that no engine runs in a day.
    """
    written = re.fullmatch(r"([0-9]{1,9}(?:\.[0-9]{0,9})?) ?([A-Za-z]{0,20})\.?", " ".join(text.split()))
    unit = unit_of(written[2] or "mi") if written else None
    if written is None or unit not in DISTANCE_MI:
        raise WrongUsage(
            f"{where}: {text!r} is no distance. Expected that of one running day, such as 62 mi or 100 km."
        )
    miles = to_base(float(written[1]), unit)
    if not 0 < miles <= MOST_MILES:
        raise WrongUsage(
            f"{where}: {text!r} is not run in a day. Expected more than 0 and up to {MOST_MILES:,.0f} miles."
        )
    return miles


def _counted(value: object, what: str, most: int, *, least: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise WrongUsage(f"{what} {value!r}. Expected a whole number from {least} to {most:,}.")
    return value
