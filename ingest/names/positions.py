"""Positions as people write them, to the one way in which the wear points name them.

Canonical is group, number from the front within the group, side: ``driver 2 left``, ``engine truck 1 right``,
``trailing truck 1 left``, ``tender 3 right``; an axle as a whole has no side (``driver 2``), a place
between two axles both numbers (``driver 1-2 left``), a part of the engine's side only the side (``left``).
Left and right are those of someone who faces forward. Any other text is allowed and stays as it is: it must
then be written alike.
"""

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from ingest.neutral import quoted

LAST = -1
"""Number of the last axle of a group, whichever that is."""

# Longer names first. The groups are those of the rules (49 CFR 230.98-.106: engine truck, driving, trailing,
# tender truck axles); the other names are trade usage on both sides of the Atlantic, no source.
_GROUPS = (
    ("tender truck", r"\btender (?:truck|bogie)s?\b|\btt ?(?=\d|\b)"),
    (
        "engine truck",
        r"\b(?:engine|leading|lead|pony|pilot|front) (?:truck|bogie)s?\b|\bpony\b|\bbogie\b"
        r"|\bet ?(?=\d|\b)|\be ?(?=\d)",
    ),
    ("trailing truck", r"\b(?:trailing|trailer|rear|hind) (?:truck|bogie)s?\b|\btrailers?\b|\btr ?(?=\d|\b)"),
    ("tender", r"\btenders?\b|\btdr\b|\bt ?(?=\d)"),
    (
        "driver",
        r"\b(?:drivers?|driving|drive|coupled|coupler|drv|drvr)(?: (?:wheel|axle|wheelset)s?)?\b|\bd ?(?=\d)",
    ),
    ("engine", r"\bengine\b"),
)
_LEADING = r"\bleading\b|\blead\b|\bfront\b"
_TRAILING = r"\btrailing\b|\brear\b|\bhind\b|\bback\b"
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


def read_position(text: str) -> Position | None:
    """Understand one written position, or return None: ``#2 driver L``, ``L2``, ``No. 2 L.H.``, ``tender
    3L``."""
    rest = _plain(text)
    found = Position()
    for group, pattern in _GROUPS:
        rest, hit = _take(rest, pattern)
        if hit:
            found = replace(found, group=group)
            break
    for side, pattern in _SIDES:
        rest, hit = _take(rest, pattern)
        if hit and found.side:
            return None  # both sides at once is no position
        if hit:
            found = replace(found, side=side)
    rest, inside = _take(rest, r"\binside\b|\bmiddle\b")
    found = replace(found, inside=inside)
    return _numbered(found, rest)


def canonical(text: str) -> str:
    """The canonical text of a position, or the text itself with single spaces where it is not understood."""
    found = read_position(text)
    return (
        found.words
        if found is not None and LAST not in (found.number, found.until)
        else " ".join(text.split())
    )


def resolve_positions(
    text: pd.Series, known: Iterable[str] = (), aliases: Mapping[str, str] | None = None
) -> pd.DataFrame:
    """Positions as written, to positions that are known.

    Parameters
    ----------
    text : positions as written, shape (n,).
    known : the positions there are, of one vehicle best; none: nothing is known, and every text is a
        position.
    aliases : the railway's own words → position; case, spaces and punctuation do not matter.

    Returns
    -------
    DataFrame : index of `text`; ``position`` as `known` spells it (canonical or the text itself where
        nothing is
        known), "" if unresolved; ``problem`` why it is unresolved, "" if it is not; ``candidates`` the
        nearest
        known positions, parted by "; ", "" if it is resolved.
    """
    resolver = Resolver(known, aliases)
    written = text.fillna("").astype("str")
    answer = {word: resolver.resolve(word) for word in written.unique()}
    rows = [answer[word] for word in written]
    return pd.DataFrame(rows, columns=["position", "problem", "candidates"], index=text.index, dtype="str")


