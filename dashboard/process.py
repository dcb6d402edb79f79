"""How a process of ours begins and ends: what interpreter and C library do more slowly than need be."""

import ctypes
import gc
import logging
import os
import sys
from contextlib import suppress
from typing import NoReturn

_TRIM, _MMAP = -1, -3  # mallopt's names M_TRIM_THRESHOLD and M_MMAP_THRESHOLD: malloc.h of glibc
KEPT = 512 * 2**20
"""Bytes at most that the process keeps when arrays are given back. [bytes]"""
LARGEST = 32 * 2**20
"""Arrays up to this size are cut from what was kept, the most that glibc allows. [bytes]"""


def keep_memory() -> None:
    """Keep the memory of arrays for the next ones instead of handing it back to the system after each.

    Handing back and fetching again is a fifth of a forecast's processor time. For processes that forecast
    and end; a server would hold what others need. Does nothing where the C library is not glibc.
    """
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None) if sys.platform == "linux" else None
    if mallopt is not None:
        mallopt(_MMAP, LARGEST)
        mallopt(_TRIM, KEPT)


def settle() -> None:
    """Collect garbage again after the libraries were loaded, and no longer look through them each time."""
    gc.freeze()
    gc.enable()


def end_with_parent() -> None:
    """End this process when the one that started it has ended, however it ended.

    A worker waits for its next task on a pipe that it holds open itself: it would wait for ever.
    """
    from multiprocessing import connection, parent_process  # only workers pay for these
    from threading import Thread

    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        connection.wait([parent.sentinel])
        os._exit(1)

    Thread(target=watch, daemon=True).start()


def leave(code: int = 0) -> NoReturn:
    """End the process as it stands: what is stored is whole at any moment, files and pools are closed.

    The interpreter's own end takes the libraries down one by one, which takes a tenth of a second, and some
    of them abort when a thread is still in their code.
    """
    logging.shutdown()
    for stream in (sys.stdout, sys.stderr):
        with suppress(
            OSError, ValueError
        ):  # its reader has gone, it is closed, its disk is full: told before
            if stream is not None:
                stream.flush()
    os._exit(code)
