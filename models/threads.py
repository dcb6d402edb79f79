"""Independent work in a few threads: numpy works outside the interpreter's lock, so threads help."""

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

T = TypeVar("T")
R = TypeVar("R")

WORKERS = 2
FEW = 6
"""Items below which threads take longer than they save: small arrays leave the lock for too short."""


def use_threads(count: int) -> None:
    """From now on work in so many threads in this process."""
    global WORKERS
    WORKERS = count


def in_threads(function: Callable[[T], R], items: Iterable[T]) -> list[R]:
    """Results in the order of the items."""
    given = list(items)
    if WORKERS == 1 or len(given) < FEW:
        return [function(item) for item in given]
    with ThreadPoolExecutor(WORKERS) as pool:
        return list(pool.map(function, given))
