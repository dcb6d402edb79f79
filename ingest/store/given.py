"""The file of a store that another process made of foreign bytes: looked at before it takes a store's place.

Who made it may have been taken over by what it read. A database can hold more than rows: a view that reads
another file, a function under the name of one that counts, a default, a trigger. None of them may be in it:
what it holds beside its rows must be what this program itself makes. It is looked at from a database beside
it, so that nothing in it goes by a name that is asked for here, read-only, with nothing else to be opened.
"""

import stat
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ingest.errors import StoreProblem
from ingest.store import dump, migrate, reading
from ingest.store.opening import GIVEN, OWN, beside_given
from ingest.store.sql import statement
from ingest.store.transaction import Connection


def must_be_as_told(path: Path, about: Mapping[str, Any]) -> None:
    """Look whether a file is the store that a backup tells of, and nothing more.

    Parameters
    ----------
    path : the file; whoever made it has ended.
    about : what the backup says of itself (:func:`ingest.store.rebuild.checked`).

    Raises
    ------
    StoreProblem : it is not.
    """
    _must_be_one_file(path)
    with beside_given(path, lambda own: dump.make_tables(own, about["tables"])) as connection:
        own, given = (_catalogue(connection, database) for database in (OWN, GIVEN))
        if own != given:
            kind, name, _ = min(set(own) ^ set(given) or set(given))
            raise StoreProblem(f"it does not hold what a store holds: the {kind} {name[:60]!r}")
        connection.execute(f"USE {GIVEN}").fetchall()
        tables = [name.removeprefix("main.") for kind, name, _ in given if kind == "table"]
        rows = {**dict.fromkeys(tables, 0), **about["rows"], "migration": migrate.latest()}
        dump.must_hold(connection, rows)
        if reading.newest_version(connection) != about["version"]:
            raise StoreProblem("its batches are not those that it says")


def _must_be_one_file(path: Path) -> None:
    """A file of its own: no link to another, no log of changes beside it that would be read with it."""
    try:
        found = path.lstat()
    except OSError:
        raise StoreProblem("nothing was built of it") from None
    if not stat.S_ISREG(found.st_mode) or found.st_nlink != 1:
        raise StoreProblem("what was built of it is no file of its own")
    if path.with_name(path.name + ".wal").exists():
        raise StoreProblem("what was built of it is not finished")


def _catalogue(connection: Connection, database: str) -> list[tuple[str, str, str]]:
    """Everything in a database beside its rows: kind, name, what it is made by; in order."""
    found = connection.execute(statement("catalogue_of"), {"database": database}).fetchall()
    return sorted((str(kind), str(name), str(text)) for kind, name, text in found)
