"""What stops a file from being read as a store, in words: held, damaged, newer, or no store at all."""

import errno
import re
from pathlib import Path

import duckdb

from ingest.errors import StoreBusy, StoreProblem
from ingest.machine import in_plain_words, number_of

_HELD = re.compile(r"could not set lock|conflicting lock", re.IGNORECASE)
_NEWER = re.compile(r"version number \d+|newer version of duckdb", re.IGNORECASE)
_NO_DATABASE = "not a valid DuckDB database file"
_OF_THE_MACHINE = (
    duckdb.IOException,
    duckdb.TransactionException,  # a commit that could not be written
    duckdb.FatalException,
)
_NO_MEMORY = re.compile(r"(could not|failed to) allocate", re.IGNORECASE)
_DAMAGED = re.compile(
    r"corrupt|checksum|could not read (enough|all)|failed to (load|deserialize|read)|replaying wal|"
    r"end of file",
    re.IGNORECASE,
)
"""Words of DuckDB's messages. It has one class of error for many causes, so the words decide."""

_BACK = (
    "the last backup takes its place: 'milesleft restore FILE --replace'; the file that is there now is "
    "kept beside it, its name ending in .before-restore."
)


def no_store(path: Path) -> StoreProblem | None:
    """What a path is if it is plainly no store: a folder, an empty file."""
    if path.is_dir():
        return StoreProblem(f"'{path}' is a folder, not a store. Name a file with --db.")
    if path.exists() and path.stat().st_size == 0:
        return StoreProblem(
            f"'{path}' is an empty file, not a store. Remove it, and 'milesleft add' makes a new one there; "
            f"or name another with --db. If it was a store, {_BACK}"
        )
    return None


def number_of_machine(error: duckdb.Error) -> int | None:
    """Which error of disk or memory it is, as in errno.h; None if the machine was not at fault."""
    if isinstance(error, duckdb.OutOfMemoryException):
        return errno.ENOMEM
    if not isinstance(error, _OF_THE_MACHINE):
        return None
    return errno.ENOMEM if _NO_MEMORY.search(str(error)) else number_of(error)


def translated(error: duckdb.Error, path: Path, then: str = "") -> Exception:
    """The error in words; one that says nothing about the file or the machine comes back as it is.

    Parameters
    ----------
    then : a sentence on what a fault of the machine means for the data.
    """
    first = str(error).strip().splitlines()[0][:200]
    if _HELD.search(first):
        return StoreBusy(
            f"The store '{path}' is held open by another program ({first.split('.')[0]}). "
            "Close it there and try again."
        )
    if number_of_machine(error) is not None:
        out_of_memory = isinstance(error, duckdb.OutOfMemoryException)
        return in_plain_words(MemoryError() if out_of_memory else error, path, then)
    if _NEWER.search(first):
        return StoreProblem(
            f"The store '{path}' was written by a newer DuckDB than this program has ({first}). "
            "Use the newer milesleft that wrote it."
        )
    if _NO_DATABASE in first:
        return StoreProblem(
            f"'{path}' is no store of milesleft: it is not even a database. Name another with --db. "
            f"If it was a store, it is damaged: {_BACK}"
        )
    if _DAMAGED.search(first) or isinstance(error, duckdb.InternalException | duckdb.FatalException):
        return StoreProblem(
            f"The store '{path}' is damaged ({first}). Nothing was changed. What to do: {_BACK}"
        )
    return error
