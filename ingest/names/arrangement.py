"""Wheel arrangements: Whyte notation counts wheels, UIC notation counts axles; both to one description.

Neither notation says which axle is the main one, how a truck is centred, or which tires are plain: those are
asked for elsewhere. Four figures of Whyte may be an articulated engine or one rigid frame with two groups of
drivers; it is read as articulated unless ``rigid`` says otherwise.
"""

import re
import string
from dataclasses import dataclass

from ingest.errors import WrongUsage
from ingest.neutral import quoted

_WHYTE_ONLY = ("ng", "ca")  # narrow gage, compressed air; in lower case as UIC's own suffixes are
_LETTERS = "ABCDEFGHIJKL"
_PRIMES = str.maketrans({"′": "'", "’": "'", "`": "'", "´": "'", "‘": "'"})
_DASHES = str.maketrans({"–": "-", "—": "-", "‑": "-", "−": "-"})
_LONGEST = 60  # characters: three times the longest arrangement of an articulated engine with its suffixes
MOST_AXLES = 12
"""Axles of one group: no locomotive had more in one group; a larger figure is a slip of the pen."""


@dataclass(frozen=True)
class Axles:
    """Axles side by side in one frame. ``truck``: they swivel in their own; ``single``: driven singly."""

    count: int
    driven: bool
    truck: bool = False
    single: bool = False


@dataclass(frozen=True)
class Frame:
    """Groups of axles in one frame. ``hinged``: it swings under the boiler; ``truck``: it is a bogie."""

    groups: tuple[Axles, ...]
    hinged: bool = False
    truck: bool = False


@dataclass(frozen=True)
class Unit:
    """One engine unit: frames from front to back. Most locomotives have one; back-to-back ones two."""

    frames: tuple[Frame, ...]

    @property
    def groups(self) -> tuple[Axles, ...]:
        """All groups of axles from front to back."""
        return tuple(group for frame in self.frames for group in frame.groups)

    @property
    def driving(self) -> tuple[int, ...]:
        """Driven axles of each group."""
        return tuple(group.count for group in self.groups if group.driven)

    @property
    def leading(self) -> int:
        """Carrying axles before the first driven one."""
        first = next((i for i, group in enumerate(self.groups) if group.driven), len(self.groups))
        return sum(group.count for group in self.groups[:first])

    @property
    def trailing(self) -> int:
        """Carrying axles behind the last driven one."""
        last = max((i for i, group in enumerate(self.groups) if group.driven), default=-1)
        return sum(group.count for group in self.groups[last + 1 :]) if last >= 0 else 0


@dataclass(frozen=True)
class Arrangement:
    """A wheel arrangement. ``suffix`` as written: T, ST (Whyte), h2Gt (UIC)."""

    units: tuple[Unit, ...]
    suffix: str = ""

    @property
    def driving_axles(self) -> int:
        """Driven axles of all units."""
        return sum(sum(unit.driving) for unit in self.units)

    @property
    def is_tank(self) -> bool:
        """Whether the suffix says that water is carried on the engine, without a tender."""
        tail = self.suffix.upper()
        whyte = tail in ("T", "ST", "PT", "WT", "RT")
        return whyte or bool(re.fullmatch(r"[nhv][0-9]*[v]?[GPS]?t.*", self.suffix))


def parse_arrangement(text: str, *, rigid: bool = False) -> Arrangement:
    """An arrangement in either notation: figures parted by dashes are Whyte, anything else UIC.

    Parameters
    ----------
    text : ``4-8-2``, ``2-6-6-4``, ``4-6-2+2-6-4``, ``0-6-0T``; ``2'D1'``, ``(1'C)C2'``, ``2'C1'h3``.
    rigid : two groups of drivers of one Whyte unit stand in one rigid frame.

    Raises
    ------
    WrongUsage : it is neither, or holds something no arrangement has.
    """
    if len(text) > _LONGEST:
        raise WrongUsage(
            f"arrangement {quoted(text)} is too long for one. Expected 4-8-2 (Whyte) or 2'D1' (UIC)."
        )
    folded = "".join(text.translate(_DASHES).translate(_PRIMES).split())
    if not folded:
        raise WrongUsage("arrangement: nothing was given. Expected 4-8-2 (Whyte) or 2'D1' (UIC).")
    if re.match(r"^[0-9]+-", folded):
        return parse_whyte(folded, rigid=rigid)
    return parse_uic(folded)


