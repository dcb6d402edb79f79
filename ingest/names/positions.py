"""Positions as people write them, to the one way in which the wear points name them.

Canonical is group, number from the front within the group, side: ``driver 2 left``, ``engine truck 1 right``,
``trailing truck 1 left``, ``tender 3 right``; an axle as a whole has no side (``driver 2``), a place
between two axles both numbers (``driver 1-2 left``), a part of the engine's side only the side (``left``).
Left and right are those of someone who faces forward. Any other text is allowed and stays as it is: it must
then be written alike.

This is the only grammar of positions: the sheets, the drawing, the limits and the forecast all read by it.
"""

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib.resources import files

from ingest.figures import bound
from ingest.names.nearest import nearest
from ingest.neutral import quoted

LAST = -1
"""Number of the last axle of a group, whichever that is."""

# Longer names first, and the rear bogie before a bogie alone. The groups are those of the rules (49 CFR
# 230.98-.106: engine truck, driving, trailing, tender truck axles); the other names are trade usage on both
# sides of the Atlantic, no source.
_GROUPS = (
    ("tender truck", r"\btender (?:truck|bogie)s?\b|\btt ?(?=\d|\b)"),
    ("trailing truck", r"\b(?:trailing|trailer|rear|hind) (?:truck|bogie)s?\b|\btrailers?\b|\btr ?(?=\d|\b)"),
    (
        "engine truck",
        r"\b(?:engine|leading|lead|pony|pilot|front) (?:truck|bogie)s?\b|\bpony\b|\bbogie\b"
        r"|\bet ?(?=\d|\b)|\be ?(?=\d)",
    ),
    ("tender", r"\btenders?\b|\btdr\b|\bt ?(?=\d)"),
    (
        "driver",
        r"\b(?:drivers?|driving|drive|coupled|coupler|drv|drvr)(?: (?:wheel|axle|wheelset)s?)?\b|\bd ?(?=\d)",
    ),
    ("engine", r"\bengine\b"),
)
_LEADING_AXLE, _TRAILING_AXLE = r"\bleading\b|\blead\b", r"\btrailing\b"
_LEADING = rf"{_LEADING_AXLE}|\bfront\b"
_TRAILING = rf"{_TRAILING_AXLE}|\brear\b|\bhind\b|\bback\b"
_NUMBER = r"0?[1-9]|[1-9]\d"
_SIDES = (
    ("left", r"\bleft(?: hand(?:ed)?)?(?: side)?\b|\bl ?h(?: ?s)?\b|\bl\b|(?<=\d)l(?:h|hs)?\b|\bl(?=\d)"),
    ("right", r"\bright(?: hand(?:ed)?)?(?: side)?\b|\br ?h(?: ?s)?\b|\br\b|(?<=\d)r(?:h|hs)?\b|\br(?=\d)"),
)
_ORDINALS = {
    "first": "1",
    "second": "2",
    "third": "3",
    "fourth": "4",
    "fifth": "5",
    "sixth": "6",
    "seventh": "7",
    "eighth": "8",
}
_FILLERS = r"\b(?:no|nr|num|number|axle|wheel|wheelset|pair|side|set|the|on|of|at|hand)\b"


@dataclass(frozen=True)
class Position:
    """A position understood: its group, its number (0: none; `LAST`), the axle up to which it reaches, its
    side."""

    group: str = ""
    number: int = 0
    until: int = 0
    side: str = ""
    inside: bool = False

    @property
    def words(self) -> str:
        """The canonical text."""
        number = f"{self.number}-{self.until}" if self.until else str(self.number or "")
        parts = (self.group, number, "inside" if self.inside else "", self.side)
        return " ".join(part for part in parts if part)

    def covers(self, other: "Position") -> bool:
        """Whether `other` says the same, or more where this one says nothing."""
        same_side = self.side in ("", other.side) and self.inside == other.inside
        same_number = (self.number, self.until) in ((0, 0), (other.number, other.until))
        return self.group in ("", other.group) and same_number and same_side


@lru_cache(maxsize=8192)
def read_position(text: str) -> Position | None:
    """Understand one written position.

    Parameters
    ----------
    text : ``#2 driver L``, ``L2``, ``No. 2 L.H.``, ``third driver left``, ``tender 3L``.

    Returns
    -------
    Position, or None for a text that is not understood. ``trailing driver`` has the number `LAST`: which
        axle that is depends on the vehicle.
    """
    if len(text) > bound("cell", "longest_name"):
        return None
    unread = _plain(text)
    position = Position()
    for group, pattern in _GROUPS:
        unread, is_named = _take(unread, pattern)
        if is_named:
            position = replace(position, group=group)
            break
    for side, pattern in _SIDES:
        unread, is_named = _take(unread, pattern)
        if is_named and position.side:
            return None  # both sides at once is no position
        if is_named:
            position = replace(position, side=side)
    unread, inside = _take(unread, r"\binside\b|\bmiddle\b")
    return _numbered(replace(position, inside=inside), unread)


