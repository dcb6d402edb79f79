"""Where on the drawing a position lies: wheelsets of an arrangement, and places of written positions."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ingest.errors import WrongUsage
from ingest.names.arrangement import Unit, parse_arrangement

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
    group, *rest = key.split("-")
    number = next((int(part) for part in rest if part.isdigit()), 0)
    return Place(group, number, next((part for part in rest if part in ("L", "R")), ""))


_GROUP_WORDS = (
    ("none", r"\btender (truck|bogie)|\bdraw(bar| bar)"),  # no axle of that number: a truck, a coupling
    ("tender", r"\btender\b"),
    ("trailing", r"\btrail"),
    ("leading", r"\b(lead|pony|engine truck|pilot|bogie)"),
    ("driver", r"\b(driver|driving|drive|coupled)"),
)
_SIDE = (
    ("L", r"(\bleft\b|\bl\.?\s?h\b|\blh\b|\bl\b|(?<=\d)l\b|\bl(?=\d))"),
    ("R", r"(\bright\b|\br\.?\s?h\b|\brh\b|\br\b|(?<=\d)r\b|\br(?=\d))"),
)


def place_of(position: str, component: str = "") -> Place | None:
    """The place on the drawing that a written position means, or None if it is not recognised.

    Parameters
    ----------
    position : free text, *driver 2 left*, *tender 1 R*, *engine truck 1*. A side alone is the cylinder and
        motion of that side.
    component : free text; tells the group where the position holds a bare number (*4R*, *tender wheel*).
    """
    text, part = (" ".join(re.split(r"[\s_-]+", t.lower())) for t in (position, component))
    side = _first(_SIDE, text)
    number = re.search(r"\d+", text)
    group = _first(_GROUP_WORDS, text) or (_first(_GROUP_WORDS, part) if number else "")
    if group == "none":
        return None
    if number is None:
        return Place("motion", 0, side) if side and group in ("", "driver") else None
    return Place(group, int(number.group()), side) if group and int(number.group()) else None


def _first(patterns: Iterable[tuple[str, str]], text: str) -> str:
    return next((name for name, pattern in patterns if re.search(pattern, text)), "")


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
