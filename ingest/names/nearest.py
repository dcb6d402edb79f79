"""Names that look most like another: what a message proposes where a name is not known."""

import difflib
from collections.abc import Iterable

_LOOKED_AT = 60  # characters of a name that are compared: the time grows with their square
_MOST = 5_000  # names that are compared, for the same reason


def nearest(name: str, known: Iterable[str], count: int, *, at_least: float = 0.0) -> list[str]:
    """Known names by likeness, the likest first.

    Parameters
    ----------
    count : names given at most.
    at_least : likeness below which a name is not given. [1], in [0, 1]
    """
    by_beginning: dict[str, str] = {}
    for full in known:
        by_beginning.setdefault(full[:_LOOKED_AT], full)
        if len(by_beginning) == _MOST:
            break
    close = difflib.get_close_matches(name[:_LOOKED_AT], list(by_beginning), n=count, cutoff=at_least)
    return [by_beginning[beginning] for beginning in close]
