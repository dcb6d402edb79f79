"""The same few cells are read many times: by the judges of a sheet, as rows, and again while they wait."""

from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import TypeVar

import pandas as pd

_MOST_CELLS, _MOST_LETTERS = 2_000, 60_000
"""A larger column is read anew: it takes less time than it would take memory."""
_COLUMNS = 128

Stated = TypeVar("Stated", str, str | None)


def read_once(
    read: Callable[[pd.Series, Stated], pd.DataFrame], cells: Iterable[str], stated: Stated
) -> pd.DataFrame:
    """What a pure function makes of different cells and what is stated of them; to be copied, not changed."""
    known = tuple(cells)
    if len(known) > _MOST_CELLS or sum(map(len, known)) > _MOST_LETTERS:
        return read(pd.Series(known, dtype="str"), stated)
    return _kept(read, known, stated)


@lru_cache(maxsize=_COLUMNS)
def _kept(
    read: Callable[[pd.Series, Stated], pd.DataFrame], cells: tuple[str, ...], stated: Stated
) -> pd.DataFrame:
    return read(pd.Series(cells, dtype="str"), stated)
