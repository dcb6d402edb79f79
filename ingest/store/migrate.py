"""From one form of the store to the next: numbered steps, each applied once, each in a transaction."""

from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from ingest.errors import StoreProblem
from ingest.store.sql import statement

if TYPE_CHECKING:
    from ingest.store.transaction import Connection  # loads pandas, which the rebuilding process has not

_APPLIED = "CREATE TABLE migration (number INTEGER PRIMARY KEY, name VARCHAR NOT NULL)"


@cache
def steps() -> dict[int, tuple[str, str]]:
    """Number -> (name, statements) of every step, in order."""
    folder = files("ingest.store.sql") / "migrations"
    found = sorted((f for f in folder.iterdir() if f.name.endswith(".sql")), key=lambda f: f.name)
    return {int(f.name[:3]): (f.name, f.read_text(encoding="utf-8")) for f in found}


def latest() -> int:
    """Number of the newest step: the form that this program reads and writes."""
    return max(steps())


def applied(connection: "Connection", path: Path) -> int:
    """Number of the newest step that the store has had.

    Raises
    ------
    StoreProblem : the file is not a store of ours, or a newer program made it.
    """
    tables = {row[0] for row in connection.execute("SELECT table_name FROM duckdb_tables()").fetchall()}
    if "migration" not in tables:
        raise StoreProblem(f"'{path}' is a database, but not a store of milesleft. Name another with --db.")
    number = int(connection.execute("SELECT coalesce(max(number), 0) FROM migration").fetchall()[0][0])
    if number > latest():
        raise StoreProblem(
            f"The store '{path}' is of form {number}; this program knows forms up to {latest()}. "
            "Use the newer milesleft that wrote it."
        )
    return number


def bring_up_to_date(connection: "Connection", until: int | None = None) -> None:
    """Apply the steps that the store has not had, up to ``until``; each wholly or not at all."""
    if not connection.execute(statement("table_exists"), {"table": "migration"}).fetchall():
        connection.execute(_APPLIED).fetchall()
    have = {row[0] for row in connection.execute("SELECT number FROM migration").fetchall()}
    for number, (name, text) in steps().items():
        if number in have or number > (until or latest()):
            continue
        connection.execute("BEGIN").fetchall()
        try:
            connection.execute(text)
            connection.execute("INSERT INTO migration VALUES (?, ?)", [number, name]).fetchall()
        except BaseException:
            connection.execute("ROLLBACK").fetchall()
            raise
        connection.execute("COMMIT").fetchall()
