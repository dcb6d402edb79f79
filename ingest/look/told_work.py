"""Work at a part that a note tells of in passing: *new brg fitted*, *tyres turned*, *neu ausgegossen*."""

import re
import tomllib
import unicodedata
from functools import cache, lru_cache
from importlib.resources import files

from ingest.figures import bound

_CLAUSES = re.compile(r"[;:!?()\n]+|[,.](?=\s|$)| - | – ")
_WORD = re.compile(r"[^\W_]+(?:[/'’.,][^\W_]+)*")
_ANY, _EXACT = "*", "="

Pattern = tuple[frozenset[str], ...]


@lru_cache(maxsize=8192)
def told_work(note: str) -> str:
    """What a note tells of.

    Parameters
    ----------
    note : as it was written, in any language of ``work_words.toml``.

    Returns
    -------
    ``renewed``, ``cut``, or "" where it tells of no work done: what is only planned, due or denied is none.
    """
    text = note[: bound("cell", "longest_measurement") * 4]
    for clause in _CLAUSES.split(text):
        words = _WORD.findall(clause.lower())
        for told in _languages():
            if any(_holds(pattern, words) for pattern in told["denied"]):
                continue
            for action in ("renewed", "cut"):
                if any(_holds(pattern, words) for pattern in told[action]):
                    return action
    return ""


@cache
def _languages() -> tuple[dict[str, tuple[Pattern, ...]], ...]:
    """Language by language: renewed, cut and denied, each a list of patterns."""
    written = tomllib.loads((files("ingest.look") / "work_words.toml").read_text(encoding="utf-8"))
    return tuple(
        {kind: tuple(map(_pattern, patterns)) for kind, patterns in language.items()}
        for language in written.values()
    )


def _pattern(text: str) -> Pattern:
    return tuple(
        frozenset(word if word.startswith(_EXACT) else _folded(word) for word in place.split("|"))
        for place in text.split()
    )


def _folded(word: str) -> str:
    """Without marks on letters: ``büchse`` and ``buchse`` are one word."""
    plain = unicodedata.normalize("NFKD", word.replace("ł", "l").replace("’", "'"))
    return "".join(mark for mark in plain if not unicodedata.combining(mark))


def _holds(pattern: Pattern, words: list[str]) -> bool:
    """Whether the words of a pattern stand in a row."""
    return any(_from(pattern, words, start) for start in range(len(words)))


def _from(pattern: Pattern, words: list[str], at: int) -> bool:
    if not pattern:
        return True
    place, rest = pattern[0], pattern[1:]
    if _ANY in place:
        return _from(rest, words, at) or (at < len(words) and _from(rest, words, at + 1))
    return at < len(words) and any(_is(word, words[at]) for word in place) and _from(rest, words, at + 1)


def _is(wanted: str, word: str) -> bool:
    if wanted.startswith(_EXACT):
        return unicodedata.normalize("NFC", word) == wanted[1:]
    word = _folded(word)
    return word.startswith(wanted[:-1]) if wanted.endswith("~") else word == wanted
