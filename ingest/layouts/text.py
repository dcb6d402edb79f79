"""When two texts of a sheet are the same, and when one is like another."""

import re
from collections.abc import Iterable
from functools import cache


def like(text: str, patterns: Iterable[str]) -> bool:
    """Whether a cell is like one of the texts; ``*`` stands for anything, case does not matter."""
    return any(_pattern(pattern).fullmatch(text) for pattern in patterns)


@cache
def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(".*".join(map(re.escape, text.split("*"))), re.IGNORECASE | re.DOTALL)


def key(text: str) -> str:
    """What must be equal for two headings or words to be one: letters and figures, whatever the case."""
    return re.sub(r"[\W_]+", "", text.lower())
