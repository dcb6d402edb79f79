"""Names of parts and quantities in other languages, as the English words that wear points are known by."""

import re
import tomllib
from functools import cache, lru_cache
from importlib.resources import files
from itertools import product

_FILLERS = {
    *("der", "die", "das", "des", "dem", "den", "am", "an", "vom", "von", "de", "du", "des", "d", "l"),
    *("la", "le", "les"),
}
"""Words between those of a name, passed over once one of them is understood."""
_MOST = 24  # meanings of one name that are tried

Meanings = tuple[str, ...]


@lru_cache(maxsize=8192)
def meanings(text: str) -> Meanings:
    """What a name may be in English.

    Parameters
    ----------
    text : ``Treibradreifen``, ``épaisseur du boudin``, ``panewka wiązara``.

    Returns
    -------
    Texts such as ``driver tire``, words that are not understood as they stand; nothing where no word is.
    """
    words = re.findall(r"[^\W_]+", text.lower())
    kept = [word for word in words if word not in _FILLERS]
    parts: list[Meanings] = []
    place, understood = 0, False
    while place < len(kept):
        size, found = _longest(kept[place:])
        understood |= size > 0
        parts.append(found if size else (kept[place],))
        place += max(size, 1)
    if not understood:
        return ()
    texts = (" ".join(filter(None, each)) for each, _ in zip(product(*parts), range(_MOST), strict=False))
    return tuple(dict.fromkeys(texts))


def _longest(words: list[str]) -> tuple[int, Meanings]:
    """How many of the first words are one name, and what it may be."""
    phrases, before, base = _words()
    for size in range(min(len(words), 4), 0, -1):
        found = phrases.get(" ".join(words[:size]))
        if found:
            return size, found
    word = words[0]
    for end in range(len(word) - 1, 2, -1):  # the longest first half
        first, last = before.get(word[:end]), base.get(word[end:])
        if first is not None and last:
            return 1, tuple(f"{one} {other}".strip() for one in first for other in last)
    return 0, ()


@cache
def _words() -> tuple[dict[str, Meanings], dict[str, Meanings], dict[str, Meanings]]:
    """Phrases, and the two halves of compounds, each -> what it may be."""
    languages = tomllib.loads((files("ingest.names") / "part_words.toml").read_text(encoding="utf-8"))
    out: tuple[dict[str, Meanings], ...] = ({}, {}, {})
    for language in languages.values():
        for known, name in zip(out, ("words", "before", "base"), strict=True):
            for word, english in language.get(name, {}).items():
                known[word] = (*known.get(word, ()), *english.split("|"))
    return out[0], out[1], out[2]
