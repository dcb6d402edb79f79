"""What the machine would not do, in plain words: the one place where its errors become a message.

A full disk, a folder that may not be written, a name that leads nowhere: the words are in ``machine.toml``.
"""

import errno
import os
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from importlib.resources import files

from ingest.errors import SystemProblem


@contextmanager
def told_plainly(place: object, then: str = "") -> Iterator[None]:
    """Errors of the machine within the block leave it as :class:`SystemProblem`.

    Parameters
    ----------
    place : the file or folder that the block is about.
    then : a sentence on what that means for the data, such as ``Nothing was stored.``.
    """
    try:
        yield
    except (OSError, MemoryError) as error:
        raise in_plain_words(error, place, then) from None


def in_plain_words(error: BaseException, place: object = "", then: str = "") -> SystemProblem:
    """The problem behind an error of the machine.

    Parameters
    ----------
    error : an OSError, a MemoryError, or an error of a library that repeats the machine's own words.
    place : the file or folder; the one that the error names if empty.
    then : as for :func:`told_plainly`.
    """
    named = place or getattr(error, "filename", None) or ""
    means, advice = _words(error)
    return SystemProblem(os.fsdecode(named) if isinstance(named, bytes) else named, means, then, advice)


def number_of(error: BaseException) -> int | None:
    """Which error of the machine it is, as in errno.h; None if it is none that has words here.

    Libraries pass the machine's own sentence on within their message.
    """
    if isinstance(error, MemoryError):
        return errno.ENOMEM
    number = getattr(error, "errno", None)
    if number in _known():
        return int(number)
    text = str(error).lower()
    return next((number for number in _known() if os.strerror(number).lower() in text), None)


def _words(error: BaseException) -> tuple[str, str]:
    number = number_of(error)
    if number is not None:
        return _known()[number]
    return f"the machine could not do it ({getattr(error, 'strerror', None) or error})", ""


@cache
def _known() -> dict[int, tuple[str, str]]:
    """Number of the error -> what it means, what to do."""
    text = (files("ingest") / "machine.toml").read_text(encoding="utf-8")
    return {getattr(errno, name): (each["means"], each["do"]) for name, each in tomllib.loads(text).items()}
