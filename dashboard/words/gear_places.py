"""Where on the drawing a position lies: wheelsets of an arrangement, and places of written positions."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ingest.errors import WrongUsage
from ingest.names.arrangement import Unit, parse_arrangement
from ingest.names.positions import LAST, group_named, read_position

GROUPS = ("leading", "driver", "trailing", "tender")
WORDS = {"leading": "engine truck", "trailing": "trailing truck", "motion": "cylinder and motion"}
MOST_ADDED = 12
"""Axles that positions alone may add to a group: a slip of the pen must not draw a train."""


@dataclass(frozen=True)
class Wheelset:
    """One axle: its group, its number from the front within the group, the engine unit of an articulated."""

    group: str
    number: int
    unit: int = 0


@dataclass(frozen=True)
class Place:
    """Something that can be picked on the drawing; ``side`` is L, R or empty for the axle as a whole."""

    group: str
    number: int
    side: str

    @property
    def key(self) -> str:
        """As the browser knows it: ``driver-2-L``."""
        return "-".join(part for part in (self.group, str(self.number or ""), self.side) if part)

    @property
    def words(self) -> str:
        """As it is read out: ``driver 2 left``, ``engine truck 1``."""
        side = {"L": "left", "R": "right", "": ""}[self.side]
        name = WORDS.get(self.group, self.group)
        return " ".join(part for part in (name, str(self.number or ""), side) if part)


def place_from(key: str) -> Place:
    """The place that a key names."""
    group, *number_and_side = key.split("-")
    number = next((int(part) for part in number_and_side if part.isdigit()), 0)
    return Place(group, number, next((part for part in number_and_side if part in ("L", "R")), ""))


_DRAWN = {
    "engine truck": "leading",
    "driver": "driver",
    "trailing truck": "trailing",
    "tender": "tender",
    "tender truck": "",  # its number counts trucks, not axles
}
_DRAWBAR = re.compile(r"\bdraw[ -]?bar", re.IGNORECASE)


def place_of(position: str, component: str = "") -> Place | None:
    """The place on the drawing that a written position means, or None if it is not recognised.

    Parameters
    ----------
    position : as :func:`ingest.names.positions.read_position` understands it: *driver 2 left*, *tender 1 R*,
        *third driver left*. A side alone is the cylinder and motion of that side.
    component : free text; names the group where the position holds a number alone (*4R*, *tender wheel*).
    """
    read = read_position(position)
    if read is None:
        return None
    side = read.side[:1].upper()
    group = "" if read.group == "engine" else read.group
    if not read.number:
        return Place("motion", 0, side) if side and group in ("", "driver") else None
    if not group and not _DRAWBAR.search(component):
        group = group_named(component)
    drawn = _DRAWN.get(group, "")
    return Place(drawn, read.number, side) if drawn and read.number != LAST else None


def wheelsets(arrangement: str, places: Iterable[Place] = ()) -> list[Wheelset]:
    """Axles from front to back.

    Parameters
    ----------
    arrangement : Whyte or UIC notation; anything else counts as no arrangement.
    places : places of the vehicle's wear points. An axle that they name and the arrangement does not is
        added at the end of its group: no wear point is lost because an arrangement was mistyped.
    """
    found = _arranged(arrangement)
    for place in sorted(set(places), key=lambda p: p.number):
        known = sum(w.group == place.group for w in found)
        if place.group in GROUPS and place.number > known:
            for number in range(known + 1, min(place.number, MOST_ADDED) + 1):
                found.insert(_end_of(found, place.group), Wheelset(place.group, number))
    return found


def _end_of(found: Sequence[Wheelset], group: str) -> int:
    """Where the next axle of a group goes in: after the last axle of this group or of those before it."""
    rank = GROUPS.index(group)
    return max((i + 1 for i, w in enumerate(found) if GROUPS.index(w.group) <= rank), default=0)


def _arranged(arrangement: str) -> list[Wheelset]:
    try:
        units = parse_arrangement(arrangement).units
    except WrongUsage:
        return []
    found: list[Wheelset] = []
    for unit in units:
        _add(found, "leading", unit.leading, 0)
        _add_drivers(found, unit)
        _add(found, "trailing", unit.trailing, 0)
    return found


def _add_drivers(found: list[Wheelset], unit: Unit) -> None:
    for count in unit.driving:
        _add(found, "driver", count, max((w.unit for w in found if w.group == "driver"), default=-1) + 1)


def _add(found: list[Wheelset], group: str, count: int, unit: int) -> None:
    start = sum(w.group == group for w in found)
    found.extend(Wheelset(group, start + i + 1, unit) for i in range(count))
