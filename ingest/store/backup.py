"""The whole store in one file and back: Parquet inside, every part with its checksum."""

import hashlib
import json
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ingest.errors import SystemProblem, UnreadableFile
from ingest.machine import told_plainly
from ingest.scratch import scratch_folder
from ingest.store.store import Store, now
from ingest.writing import whole_file

_ABOUT = "about.json"
_MADE_BY = "milesleft backup"
_PIECE = 1 << 20  # bytes read at once
_LONGEST_ABOUT = 10_000_000  # bytes; a thousand times that of the demo's store


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
    with whole_file(path) as fresh, _scratch(path.resolve().parent) as folder:
        parts = folder / "parts"
        parts.mkdir()
        try:
            about = store.dump_to(parts) | {"made_by": _MADE_BY, "made_at": f"{now():%Y-%m-%d %H:%M:%S}"}
        except SystemProblem as problem:
            raise problem.at(path, "No backup was made.") from None
        about["sha256"] = {part.name: _sha256(part) for part in sorted(parts.iterdir())}
        with zipfile.ZipFile(fresh, "w", zipfile.ZIP_STORED) as archive:  # Parquet is compressed already
            for part in sorted(parts.iterdir()):
                archive.write(part, part.name)
            archive.writestr(_ABOUT, json.dumps(about, indent=1))
        shutil.rmtree(parts)
        if fresh.is_file():  # what went into a pipe cannot be read back
            _try_out(fresh, folder)
    return _summary(about)


def restore(store: Store, path: Path, *, replace: bool = False) -> Backup:
    """Make the store from a backup.

    Parameters
    ----------
    store : where to; it takes its place in one step, when it is whole.
    path : the file that :func:`backup` wrote.
    replace : a store that is there is kept beside it, its name ending in ``.before-restore``.

    Raises
    ------
    UnreadableFile : the file is no backup, or a part of it is not what was written.
    StoreProblem : a store is there and is not to be replaced, or the backup comes from a newer milesleft.
    """
    with _scratch(store.path.resolve().parent) as parts:
        about = _unpack(path, parts)
        store.load_from(parts, about, replace=replace)
    return _summary(about)


def look(path: Path) -> Backup:
    """What a backup holds; it is restored into a scratch store, as a trial. Errors as for :func:`restore`."""
    with _scratch(Path(tempfile.gettempdir())) as folder:
        return _try_out(path, folder)


def _try_out(path: Path, folder: Path) -> Backup:
    """Restore a backup into a store in `folder`, and look whether it holds what the backup says."""
    trial = folder / "trial"
    trial.mkdir()
    about = _unpack(path, trial)
    store = Store(folder / "trial.duckdb")
    store.load_from(trial, about)
    if store.version() != about["version"]:
        raise UnreadableFile(_damaged(path, "its batches are not those that it says"))
    return _summary(about)


@contextmanager
def _scratch(parent: Path) -> Iterator[Path]:
    """A folder for the parts of a backup, gone when the block ends."""
    with told_plainly(parent, "Nothing was changed."), scratch_folder(parent) as folder:
        yield folder


def _unpack(path: Path, folder: Path) -> dict[str, Any]:
    """Parts of a backup into a folder, each compared with its checksum; what the backup says of itself."""
    if path.is_file() and not zipfile.is_zipfile(path):
        raise UnreadableFile(f"'{path}' is not a backup of milesleft.")
    try:
        with zipfile.ZipFile(path) as archive:
            about = _read_about(archive)
            for name, wanted in about["sha256"].items():
                _unpack_part(archive, name, folder)
                if _sha256(folder / name) != wanted:
                    raise UnreadableFile(_damaged(path, f"{name} is not what was written"))
            missing = [table for table in about["tables"] if f"{table}.parquet" not in about["sha256"]]
            if missing:
                raise UnreadableFile(_damaged(path, f"{missing[0]} is missing"))
    except FileNotFoundError:
        raise UnreadableFile(
            f"'{path}' does not exist. Name the file that 'milesleft backup' wrote."
        ) from None
    except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, OSError) as error:
        raise UnreadableFile(_damaged(path, str(error))) from None
    except (KeyError, ValueError, RecursionError):
        raise UnreadableFile(f"'{path}' is not a backup of milesleft.") from None
    return about


def _read_about(archive: zipfile.ZipFile) -> dict[str, Any]:
    """What a backup says of itself, every part of it of the kind that is written.

    Raises
    ------
    KeyError, ValueError, RecursionError : it is not what :func:`backup` writes.
    """
    part = archive.getinfo(_ABOUT)
    if part.file_size > _LONGEST_ABOUT:
        raise ValueError(_ABOUT)
    about = json.loads(archive.read(part))
    if not isinstance(about, dict) or about.get("made_by") != _MADE_BY:
        raise ValueError(_ABOUT)
    sound = (
        all(type(about[name]) is int and about[name] >= 0 for name in ("form", "version"))
        and isinstance(about["made_at"], str)
        and _maps(about["rows"], int)
        and _maps(about["sha256"], str)
        and _maps(about["tables"], list)
        and all(_pair_of_texts(column) for columns in about["tables"].values() for column in columns)
    )
    if not sound:
        raise ValueError(_ABOUT)
    return about


def _maps(value: object, kind: type) -> bool:
    return isinstance(value, dict) and all(type(each) is kind for each in value.values())


def _pair_of_texts(value: object) -> bool:
    return isinstance(value, list) and len(value) == 2 and all(isinstance(each, str) for each in value)


def _unpack_part(archive: zipfile.ZipFile, name: str, folder: Path) -> None:
    part = archive.getinfo(name)
    if Path(name).name != name or part.compress_type != zipfile.ZIP_STORED:
        raise KeyError(name)  # not as we write it: a part is stored as it is, under a plain name
    with (
        archive.open(part) as source,
        told_plainly(folder.parent, "Nothing was changed."),
        (folder / name).open("wb") as target,
    ):
        shutil.copyfileobj(source, target, _PIECE)


def _damaged(path: Path, why: str) -> str:
    return f"The backup '{path}' is damaged: {why}. Nothing was changed. Use another backup."


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _summary(about: dict[str, Any]) -> Backup:
    return Backup(int(about["form"]), int(about["version"]), str(about["made_at"]), dict(about["rows"]))
