"""A backup becomes the file of a store; runs in the process that reads what strangers made.

It writes into the folder that it starts in and nowhere else: the parts of the backup, and the store that is
built from them. Who asked for it looks at that store and puts it in its place.
"""

import codecs
import errno
import hashlib
import json
import resource
import shutil
import zipfile
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ingest.apart.wire import Bytes, Message
from ingest.errors import StoreProblem, UnreadableFile
from ingest.figures import bound
from ingest.machine import number_of
from ingest.store import dump, migrate
from ingest.store.opening import build_confined
from ingest.store.sql import statement

if TYPE_CHECKING:
    from ingest.store.transaction import Connection  # that module loads pandas, which has no place here

WRITES = True
MADE_BY = "milesleft backup"
ABOUT = "about.json"
BUILT = "store.duckdb"
"""Name of the store in the folder."""
_PARTS = "parts"
_PIECE = 1 << 20  # bytes read at once


_STATEMENTS = ("confine", "table_exists", "table_columns", "rows_from_parquet")


def prepare(need: str) -> None:  # noqa: ARG001  # nothing beyond the usual
    """Load what unpacking and building load at their first use: nothing of ours can be opened later."""
    codecs.lookup("cp437")  # names in archives
    migrate.steps()
    for name in _STATEMENTS:
        statement(name)
    number_of(OSError())  # what goes wrong with the machine is told apart by words in a file


def answer(question: dict[str, Any], content: Bytes) -> Message:  # noqa: ARG001  # it reads the file itself
    """Build the store from a backup.

    Parameters
    ----------
    question : ``path`` of the backup, absolute; its ``name`` for messages; ``most_written``, the largest
        file that may be made [bytes]; ``memory``, the most that the database may take [bytes].

    Returns
    -------
    Message : ``about``, what the backup says of itself; or ``machine``, the number of what the machine would
        not do; or ``failed``, which bound was reached.

    Raises
    ------
    UnreadableFile, StoreProblem : it is no backup, is damaged, of a newer program, or does not fit.
    """
    parts = Path(_PARTS)
    parts.mkdir()
    try:
        about = unpack(Path(question["path"]), parts, question["name"])
        _build(parts, about, question)
    except OSError as error:
        if error.errno == errno.ENOMEM:
            raise MemoryError from None
        ours = resource.getrlimit(resource.RLIMIT_FSIZE)[0] == question["most_written"]
        if error.errno == errno.EFBIG and ours:
            return Message({"failed": "size"})
        return Message({"machine": error.errno})
    return Message({"about": about})


def _build(parts: Path, about: dict[str, Any], question: dict[str, Any]) -> None:
    if about["form"] > migrate.latest():
        raise StoreProblem("The backup was made by a newer milesleft. Use that, or a newer one.")
    tables = {name: [(c, k) for c, k in columns] for name, columns in about["tables"].items()}

    def fill(connection: "Connection") -> None:
        dump.load(connection, parts, tables, about["form"])

    build_confined(
        Path(BUILT),
        fill,
        backup=question["name"],
        memory=question["memory"],
        spilled=question["most_written"],
    )


def unpack(path: Path, folder: Path, name: str) -> dict[str, Any]:
    """Parts of a backup into a folder, each compared with its checksum; what the backup says of itself.

    Raises
    ------
    UnreadableFile : it is no backup, or a part of it is not what was written.
    OSError : the machine does not do it.
    """
    if not zipfile.is_zipfile(path):
        raise no_backup(name)
    try:
        with zipfile.ZipFile(path) as archive:
            about = _read_about(archive)
            _all_stored(archive, about, path.stat().st_size)
            for part, wanted in about["sha256"].items():
                with archive.open(part) as source, (folder / part).open("wb") as target:
                    shutil.copyfileobj(source, target, _PIECE)
                if sha256(folder / part) != wanted:
                    raise damaged(name, f"{part} is not what was written")
            missing = [table for table in about["tables"] if f"{table}.parquet" not in about["sha256"]]
            if missing:
                raise damaged(name, f"{missing[0]} is missing")
    except (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError) as error:
        raise damaged(name, str(error)) from None
    except OSError as error:
        if number_of(error) is not None:
            raise
        raise damaged(name, str(error)) from None
    except (KeyError, ValueError, RuntimeError):  # the last: encrypted, packed in an unknown way, too deep
        raise no_backup(name) from None
    return about


def _read_about(archive: zipfile.ZipFile) -> dict[str, Any]:
    part = archive.getinfo(ABOUT)
    if part.file_size > bound("restore", "longest_about"):
        raise ValueError(ABOUT)
    return checked(json.loads(archive.read(part)))


def checked(about: object) -> dict[str, Any]:
    """What a backup says of itself, every part of it of the kind that is written.

    Raises
    ------
    KeyError, ValueError : it is not what :func:`ingest.store.backup.backup` writes.
    """
    if not isinstance(about, dict) or about.get("made_by") != MADE_BY:
        raise ValueError(ABOUT)
    sound = (
        all(type(about[name]) is int and about[name] >= 0 for name in ("form", "version"))
        and isinstance(about["made_at"], str)
        and _maps(about["rows"], int)
        and _maps(about["sha256"], str)
        and _maps(about["tables"], list)
        and all(_pair_of_texts(column) for columns in about["tables"].values() for column in columns)
    )
    if not sound:
        raise ValueError(ABOUT)
    return about


def _maps(value: object, kind: type) -> bool:
    return isinstance(value, dict) and all(type(each) is kind for each in value.values())


def _pair_of_texts(value: object) -> bool:
    return isinstance(value, list) and len(value) == 2 and all(isinstance(each, str) for each in value)


def _all_stored(archive: zipfile.ZipFile, about: dict[str, Any], size: int) -> None:
    """KeyError if the parts are not as we write them: stored as they are, side by side, under plain names."""
    parts = [archive.getinfo(name) for name in about["sha256"]]
    for name, part in zip(about["sha256"], parts, strict=True):
        if Path(name).name != name or part.compress_type != zipfile.ZIP_STORED:
            raise KeyError(name)
    if sum(part.file_size for part in parts) > size:  # parts that share their bytes: a bomb
        raise KeyError(ABOUT)


def no_backup(name: str) -> UnreadableFile:
    """The error for a file that is none of ours."""
    return UnreadableFile(
        f"'{name}' is not a backup of milesleft. Nothing was changed. Name the file that 'milesleft backup' "
        "wrote."
    )


def damaged(name: str, why: str) -> UnreadableFile:
    """The error for a backup that is not what was written."""
    return UnreadableFile(f"The backup '{name}' is damaged: {why}. Nothing was changed. Use another backup.")


def sha256(path: Path) -> str:
    """Checksum of a file, in hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