def group_named(text: str) -> str:
    """Group of axles that a text such as a component names anywhere in it: ``tender wheel``; "" if none."""
    words = _plain(text[: bound("cell", "longest_name")])
    for group, pattern in _GROUPS:
        if re.search(pattern, words):
            return group
    if re.search(_LEADING_AXLE, words):
        return "engine truck"
    return "trailing truck" if re.search(_TRAILING_AXLE, words) else ""


def canonical(text: str) -> str:
    """The canonical text of a position, or the text itself with single spaces where it is not understood."""
    position = read_position(text)
    return (
        position.words
        if position is not None and LAST not in (position.number, position.until)
        else " ".join(text.split())
    )


class Resolver:
    """Known positions and aliases, prepared once for many texts."""

    def __init__(self, known: Iterable[str], aliases: Mapping[str, str] | None = None) -> None:
        self._known = list(dict.fromkeys(known))
        self._spelled = {folded(name): name for name in self._known}
        self._understood = {
            name: position for name in self._known if (position := read_position(name)) is not None
        }
        self._aliases = {folded(word): name for word, name in (aliases or {}).items()}

    def resolve(self, text: str) -> tuple[str, str]:
        """The known position that a text means, and why it means none.

        Returns
        -------
        Position as it is known (canonical, or the text itself, where no position is known), "" if unresolved;
        the reason, which names the nearest positions, "" if resolved.
        """
        if not self._known:
            return canonical(text), ""
        fitting = self.fitting(text)
        if len(fitting) == 1:
            return fitting[0], ""
        if fitting:
            return "", f"the position {quoted(text)} may be any of {_listed(fitting)}; say which"
        return "", f"the position {quoted(text)} is not known; nearest: {_listed(self.nearest(text))}"

    def fitting(self, text: str) -> list[str]:
        """Known positions that the text can mean."""
        text = self._aliases.get(folded(text), text)
        if folded(text) in self._spelled:
            return [self._spelled[folded(text)]]
        wanted = read_position(text)
        if wanted is None:
            return []
        wanted = replace(wanted, number=self._last(wanted)) if wanted.number == LAST else wanted
        same = [name for name, position in self._understood.items() if position == wanted]
        return same or [name for name, position in self._understood.items() if wanted.covers(position)]

    def nearest(self, text: str, count: int = 3) -> list[str]:
        """Known positions that look most like the text."""
        position = read_position(text)
        looks = position.words if position is not None and position.number != LAST else text.lower()
        return nearest(looks, self._known, count)

    def _last(self, wanted: Position) -> int:
        numbers = [
            position.number for position in self._understood.values() if position.group == wanted.group
        ]
        return max(numbers, default=0)


def _numbered(position: Position, unread: str) -> Position | None:
    """The position with its number, if nothing but the number is left of the text."""
    unread = re.sub(_FILLERS, " ", unread)
    for word, figure in _ORDINALS.items():
        unread = re.sub(rf"\b{word}\b", figure, unread)
    unread = re.sub(r"(?<=\d)(?:st|nd|rd|th)\b", "", unread)
    leads, trails = re.search(_LEADING, unread), re.search(_TRAILING, unread)
    unread = " ".join(re.sub(f"{_LEADING}|{_TRAILING}", " ", unread).split())
    if leads or trails:
        return _by_place(position, unread, first=leads is not None)
    number = re.fullmatch(rf"({_NUMBER})(?: ?- ?({_NUMBER}))?", unread)
    if number is None:
        return position if not unread and position != Position() else None
    return replace(position, number=int(number[1]), until=int(number[2] or 0))


def _by_place(position: Position, unread: str, *, first: bool) -> Position | None:
    """``leading driver`` is the first, ``trailing driver`` the last; ``leading 1`` alone means the truck."""
    if position.group in ("driver", "tender") and not unread:
        return replace(position, number=1 if first else LAST)
    if not position.group and re.fullmatch(_NUMBER, unread):
        return replace(position, group="engine truck" if first else "trailing truck", number=int(unread))
    return None


def _take(text: str, pattern: str) -> tuple[str, bool]:
    """The text without the first match, and whether there was one."""
    match = re.search(pattern, text)
    return (text, False) if match is None else (f"{text[: match.start()]} {text[match.end() :]}", True)


def _plain(text: str) -> str:
    """Lower case, figures and letters apart from marks; L.H. as l h."""
    folded = unicodedata.normalize("NFKC", text).lower().replace("–", "-")
    words = re.sub(r"[^\w-]+|_", " ", re.sub(r"(?<=[a-z])-|-(?=[a-z])", " ", folded)).split()
    abroad = _words_abroad()
    return " ".join(abroad.get(word, word) for word in words)


@cache
def _words_abroad() -> dict[str, str]:
    """Word of another language -> the English one."""
    languages = tomllib.loads((files("ingest.names") / "position_words.toml").read_text(encoding="utf-8"))
    return {word: meaning for words in languages.values() for word, meaning in words.items()}


def folded(text: str) -> str:
    """What must be equal for two spellings to be one: letters and figures, and the dash between figures."""
    return re.sub(
        r"[^\w-]+|_", "", re.sub(r"(?<=[a-z])-|-(?=[a-z])", "", unicodedata.normalize("NFKC", text).lower())
    )


def _listed(names: Sequence[str], most: int = 5) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(quoted(name, 40) for name in names[:most]) + more
