"""The whole store in one file and back: Parquet inside, every part with its checksum."""

import errno
import json
import os
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ingest.apart.host import Builder, builder
from ingest.errors import StoreProblem, SystemProblem, UnreadableFile
from ingest.figures import bound
from ingest.machine import in_plain_words, told_plainly
from ingest.neutral import visible
from ingest.scratch import scratch_folder
from ingest.store.given import must_be_as_told
from ingest.store.rebuild import ABOUT, BUILT, MADE_BY, checked, damaged, no_backup, sha256
from ingest.store.store import Store, now
from ingest.writing import whole_file

_KIND = "ingest.store.rebuild"
_USE_ANOTHER = "Use another backup."
_TRY_AGAIN = "No backup was made. Try again when the machine has less to do."


@dataclass(frozen=True)
class Backup:
    """What a backup holds: form of the store, data version, when it was made (UTC), rows by table."""

    form: int
    version: int
    made_at: str
    rows: dict[str, int]


def backup(store: Store, path: Path) -> Backup:
    """Write the whole store, its history and its runs into one file, and read it back into a scratch store.

    Parameters
    ----------
    store : the store; it can be read meanwhile, and is not written.
    path : the file; one that exists is replaced when the new one is whole.

    Raises
    ------
    StoreBusy, StoreProblem : the store cannot be read, or what was written does not come back as a store; a
        file that was there is as it was.
    """
    with (
        whole_file(path) as fresh,
        _scratch(path.resolve().parent) as folder,
        builder(_KIND, folder) as process,  # it loads its libraries while this process writes
    ):
        parts = folder / "parts"
        parts.mkdir()
        try:
            about = store.dump_to(parts) | {"made_by": MADE_BY, "made_at": f"{now():%Y-%m-%d %H:%M:%S}"}
        except SystemProblem as problem:
            raise problem.at(path, "No backup was made.") from None
        about["sha256"] = {part.name: sha256(part) for part in sorted(parts.iterdir())}
        with zipfile.ZipFile(fresh, "w", zipfile.ZIP_STORED) as archive:  # Parquet is compressed already
            for part in sorted(parts.iterdir()):
                archive.write(part, part.name)
            archive.writestr(ABOUT, json.dumps(about, indent=1))
        shutil.rmtree(parts)
        if fresh.is_file():  # what went into a pipe cannot be read back
            _rebuilt(process, fresh, folder, path, _TRY_AGAIN)
    return _summary(about)


def restore(store: Store, path: Path, *, replace: bool = False) -> Backup:
    """Make the store from a backup, which is read in a process of its own.

    Parameters
    ----------
    store : where to; it takes its place in one step, when it is whole.
    path : the file that :func:`backup` wrote.
    replace : a store that is there is kept beside it, its name ending in ``.before-restore``.

    Raises
    ------
    UnreadableFile : the file is no backup, a part of it is not what was written, or reading it broke off or
        took more time, memory or room than is allowed.
    StoreProblem : a store is there and is not to be replaced, or the backup comes from a newer milesleft.
    """
    store.must_be_free(replace=replace)
    with _scratch(store.path.resolve().parent) as folder, builder(_KIND, folder) as process:
        about = _rebuilt(process, path, folder, path, _USE_ANOTHER)
        store.take(folder / BUILT, replace=replace)
    return _summary(about)


def look(path: Path) -> Backup:
    """What a backup holds; it is restored into a scratch store, as a trial. Errors as for :func:`restore`."""
    with _scratch(Path(tempfile.gettempdir())) as folder, builder(_KIND, folder) as process:
        return _summary(_rebuilt(process, path, folder, path, _USE_ANOTHER))


def _rebuilt(process: Builder, path: Path, folder: Path, told: Path, advice: str) -> dict[str, Any]:
    """Have a backup made into a store in `folder`, and look whether that holds what the backup says.

    Parameters
    ----------
    told : what the file is called in messages.
    advice : what to do if it cannot be read.
    """
    size = _size(path)
    answer = process.ask(
        {
            "path": str(path.absolute()),
            "reads": [str(path.absolute())],
            "name": str(told),
            "most_written": bound("restore", "room") + bound("restore", "room_a_byte") * size,
            "memory": bound("restore", "memory"),
        },
        name=str(told),
        advice=advice,
        seconds=bound("restore", "seconds") + bound("restore", "seconds_a_megabyte") * (size // 1_000_000),
    )
    if "machine" in answer.header:
        raise in_plain_words(_error_of(answer.header["machine"]), folder.parent, "Nothing was changed.")
    process.end()  # nothing of it is left that could still change what it made
    try:
        about = checked(answer.header.get("about"))
        must_be_as_told(folder / BUILT, about)
    except (KeyError, ValueError):
        raise no_backup(str(told)) from None
    except StoreProblem as problem:
        raise damaged(str(told), str(problem).rstrip(".")) from None
    return about


def _size(path: Path) -> int:
    """Size of the backup [bytes]; an error if there is none that can be read."""
    try:
        with path.open("rb"):
            pass
    except FileNotFoundError:
        raise UnreadableFile(
            f"'{path}' does not exist. Name the file that 'milesleft backup' wrote."
        ) from None
    except OSError as error:
        raise in_plain_words(error, path, "Nothing was changed.") from None
    return path.stat().st_size


def _error_of(number: object) -> OSError:
    if isinstance(number, int) and number in errno.errorcode:
        return OSError(number, os.strerror(number))
    return OSError(visible(str(number)[:100]))


@contextmanager
def _scratch(parent: Path) -> Iterator[Path]:
    """A folder for the parts of a backup, gone when the block ends."""
    with told_plainly(parent, "Nothing was changed."), scratch_folder(parent) as folder:
        yield folder


def _summary(about: dict[str, Any]) -> Backup:
    return Backup(int(about["form"]), int(about["version"]), str(about["made_at"]), dict(about["rows"]))
