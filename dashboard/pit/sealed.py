"""Where a reading is as expected, in a form that answers for a number and shows none.

Who reads a gauge must not know what is expected, or the eye finds it. So the page is given no expected value:
the range is cut into cells, and of each cell only a mark is sent, made of its number and a word of the day. A
typed number has a cell, and its mark is among those sent or is not. That keeps an honest reader honest; it is
no secret from somebody who tries every cell by a program.
"""

import math
from typing import Any

CELLS = 16
"""Cells of the range: their width says how wide it is, not where."""
_START, _STEP, _WORD = 0x811C9DC5, 0x01000193, 2**32


def seal(low: float, high: float, word: str) -> dict[str, Any] | None:
    """The range from `low` to `high` as the page takes it; None where it is none.

    Returns
    -------
    word; from (where a cell begins, between 0 and the width); width; marks, sorted.
    """
    width = (high - low) / CELLS
    if not (math.isfinite(width) and width > 0):
        return None
    first = math.floor(low / width)
    start = low - first * width
    marks = sorted(mark(word, first + i) for i in range(CELLS))
    return {"word": word, "from": start, "width": width, "marks": marks}


def mark(word: str, cell: int) -> int:
    """Mark of one cell: FNV-1a of 32 bits (G. Fowler, L. C. Noll, K.-P. Vo), over number and word."""
    value = _START
    for byte in f"{cell}:{word}".encode():
        value = ((value ^ byte) * _STEP) % _WORD
    return value


def fits(value: float, sealed: dict[str, Any]) -> bool:
    """Whether a value lies in the sealed range; what the page works out for itself."""
    cell = math.floor((value - sealed["from"]) / sealed["width"])
    return mark(str(sealed["word"]), cell) in sealed["marks"]