def parse_whyte(text: str, *, rigid: bool = False) -> Arrangement:
    """Whyte notation: wheels of the leading truck, of each group of drivers, of the trailing truck.

    Raises
    ------
    WrongUsage : odd or absurd counts, no drivers, or no Whyte notation.
    """
    match = re.fullmatch(r"([0-9]+(?:-[0-9]+)+(?:\+[0-9]+(?:-[0-9]+)+)*)((?:[A-Za-z]+(?:\+T)?)?)", text)
    if match is None:
        raise WrongUsage(
            f"arrangement {text!r} is no Whyte notation. Expected figures parted by dashes: 4-8-2."
        )
    parts = match.group(1).split("+")
    units = tuple(_whyte_unit(part, text, (len(parts), place), rigid) for place, part in enumerate(parts))
    return Arrangement(units, match.group(2))


def parse_uic(text: str) -> Arrangement:
    """UIC notation: figures are carrying axles, letters driven ones, ``'`` a truck, brackets one frame.

    Raises
    ------
    WrongUsage : no UIC notation, or no driven axle.
    """
    body, suffix = _split_suffix(text)
    arrangement = Arrangement(tuple(_uic_unit(part, text) for part in body.split("+")), suffix)
    if not arrangement.driving_axles:
        raise WrongUsage(f"arrangement {text!r} has no driven axle. Expected a letter, as in 2'D1'.")
    return arrangement


def format_whyte(arrangement: Arrangement) -> str:
    """The arrangement in Whyte notation; a UIC suffix is left out, but for tank engines.

    Raises
    ------
    WrongUsage : carrying axles stand between drivers, or a unit has none: Whyte cannot say that.
    """
    suffix = arrangement.suffix
    if suffix[:1].islower() and suffix not in _WHYTE_ONLY:
        suffix = "T" if arrangement.is_tank else ""
    return "+".join(_unit_in_whyte(unit) for unit in arrangement.units) + suffix


def parse_tender(text: str) -> tuple[int, ...]:
    """Axles of each truck of a tender: ``2'2'`` is (2, 2), ``3`` three fixed axles.

    Raises
    ------
    WrongUsage : it says no tender.
    """
    if len(text) > _LONGEST:
        raise WrongUsage(
            f"arrangement {quoted(text)} is too long for one. Expected 4-8-2 (Whyte) or 2'D1' (UIC)."
        )
    folded = "".join(text.translate(_PRIMES).split())
    if not re.fullmatch(r"(?:[1-9]'?)+", folded):
        raise WrongUsage(
            f"tender {text!r} is no row of axles. Expected 2'2' (two trucks of two) or 3 (fixed)."
        )
    return tuple(int(figure) for figure in re.findall(r"[0-9]", folded))


