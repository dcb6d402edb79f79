"""How a file goes out: whole or not at all, and with nothing in it that runs."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ingest.machine import told_plainly
from ingest.scratch import scratch_folder

TEXTS_STAY = {"strings_to_formulas": False, "strings_to_urls": False, "in_memory": True}
"""Options of the writer of workbooks: no text is a formula or a link, and no scratch file is written."""


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A file in a scratch folder beside the path, which takes its place in one step when the block ends well.

    What stands at the path stays as it is until then, and for good if the block fails. A device or a pipe,
    which nothing can take the place of, is given as it is.

    Raises
    ------
    SystemProblem : it cannot be written there.
    """
    with told_plainly(path, "The file was not written."):
        target = Path(os.path.realpath(path))  # a link keeps pointing where it does
        if target.exists() and not target.is_file():
            yield target
            return
        with scratch_folder(target.parent) as folder:
            fresh = folder / target.name
            yield fresh
            if target.exists():
                shutil.copymode(target, fresh)
            _keep(fresh)
            os.replace(fresh, target)


def write_whole(path: Path, content: bytes) -> None:
    """Write a file, whole or not at all; errors as for :func:`whole_file`."""
    with whole_file(path) as fresh:
        fresh.write_bytes(content)


def _keep(fresh: Path) -> None:
    """Wait until the disk has it: a file that took its place must not turn out empty after a power cut."""
    with fresh.open("rb+") as file:
        os.fsync(file.fileno())
