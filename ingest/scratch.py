"""Folders for what is not yet whole. What a killed process left is cleared by the next that makes one.

Whoever makes such a folder holds a lock on it for as long as he lives; the kernel drops it when he dies,
however he dies. A folder whose lock can be had is therefore nobody's. It gets the name by which it is looked
for only once it is locked, so that none is ever taken for a dead one while it is being made.
"""

import fcntl
import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

_PREFIX = ".milesleft-scratch-"
_MAKING = ".milesleft-making-"


@contextmanager
def scratch_folder(parent: Path) -> Iterator[Path]:
    """An empty folder below `parent`, gone at the end of the block; what dead ones left is cleared.

    Raises
    ------
    OSError : the parent cannot be written in.
    """
    clear_dead(parent)
    folder, lock = _made(parent)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        if lock is not None:
            os.close(lock)


def clear_dead(parent: Path) -> None:
    """Remove the scratch folders below `parent` whose makers are dead; what cannot be removed stays."""
    with suppress(OSError):
        for folder in [*parent.glob(f"{_PREFIX}*"), *parent.glob(f"{_MAKING}*")]:
            lock, held = _lock(folder)
            if lock is None or held:
                continue
            if folder.name.startswith(_PREFIX):
                shutil.rmtree(folder, ignore_errors=True)
            else:
                with suppress(OSError):
                    folder.rmdir()  # empty as long as it has this name: its maker, if alive, makes another
            os.close(lock)


def _made(parent: Path) -> tuple[Path, int | None]:
    """A new locked folder and its lock, None where the file system has no locks."""
    while True:
        word = secrets.token_hex(8)
        making, folder = parent / f"{_MAKING}{word}", parent / f"{_PREFIX}{word}"
        making.mkdir(mode=0o700)
        lock, held = _lock(making)
        if not held:
            with suppress(FileNotFoundError):
                making.rename(folder)
                return folder, lock
        if lock is not None:
            os.close(lock)


def _lock(folder: Path) -> tuple[int | None, bool]:
    """The lock of a folder, None where there is none to be had; whether somebody else holds it."""
    try:
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    except FileNotFoundError:
        return None, True  # cleared meanwhile
    except OSError:
        return None, False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        return None, True
    except OSError:
        os.close(handle)
        return None, False
    return handle, False
