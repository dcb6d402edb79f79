"""What a wear point is, from its free text: part and measure in the catalogue's words, group, axle, side.

A name is understood as a whole or not at all: its last words name the part, and every other word must be
one that only says which of several it is (``qualifiers.csv``). *Driver tire* is a tire; a *tire retaining
ring* is a ring, and stays unclassified. A text that is not recognised is still forecast, only no published
limit and no check across points speaks of it.
"""

import re
from functools import lru_cache

import pandas as pd

from ingest.catalogue.tables import records, table_of
from ingest.names.points import spelled
from ingest.names.positions import read_position

LONGEST = 120
"""Characters of a name up to which it is read; what is longer names no part. [1]"""
_GROUP_OF = {"tender truck": "tender", "engine": ""}
"""Axle group of the catalogue, where the name of a position's group is another."""
_COUNTED = re.compile(r"(?:d|e|t|l|r|et|tr|tt)?\d{1,2}(?:l|r|lh|rh|st|nd|rd|th)?")
"""A number of an axle or of an end, with or without its side: 2, D2L, 3rd."""
_HANDED = re.compile(r"\b(left|right) hand(?:ed)?\b")
_ARTICLES = ("the", "a", "an")

Names = dict[tuple[str, ...], tuple[str, str]]


@lru_cache(maxsize=1)
def _vocabulary() -> dict[tuple[str, ...], Names]:
    """By the words of a component: part and measure by the words of a quantity."""
    known: dict[tuple[str, ...], Names] = {}
    for row in records(table_of("vocabulary")):
        for component in row["component"].split("|"):
            names = known.setdefault(tuple(component.split()), {})
            for quantity in row["quantity"].split("|"):
                names.setdefault(tuple(_in_order(quantity.split())), (row["part"], row["measure"]))
    return known


@lru_cache(maxsize=4)
def _qualifiers(of: str, stands: tuple[str, ...] = ("before", "anywhere")) -> frozenset[str]:
    """Words beside a component or a quantity that say which one, not what."""
    rows = records(table_of("qualifiers"))
    return frozenset(row["word"] for row in rows if row["of"] == of and row["stands"] in stands)


@lru_cache(maxsize=1)
def _known_words() -> frozenset[str]:
    """Every word of the vocabulary, by which a plural is known."""
    components = {word for phrase in _vocabulary() for word in phrase}
    quantities = {word for names in _vocabulary().values() for phrase in names for word in phrase}
    defects = {
        word for row in records(table_of("defects")) for word in re.findall(r"[a-z]+", row["components"])
    }
    return frozenset(components | quantities | defects | _qualifiers("component"))


def part_and_measure(component: str, quantity: str) -> tuple[str, str]:
    """Part and measure of the catalogue: ``("driver tire", "thickness")`` is ``("tire", "thickness")``.

    Returns
    -------
    Two empty texts where the words are not recognised: a word that neither names the part nor says which of
    several it is, or a text longer than ``LONGEST``.
    """
    if len(component) > LONGEST or len(quantity) > LONGEST:
        return "", ""
    return _part_and_measure(component.strip().lower(), quantity.strip().lower())


@lru_cache(maxsize=8192)
def _part_and_measure(component: str, quantity: str) -> tuple[str, str]:
    what, how = _words(component), _words(quantity)
    for names in _components(what):
        for phrase in _phrases(how, "quantity"):
            if phrase in names:
                return names[phrase]
    return "", ""


def _components(words: list[str]) -> list[Names]:
    """What is known of the component, by the longest name at its end first."""
    known = _vocabulary()
    return [known[phrase] for phrase in _phrases(words, "component") if phrase in known]


def _phrases(words: list[str], of: str) -> list[tuple[str, ...]]:
    """Stretches of the words beside which only qualifiers stand: at the end first, the longest first."""
    counted = [bool(_COUNTED.fullmatch(word)) for word in words]
    before = [word in _qualifiers(of) or number for word, number in zip(words, counted, strict=True)]
    after = [
        word in _qualifiers(of, ("anywhere",)) or number for word, number in zip(words, counted, strict=True)
    ]
    first = next((place for place, known in enumerate(before) if not known), len(words))
    last = next((place for place in range(len(words), 0, -1) if not after[place - 1]), 0)
    # A name that is a qualifier too (the driver, a truck) may reach over them on both sides.
    return [
        tuple(words[start:end])
        for end in range(len(words), max(last, 1) - 1, -1)
        for start in range(min(first, end - 1) + 1)
    ]


