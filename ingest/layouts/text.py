"""When two texts of a sheet are the same, and when one is like another."""

import re
from collections.abc import Iterable


def like(text: str, patterns: Iterable[str]) -> bool:
    """Whether a cell is like one of the texts; ``*`` stands for anything, case does not matter."""
    lower = text.lower()
    return any(_is_like(lower, pattern) for pattern in patterns)


def _is_like(text: str, pattern: str) -> bool:
    """Each piece between two ``*`` is looked for once, behind the one before: no text takes long."""
    first, *others = pattern.lower().split("*")
    if not others:
        return text == first
    *middle, last = others
    end = len(text) - len(last)
    if not (text.startswith(first) and text.endswith(last) and len(first) <= end):
        return False
    at = len(first)
    for piece in middle:
        at = text.find(piece, at, end)
        if at < 0:
            return False
        at += len(piece)
    return True


def key(text: str) -> str:
    """What must be equal for two headings or words to be one: letters and figures, whatever the case."""
    return re.sub(r"[\W_]+", "", text.lower())
