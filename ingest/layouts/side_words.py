"""Words for left and right in several languages, and the headings under which they stand."""

import tomllib
from functools import cache, lru_cache
from importlib.resources import files

from ingest.layouts.text import key

_LETTERS = ("en", "de", "fr", "pl", "cs")
"""Languages whose letters are taken for sides: *V/H* is left and right in one, front and back in another."""


@cache
def side_languages() -> dict[str, dict[str, str]]:
    """Language -> word, as ``key`` has it -> left or right."""
    return {
        language: {key(word): side for side, words in sides.items() for word in words}
        for language, sides in _written().items()
        if language != "headings"
    }


@cache
def side_headings() -> frozenset[str]:
    """Headings of a column that says left or right, as ``key`` has them."""
    return frozenset(map(key, _written()["headings"]))


@lru_cache(maxsize=4096)
def order_of_sides(one: str, other: str) -> str:
    """``left right`` or ``right left``; empty where the words are not the two sides of one language."""
    found = set()
    for language, sides in side_languages().items():
        first, second = sides.get(key(one), ""), sides.get(key(other), "")
        letters = min(len(key(one)), len(key(other))) == 1
        if first and second and first != second and (not letters or language in _LETTERS):
            found.add(f"{first} {second}")
    return found.pop() if len(found) == 1 else ""


@cache
def _written() -> dict[str, dict[str, list[str]]]:
    text = files("ingest.layouts").joinpath("side_words.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