def _whyte_unit(part: str, text: str, place: tuple[int, int], rigid: bool) -> Unit:
    wheels = [int(figure) for figure in part.split("-")]
    if any(count % 2 or count > 2 * MOST_AXLES for count in wheels):
        raise WrongUsage(
            f"arrangement {text!r}: wheels come in pairs, at most {2 * MOST_AXLES} a group. Expected 4-8-2."
        )
    units, index = place
    if len(wheels) == 2 and units == 2:
        # Some authors write an articulated engine so: 4-8+8-4.
        wheels = [*wheels, 0] if index == 0 else [0, *wheels]
    if len(wheels) < 3:
        raise WrongUsage(
            f"arrangement {text!r}: too few figures. Expected three or more: leading, driving, trailing."
        )
    lead, *drivers, trail = (count // 2 for count in wheels)
    if not all(drivers):
        raise WrongUsage(f"arrangement {text!r}: a group of drivers is empty. Expected 0-6-0, 4-4-2.")
    return _unit(lead, drivers, trail, rigid)


def _unit(lead: int, drivers: list[int], trail: int, rigid: bool) -> Unit:
    """As Whyte means it: trucks swivel; of an articulated engine all frames but the last swing."""
    frames = []
    for place, count in enumerate(drivers):
        groups = [Axles(count, driven=True)]
        if place == 0 and lead:
            groups.insert(0, Axles(lead, driven=False, truck=True))
        hinged = not rigid and place < len(drivers) - 1
        frames.append(Frame(tuple(groups), hinged=hinged))
    if trail:
        frames.append(Frame((Axles(trail, driven=False, truck=True),)))
    return Unit(_merged(frames))


def _merged(frames: list[Frame]) -> tuple[Frame, ...]:
    """Neighbouring frames that neither swing nor swivel are one frame."""
    merged: list[Frame] = []
    for frame in frames:
        if merged and not (merged[-1].hinged or merged[-1].truck or frame.hinged or frame.truck):
            merged[-1] = Frame(merged[-1].groups + frame.groups)
        else:
            merged.append(frame)
    return tuple(merged)


def _split_suffix(text: str) -> tuple[str, str]:
    """Axles and what follows them: steam (n, h), expansion, duty, tank. An o belongs to the axles."""
    before = text.rstrip(string.ascii_letters + string.digits)
    begins = re.search("[nhvt]", text[len(before) :])
    at = len(before) + begins.start() if begins else len(text)
    return text[:at], text[at:]


_FRAME = re.compile(r"\(([^()]+)\)('?)|([^()]+)")
_GROUP = re.compile(r"([1-9][0-9]?|[A-L](o?))('?)")


def _uic_unit(part: str, text: str) -> Unit:
    frames = []
    end = 0
    for match in _FRAME.finditer(part):
        if match.start() != end:
            break
        end = match.end()
        inside = match.group(1) or match.group(3)
        frames.append(
            Frame(_uic_groups(inside, text), hinged=bool(match.group(1)), truck=bool(match.group(2)))
        )
    if end != len(part) or not frames:
        raise WrongUsage(f"arrangement {text!r} is neither Whyte nor UIC. Expected 4-8-2, 2'D1', (1'C)C2'.")
    return Unit(_merged(frames))


def _uic_groups(inside: str, text: str) -> tuple[Axles, ...]:
    groups = []
    end = 0
    for match in _GROUP.finditer(inside):
        if match.start() != end:
            break
        end = match.end()
        sign = match.group(1)[0]
        count = _LETTERS.index(sign) + 1 if sign.isalpha() else int(match.group(1))
        groups.append(Axles(count, sign.isalpha(), truck=bool(match.group(3)), single=bool(match.group(2))))
    if end != len(inside) or any(group.count > MOST_AXLES for group in groups):
        raise WrongUsage(f"arrangement {text!r}: {inside!r} is no row of axles. Expected 2'D1' or (1'C)C2'.")
    return tuple(groups)


def _unit_in_whyte(unit: Unit) -> str:
    engines = [Unit((frame,)) for frame in unit.frames]
    if len(engines) > 1 and all(frame.truck and Unit((frame,)).driving for frame in unit.frames):
        # Engine units that swivel under one boiler: UIC writes them in one row, Whyte joins them by "+".
        return "+".join(_unit_in_whyte(engine) for engine in engines)
    middle = sum(group.count for group in unit.groups) - unit.leading - unit.trailing - sum(unit.driving)
    if middle or not unit.driving:
        raise WrongUsage(
            "arrangement: Whyte notation has no place for carrying axles between drivers. Use UIC."
        )
    counts = (unit.leading, *unit.driving, unit.trailing)
    return "-".join(str(2 * count) for count in counts)
