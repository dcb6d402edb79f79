"""Who may open the store now: many readers or one writer, in turn, among processes and threads.

Two lock files beside the store. Everybody passes the gate (``.gate``, one at a time) to get at the room
(``.lock``, shared by readers, alone for a writer). A writer waits for the room while it holds the gate, so
readers that come later queue behind it and cannot starve it. The kernel drops both when a process dies.
"""

import errno
import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

from ingest.errors import StoreBusy
from ingest.machine import in_plain_words

POLL_S = (
    0.004  # flock has no time limit of its own; 20 waiting sessions cost under 1 % of a core at this step
)

_NOT_TO_BE_WRITTEN = (errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOSPC, errno.EDQUOT)


@contextmanager
def locked(store: Path, mode: Literal["read", "write"], wait_s: float) -> Iterator[None]:
    """Hold the store's lock for the length of the block.

    Parameters
    ----------
    store : path of the store; its lock files lie beside it.
    mode : ``read`` shares the store with other readers, ``write`` has it alone.
    wait_s : longest wait. [s]

    Raises
    ------
    StoreBusy : the store did not come free in time; the message names who holds it, if it is known.
    """
    until = time.monotonic() + wait_s
    gate, room = _open(store, ".gate"), _open(store, ".lock")
    has_gate = not os.path.sameopenfile(gate, room)
    try:
        if has_gate:
            _take(gate, fcntl.LOCK_EX, until, store, wait_s)
        try:
            _take(room, fcntl.LOCK_EX if mode == "write" else fcntl.LOCK_SH, until, store, wait_s)
        finally:
            if has_gate:
                fcntl.flock(gate, fcntl.LOCK_UN)
        if mode == "write":
            _sign(room)
        yield
    finally:
        os.close(room)
        os.close(gate)


def _open(store: Path, suffix: str) -> int:
    path = store.with_name(store.name + suffix)
    try:
        return os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o666)
    except OSError as error:
        if error.errno not in _NOT_TO_BE_WRITTEN:
            raise in_plain_words(error, store) from None
        # A reader of a folder that it may not write in: a lock file that exists can still be locked, and
        # where there is none, nobody who writes there has ever come by; the folder itself is locked then.
        # Who wants to write learns from the store itself that it cannot.
        return os.open(path if path.exists() else store.parent, os.O_RDONLY | os.O_CLOEXEC)


def _take(handle: int, kind: int, until: float, store: Path, wait_s: float) -> None:
    while True:
        try:
            fcntl.flock(handle, kind | fcntl.LOCK_NB)
            return
        except BlockingIOError:
            if time.monotonic() >= until:
                raise StoreBusy(_busy(store, wait_s)) from None
            time.sleep(POLL_S)


def _sign(room: int) -> None:
    """Leave word of who writes, for the message to those who wait in vain."""
    word = f"process {os.getpid()} since {datetime.now(UTC):%H:%M:%S} UTC"
    try:
        os.ftruncate(room, 0)
        os.pwrite(room, word.encode(), 0)
    except OSError:  # a full disk must not stop a reader, who then reads a shorter message
        return


def _busy(store: Path, wait_s: float) -> str:
    try:
        word = store.with_name(store.name + ".lock").read_text(errors="replace").strip()
    except OSError:
        word = ""
    last = f" The last to write in it was {word}." if word else ""
    return (
        f"The store '{store}' is in use and did not come free within {wait_s:g} s.{last} "
        "Nothing was changed. Try again; if a process hangs, end it."
    )
