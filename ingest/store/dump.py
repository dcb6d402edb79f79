"""All tables of the store as Parquet files in a folder, and back."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from ingest.errors import StoreProblem
from ingest.store.migrate import applied, bring_up_to_date
from ingest.store.sql import statement

if TYPE_CHECKING:
    from ingest.store.transaction import Connection  # loads pandas, which the rebuilding process has not

Columns = list[tuple[str, str]]

_FRAME = re.compile(r"frame_[0-9a-f]{16}")
_TYPE = re.compile(r"[A-Z][A-Z0-9_ ]*(\(\d+,\d+\))?(\[\d*\])*")
"""Names and types that a dump may ask to make: nothing else of it is ever put into a statement."""
_NO_TYPE = '"NULL"'
"""Type of a column that never had a value, as earlier programs stored it. What it holds now is text, and what
it should hold is known when the frame is read (``ingest.store.run_frames``)."""


def dump(connection: "Connection", path: Path, folder: Path) -> dict[str, Columns]:
    """Write every table into ``folder`` as NAME.parquet; its columns and their types by table."""
    applied(connection, path)
    tables: dict[str, Columns] = {}
    for table, column, kind in connection.execute(statement("table_columns")).fetchall():
        tables.setdefault(table, []).append((column, kind))
    for table in tables:
        sql = statement("rows_to_parquet", table=table)
        connection.execute(sql, {"file": str(folder / f"{table}.parquet")}).fetchall()
    return tables


def load(connection: "Connection", folder: Path, tables: dict[str, Columns], form: int) -> None:
    """Fill a database without tables from a dump of a store of that form, and bring it up to date.

    Raises
    ------
    StoreProblem : the dump asks for something that no store holds, or its rows do not fit.
    """
    bring_up_to_date(connection, until=form)
    _make_frames(connection, tables)
    for table in tables:
        if table != "migration":
            sql = statement("rows_from_parquet", table=table)
            connection.execute(sql, {"file": str(folder / f"{table}.parquet")}).fetchall()
    bring_up_to_date(connection)


def make_tables(connection: "Connection", tables: Mapping[str, Columns]) -> None:
    """The tables of a dump without their rows, in the present form; errors as :func:`load`."""
    bring_up_to_date(connection)
    _make_frames(connection, tables)


def count(connection: "Connection", table: str) -> int:
    """Rows of a table."""
    return int(connection.execute(f"SELECT count(*) FROM {_name(table)}").fetchall()[0][0])  # noqa: S608


def must_hold(connection: "Connection", rows: Mapping[str, int]) -> None:
    """StoreProblem if a table is missing or has another number of rows."""
    have = {row[0] for row in connection.execute(statement("table_columns")).fetchall()}
    other = [table for table in rows if table not in have or count(connection, table) != rows[table]]
    if other:
        raise StoreProblem(f"it does not hold as many rows of {other[0][:40]} as it says")


def _make_frames(connection: "Connection", tables: Mapping[str, Columns]) -> None:
    have = {row[0] for row in connection.execute(statement("table_columns")).fetchall()}
    for table, columns in tables.items():
        if table not in have:
            _make_frame(connection, table, columns)


def _make_frame(connection: "Connection", table: str, columns: Columns) -> None:
    """A table of frames of runs: their columns are those of the frames that were stored."""
    if not _FRAME.fullmatch(table):
        raise StoreProblem(f"The backup holds a table '{table[:40]}' that no store of milesleft has.")
    columns = [(name, "VARCHAR" if kind == _NO_TYPE else kind) for name, kind in columns]
    if not all(_TYPE.fullmatch(kind) for _, kind in columns):
        raise StoreProblem(
            f"The backup's table '{table}' has columns of kinds that no store of milesleft has."
        )
    listed = ", ".join(f'"{name.replace(chr(34), chr(34) * 2)}" {kind}' for name, kind in columns)
    connection.execute(f"CREATE TABLE {table} ({listed})").fetchall()


def _name(table: str) -> str:
    if not re.fullmatch(r"\w+", table):
        raise StoreProblem(f"'{table[:40]}' is not the name of a table.")
    return table