def _words(text: str) -> list[str]:
    """Words in one spelling and in the singular; *collar of the axle* is *axle collar*."""
    known = _known_words()
    words = [
        word[:-1] if word not in known and word.endswith("s") and word[:-1] in known else word
        for word in _HANDED.sub(r"\1", spelled(text)).split()
        if word not in _ARTICLES
    ]
    return _in_order(words)


def _in_order(words: list[str]) -> list[str]:
    """*B of A* as *A B*."""
    if "of" not in words[1:-1] or "out" in words:  # out of round
        return words
    place = words.index("of", 1)
    return [*_in_order(words[place + 1 :]), *words[:place]]


def named(text: str) -> str:
    """A component in one spelling, its last words naming the part: *Collars, tender axle 3* is *tender axle
    collar*, sides and numbers left out; a text longer than ``LONGEST`` stays as it is, in lower case."""
    if len(text) > LONGEST:
        return text.strip().lower()
    words = _words(text)
    words = [word for word in words if word not in _sides() and not _COUNTED.fullmatch(word)] or words
    while len(words) > 1 and words[-1] in _qualifiers("component", ("anywhere",)):
        words = words[:-1]
    return " ".join(words)


@lru_cache(maxsize=1)
def _sides() -> frozenset[str]:
    """Words for a side or a number, which the position says."""
    return frozenset(
        row["word"] for row in records(table_of("qualifiers")) if row["meaning"] in ("side", "number")
    )


def beside_names() -> frozenset[str]:
    """Words of a component that only say which of several it is."""
    return _qualifiers("component")


@lru_cache(maxsize=1)
def _roles() -> tuple[tuple[str, frozenset[str], re.Pattern[str]], ...]:
    return tuple(
        (row["role"], frozenset(filter(None, row["parts"].split("|"))), re.compile(row["words"]))
        for row in records(table_of("roles"))
    )


@lru_cache(maxsize=8192)
def role_of(component: str, quantity: str) -> str:
    """What machining does to a quantity, by ``roles.csv``: ``metal``, ``profile``, ``body`` or empty.

    The first row that fits the measure wins, or the quantity's own words where the name is not recognised; a
    row without parts is for all. ``metal`` is spent by a turning, ``profile``
    restored by it, ``body`` any other dimension of the part itself, which only a new part gives back.
    """
    part, measure = part_and_measure(component, quantity)
    text = measure or quantity.strip().lower()
    for role, parts, words in _roles():
        if (not parts or part in parts) and words.search(text):
            return role
    return ""


def classify(wear_points: pd.DataFrame) -> pd.DataFrame:
    """Wear points with what the catalogue calls them.

    Parameters
    ----------
    wear_points : component, position, quantity (free text); any other columns are kept.

    Returns
    -------
    The same rows, with part, measure, role (:func:`role_of`), group (engine truck / driver / trailing truck /
    tender, or empty), axle (number within the group; 0 where none is named), axle_to (second axle of a gap,
    else 0), side (left / right, or empty).
    """
    texts = [
        (str(component), str(quantity))
        for component, quantity in zip(wear_points["component"], wear_points["quantity"], strict=True)
    ]
    names = [part_and_measure(component, quantity) for component, quantity in texts]
    places = [_place(position) for position in wear_points["position"].fillna("").astype(str)]
    return wear_points.assign(
        part=[part for part, _ in names],
        measure=[measure for _, measure in names],
        role=[role_of(component, quantity) for component, quantity in texts],
        group=[place[0] for place in places],
        axle=[place[1] for place in places],
        axle_to=[place[2] for place in places],
        side=[place[3] for place in places],
    )


def _place(text: str) -> tuple[str, int, int, str]:
    position = read_position(text)
    if position is None:
        return "", 0, 0, ""
    side = f"inside {position.side}".strip() if position.inside else position.side
    return _GROUP_OF.get(position.group, position.group), position.number, position.until, side
