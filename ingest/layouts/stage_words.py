"""Headings of two columns that hold one place twice on a day: *before* and *after*, *Alt* and *Neu*."""

import re
import tomllib
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files

from ingest.figures import bound
from ingest.layouts.headings import lacking, match, split_unit

BEFORE, AFTER = "before", "after"
_NO_WORD = re.compile(r"[\W_]+")


@dataclass(frozen=True)
class Pair:
    """Places of two such headings; what they say beside their stage, as written, and their unit, or ""."""

    before: int
    after: int
    what: str
    unit: str

    @property
    def value(self) -> str:
        """Heading of either as a value of readings."""
        return f"value [{self.unit}]" if self.unit else "value"

    @property
    def quantity(self) -> str:
        """What was measured, as far as the headings say it."""
        return (
            "" if not self.what or "value" in match([self.what], "readings").renames.values() else self.what
        )


def stage_pairs(headings: Sequence[str]) -> list[Pair]:
    """The pairs among headings, where with them, and without their like, the sheet holds readings.

    Returns
    -------
    None for headings that are readings already, or with a pair in place of the value still none. Several are
    told apart by what they say beside their stage, in a sheet that names no quantity.
    """
    pairs = _pairs(tuple(headings))
    if not pairs:
        return []
    taken = {place for pair in pairs for place in (pair.before, pair.after)}
    others = [heading for place, heading in enumerate(headings) if place not in taken and heading]
    have = {*match(others, "readings").renames.values()}
    told = [pair.quantity for pair in pairs]
    alone = len(pairs) == 1 and not told[0]
    if "value" in have or not (alone or ("quantity" not in have and all(told) and len({*told}) == len(told))):
        return []
    more = [] if alone else ["quantity"]
    return [] if lacking(match([*others, pairs[0].value, *more], "readings")) else pairs


def stages_of_quantities(headings: Sequence[str]) -> dict[int, tuple[str, str]]:
    """Place of a heading that names a quantity before or after work -> the quantity, and its stage.

    Only where the other of the two stands among them: ``Thickness before`` beside ``Thickness after``.
    """
    of_place: dict[int, tuple[str, str]] = {}
    for pair in _pairs(tuple(headings)):
        if pair.quantity:
            of_place |= {pair.before: (pair.quantity, BEFORE), pair.after: (pair.quantity, AFTER)}
    return of_place


def stages_alone(headings: Sequence[str]) -> list[str]:
    """*before*, *after* or nothing for each of a row of headings that say this alone, beside empty ones.

    None where another word stands among them, or one of the two does not: a row under one of quantities, or
    of positions.
    """
    said = []
    for heading in headings:
        alone = [stage for _, stage, what in _read(split_unit(heading)[0]) if not what]
        if heading and not alone:
            return []
        said.append((BEFORE, AFTER)[alone[0]] if alone else "")
    return said if {BEFORE, AFTER} <= {*said} else []


@lru_cache(maxsize=1024)
def _pairs(headings: tuple[str, ...]) -> list[Pair]:
    """All pairs, each heading in one at most; those of which either stands there twice left out."""
    at: dict[tuple[int, str, str], tuple[list[int], list[int]]] = {}
    for place, heading in enumerate(headings):
        if len(heading) <= bound("cell", "longest_heading"):
            base, unit = split_unit(heading)
            for number, stage, what in _read(base):
                at.setdefault((number, what, unit), ([], []))[stage].append(place)
    found = [
        Pair(before[0], after[0], what, unit)
        for (_, what, unit), (before, after) in at.items()
        if len(before) == len(after) == 1
    ]
    chosen: list[Pair] = []
    for pair in sorted(found, key=lambda pair: (len(pair.what), pair.before)):  # the most words of a stage
        if not {pair.before, pair.after} & {place for one in chosen for place in (one.before, one.after)}:
            chosen.append(pair)
    return sorted(chosen, key=lambda pair: pair.before)


def _read(heading: str) -> list[tuple[int, int, str]]:
    """Pair, stage (0 before, 1 after) and the words left of a heading that begins or ends so."""
    words = heading.split()
    plain = [_plain(word) for word in words]
    found = []
    for count in range(1, len(words) + 1):
        for part, left in ((plain[:count], words[count:]), (plain[-count:], words[:-count])):
            found += [(*stage, " ".join(left).strip(" ,:-")) for stage in _stages().get(" ".join(part), ())]
    return list(dict.fromkeys(found))


@cache
def _stages() -> dict[str, tuple[tuple[int, int], ...]]:
    """Words -> which pair and stage they are."""
    text = (files("ingest.layouts") / "stage_words.toml").read_text(encoding="utf-8")
    stages: dict[str, tuple[tuple[int, int], ...]] = {}
    for number, pair in enumerate(pair for pairs in tomllib.loads(text).values() for pair in pairs):
        for stage, words in enumerate(pair):
            said = " ".join(map(_plain, words.split()))
            stages[said] = (*stages.get(said, ()), (number, stage))
    return stages


def _plain(word: str) -> str:
    """Without case, punctuation and marks on letters."""
    folded = unicodedata.normalize("NFKD", word.casefold())
    return _NO_WORD.sub("", "".join(mark for mark in folded if not unicodedata.combining(mark)))