class Resolver:
    """Known positions and aliases, prepared once for many texts."""

    def __init__(self, known: Iterable[str], aliases: Mapping[str, str] | None = None) -> None:
        self._known = list(dict.fromkeys(known))
        self._spelled = {folded(name): name for name in self._known}
        self._understood = {name: found for name in self._known if (found := read_position(name)) is not None}
        self._aliases = {folded(word): name for word, name in (aliases or {}).items()}

    def resolve(self, text: str) -> tuple[str, str, str]:
        """Position, problem, candidates of one text."""
        text = self._aliases.get(folded(text), text)
        if folded(text) in self._spelled:
            return self._spelled[folded(text)], "", ""
        if not self._known:
            return canonical(text), "", ""
        fitting = self.fitting(text)
        if len(fitting) == 1:
            return fitting[0], "", ""
        if fitting:
            return (
                "",
                f"the position {quoted(text)} may be any of {_listed(fitting)}; say which",
                "; ".join(fitting),
            )
        near = self.nearest(text)
        return "", f"the position {quoted(text)} is not known; nearest: {_listed(near)}", "; ".join(near)

    def fitting(self, text: str) -> list[str]:
        """Known positions that the text can mean."""
        text = self._aliases.get(folded(text), text)
        if folded(text) in self._spelled:
            return [self._spelled[folded(text)]]
        wanted = read_position(text)
        if wanted is None:
            return []
        wanted = replace(wanted, number=self._last(wanted)) if wanted.number == LAST else wanted
        same = [name for name, found in self._understood.items() if found == wanted]
        return same or [name for name, found in self._understood.items() if wanted.covers(found)]

    def nearest(self, text: str, count: int = 3) -> list[str]:
        """Known positions that look most like the text."""
        found = read_position(text)
        looks = found.words if found is not None and found.number != LAST else text.lower()
        return difflib.get_close_matches(looks, self._known, n=count, cutoff=0.0)

    def _last(self, wanted: Position) -> int:
        numbers = [found.number for found in self._understood.values() if found.group == wanted.group]
        return max(numbers, default=0)


def _numbered(found: Position, rest: str) -> Position | None:
    """The position with its number, if nothing but the number is left of the text."""
    rest = re.sub(_FILLERS, " ", rest)
    for word, figure in _ORDINALS.items():
        rest = re.sub(rf"\b{word}\b", figure, rest)
    rest = re.sub(r"(?<=\d)(?:st|nd|rd|th)\b", "", rest)
    by_place = re.search(_LEADING, rest), re.search(_TRAILING, rest)
    rest = " ".join(re.sub(f"{_LEADING}|{_TRAILING}", " ", rest).split())
    if any(by_place):
        return _by_place(found, rest, first=by_place[0] is not None)
    number = re.fullmatch(r"(\d{1,2})(?: ?- ?(\d{1,2}))?", rest)
    if number is None:
        return found if not rest and found != Position() else None
    return replace(found, number=int(number[1]), until=int(number[2] or 0))


def _by_place(found: Position, rest: str, *, first: bool) -> Position | None:
    """``leading driver`` is the first, ``trailing driver`` the last; ``leading 1`` alone means the truck."""
    if found.group in ("driver", "tender") and not rest:
        return replace(found, number=1 if first else LAST)
    if not found.group and re.fullmatch(r"\d{1,2}", rest):
        return replace(found, group="engine truck" if first else "trailing truck", number=int(rest))
    return None


def _take(text: str, pattern: str) -> tuple[str, bool]:
    """The text without the first match, and whether there was one."""
    found = re.search(pattern, text)
    return (text, False) if found is None else (f"{text[: found.start()]} {text[found.end() :]}", True)


def _plain(text: str) -> str:
    """Lower case, figures and letters apart from marks; L.H. as l h."""
    folded = unicodedata.normalize("NFKC", text).lower().replace("–", "-")
    return " ".join(re.sub(r"[^\w-]+|_", " ", re.sub(r"(?<=[a-z])-|-(?=[a-z])", " ", folded)).split())


def folded(text: str) -> str:
    """What must be equal for two spellings to be one: letters and figures, and the dash between figures."""
    return re.sub(
        r"[^\w-]+|_", "", re.sub(r"(?<=[a-z])-|-(?=[a-z])", "", unicodedata.normalize("NFKC", text).lower())
    )


def _listed(names: Sequence[str], most: int = 5) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(neutral_name for neutral_name in (quoted(name, 40) for name in names[:most])) + more
