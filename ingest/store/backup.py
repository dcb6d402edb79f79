"""The whole store in one file and back: Parquet inside, every part with its checksum."""

import hashlib
import json
import os
import shutil
import tempfile
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ingest.errors import UnreadableFile
from ingest.store.store import Store, now

_ABOUT = "about.json"
_MADE_BY = "milesleft backup"
_PIECE = 1 << 20  # bytes read at once


@dataclass(frozen=True)
class Backup:
    """What a backup holds: form of the store, data version, when it was made (UTC), rows by table."""

    form: int
    version: int
    made_at: str
    rows: dict[str, int]


def backup(store: Store, path: Path) -> Backup:
    """Write the whole store, its history and its runs into one file.

    Parameters
    ----------
    store : the store; it can be read meanwhile, and is not written.
    path : the file; one that exists is replaced when the new one is whole.

    Raises
    ------
    StoreBusy, StoreProblem : the store cannot be read.
    """
    fresh = path.with_name(f".{path.name}.new-{os.getpid()}")
    with tempfile.TemporaryDirectory(dir=path.resolve().parent, prefix=".backup-") as folder:
        parts = Path(folder)
        about = store.dump_to(parts) | {"made_by": _MADE_BY, "made_at": f"{now():%Y-%m-%d %H:%M:%S}"}
        about["sha256"] = {part.name: _sha256(part) for part in sorted(parts.iterdir())}
        try:
            with zipfile.ZipFile(fresh, "w", zipfile.ZIP_STORED) as archive:  # Parquet is compressed already
                for part in sorted(parts.iterdir()):
                    archive.write(part, part.name)
                archive.writestr(_ABOUT, json.dumps(about, indent=1))
            with fresh.open("rb+") as file:
                os.fsync(file.fileno())
            os.replace(fresh, path)
        finally:
            fresh.unlink(missing_ok=True)
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
    folder = store.path.resolve().parent
    with tempfile.TemporaryDirectory(dir=folder, prefix=".restore-") as name:
        about = _unpack(path, Path(name))
        store.load_from(Path(name), about, replace=replace)
    return _summary(about)


def look(path: Path) -> Backup:
    """What a backup holds, its checksums checked; errors as for :func:`restore`."""
    with tempfile.TemporaryDirectory(prefix="milesleft-backup-") as name:
        return _summary(_unpack(path, Path(name)))


def _unpack(path: Path, folder: Path) -> dict[str, Any]:
    """Parts of a backup into a folder, each compared with its checksum; what the backup says of itself."""
    if path.is_file() and not zipfile.is_zipfile(path):
        raise UnreadableFile(f"'{path}' is not a backup of milesleft.")
    try:
        with zipfile.ZipFile(path) as archive:
            about = json.loads(archive.read(_ABOUT))
            if about.get("made_by") != _MADE_BY:
                raise KeyError(_ABOUT)
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
    except (KeyError, ValueError, TypeError, AttributeError):
        raise UnreadableFile(f"'{path}' is not a backup of milesleft.") from None
    return dict(about)


def _unpack_part(archive: zipfile.ZipFile, name: str, folder: Path) -> None:
    part = archive.getinfo(name)
    if Path(name).name != name or part.compress_type != zipfile.ZIP_STORED:
        raise KeyError(name)  # not as we write it: a part is stored as it is, under a plain name
    with archive.open(part) as source, (folder / name).open("wb") as target:
        shutil.copyfileobj(source, target, _PIECE)


def _damaged(path: Path, why: str) -> str:
    return f"The backup '{path}' is damaged: {why}. Nothing was changed. Use another backup."


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _summary(about: dict[str, Any]) -> Backup:
    return Backup(int(about["form"]), int(about["version"]), str(about["made_at"]), dict(about["rows"]))
