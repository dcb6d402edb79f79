"""Where on the drawing a position lies: wheelsets of an arrangement, and places of written positions."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

GROUPS = ("leading", "driver", "trailing", "tender")


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
        """As it stands in addresses: ``driver-2-L``."""
        return "-".join(part for part in (self.group, str(self.number or ""), self.side) if part)

    @property
    def words(self) -> str:
        """As it is read out: ``driver 2 left``."""
        side = {"L": "left", "R": "right", "": ""}[self.side]
        return " ".join(part for part in (self.group, str(self.number or ""), side) if part)


_GROUP_WORDS = (
    ("tender", r"\btender\b"),
    ("cylinder", r"\b(cylinder|crosshead|piston|guide|valve|steam chest)"),
    ("trailing", r"\btrail"),
    ("leading", r"\b(lead|pony|engine truck|pilot|bogie)"),
    ("driver", r"\b(driver|driving|drive|coupled|main rod|rod|pin)"),
)
_SIDE = (
    ("L", r"(\bleft\b|\bl\.?\s?h\b|\blh\b|\bl\b|(?<=\d)l\b|\bl(?=\d))"),
    ("R", r"(\bright\b|\br\.?\s?h\b|\brh\b|\br\b|(?<=\d)r\b|\br(?=\d))"),
)


def place_of(position: str, component: str = "", *, without_group: str = "") -> Place | None:
    """The place on the drawing that a written position means, or None if it is not recognised.

    Parameters
    ----------
    position : free text, *driver 2 left*, *tender 1 R*, *left*.
    component : free text; tells the group where the position does not (*crosshead*, *left*).
    without_group : group of a bare number or side, for vehicles that have one group only.
    """
    text, part = position.lower().replace("_", " ").replace("-", " "), component.lower().replace("_", " ")
    group = _first(_GROUP_WORDS, text) or _first(_GROUP_WORDS, part) or without_group
    side = _first(_SIDE, text)
    number = re.search(r"\d+", text)
    if group in ("cylinder", ""):
        return Place("cylinder", 0, side) if group and side and not number else None
    if number is None:
        return Place("cylinder", 0, side) if side and group == "driver" else None
    return Place(group, int(number.group()), side)


def _first(patterns: Iterable[tuple[str, str]], text: str) -> str:
    return next((name for name, pattern in patterns if re.search(pattern, text)), "")


def wheelsets(arrangement: str, places: Iterable[Place] = ()) -> list[Wheelset]:
    """Axles from front to back.

    Parameters
    ----------
    arrangement : Whyte notation; articulated (2-6-6-2), back to back (4-6-2+2-6-4) and tank suffixes are
        read. Anything else counts as no arrangement.
    places : places of the vehicle's wear points. An axle that they name and the arrangement does not is
        added at the end of its group, so that no wear point is lost because a heading was mistyped.
    """
    found = _whyte(arrangement)
    for place in sorted(set(places), key=lambda p: p.number):
        known = [w for w in found if w.group == place.group]
        if place.group in GROUPS and place.number > len(known):
            for number in range(len(known) + 1, min(place.number, 12) + 1):
                found.insert(_end_of(found, place.group), Wheelset(place.group, number))
    return found


def _end_of(found: Sequence[Wheelset], group: str) -> int:
    """Where the next axle of a group goes in: after the last axle of this group or of those before it."""
    rank = GROUPS.index(group)
    return max((i + 1 for i, w in enumerate(found) if GROUPS.index(w.group) <= rank), default=0)


def _whyte(arrangement: str) -> list[Wheelset]:
    found: list[Wheelset] = []
    if not re.fullmatch(r"\s*\d+(-\d+)+(\+\d+(-\d+)+)*\s*[A-Za-z]*\s*", arrangement):
        return found
    for part in re.split(r"\+", re.sub(r"[A-Za-z\s]", "", arrangement)):
        wheels = [int(n) for n in part.split("-")]
        # Three figures are leading, drivers, trailing; 0-6-0 and 4-4-0 are the same with a zero; more
        # figures are an articulated engine, whose middle figures are its driver units.
        middle = wheels[1:-1] if len(wheels) > 2 else wheels[1:]
        last = wheels[-1] if len(wheels) > 2 else 0
        units = max((w.unit for w in found), default=-1) + 1
        _add(found, "leading", wheels[0] // 2, units)
        for offset, drivers in enumerate(middle):
            _add(found, "driver", drivers // 2, units + offset)
        _add(found, "trailing", last // 2, units + len(middle) - 1)
    return found


def _add(found: list[Wheelset], group: str, count: int, unit: int) -> None:
    start = sum(w.group == group for w in found)
    found.extend(Wheelset(group, start + i + 1, unit) for i in range(count))
