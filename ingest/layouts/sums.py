"""Rows that are made from the rows above them, by the words that they begin with: totals, averages."""

import re
import tomllib
import unicodedata
from functools import cache
from importlib.resources import files

from ingest.names.abroad import meanings

_LONGEST = 32  # characters of a label that begins with such a word; longer texts are remarks


def is_sum_word(text: str, *, alone: bool = False) -> bool:
    """Whether a label says that its row is made from others; with `alone`, by nothing but such a word."""
    words = _plain(text) if len(text) <= _LONGEST else ""
    match = _sum_words().match(words)
    return match is not None and (not alone or match.end() == len(words))


def sum_label(text: str) -> str:
    """How a label that says so begins, as written, for a layout that leaves such rows out; "" for others.

    A word that may be a dimension too (*průměr*: average, and diameter) says nothing by itself.
    """
    if not is_sum_word(text) or meanings(text):
        return ""
    match = _sum_words().match(_plain(text))
    assert match is not None
    return " ".join(text.split()[: len(match[0].split())])


@cache
def _sum_words() -> re.Pattern[str]:
    data = tomllib.loads(files("ingest.layouts").joinpath("sum_words.toml").read_text(encoding="utf-8"))
    words = sorted({_plain(word) for group in data.values() for word in group}, key=len, reverse=True)
    return re.compile(rf"(?:{'|'.join(map(re.escape, words))})(?![^ ])")


def _plain(text: str) -> str:
    folded = unicodedata.normalize("NFKC", text).lower()
    return " ".join(re.sub(r"[^\w]+|_", " ", folded).split())
