"""Runs in the store: frames of results kept as they were given.

Frames of one name and shape (names and types of their columns) share one table, so that a thousand runs do
not make thousands of tables, and a run or one wear point of it is read without touching the others.
"""

import hashlib
import json
import secrets
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pyarrow as pa

from ingest.errors import StoreProblem
from ingest.neutral import harmless
from ingest.store.run_frames import as_declared, missing_frames
from ingest.store.sql import statement
from ingest.store.transaction import Connection

ROW_GROUP = 122_880
"""Rows that DuckDB keeps and compresses together."""
ROWS_AT_ONCE = 10 * ROW_GROUP
"""Rows of files that are read at once, at least."""


def new_id(kind: str) -> str:
    """An id that sorts by time within a kind and is not met twice."""
    return f"{kind}-{datetime.now(UTC):%Y%m%dT%H%M%S%f}-{secrets.token_hex(3)}"


def save(
    connection: Connection, run: tuple[str, str, int], about: dict[str, Any], frames: dict[str, pa.Table]
) -> None:
    """Store a run, given as (id, kind, data version), and its frames within the open transaction."""
    _add_run(connection, run, about)
    kind = run[1]
    for name, frame in (frames | missing_frames(kind, list(frames))).items():
        declared = as_declared(kind, name, frame)
        _name_frame(connection, run[0], name, _save_frame(connection, run[0], name, declared))


def save_files(
    connection: Connection, run: tuple[str, str, int], about: dict[str, Any], files: dict[str, list[Path]]
) -> None:
    """As :func:`save`, each frame from Arrow files of one schema, one after the other."""
    connection.execute(statement("spare_memory")).fetchall()
    _add_run(connection, run, about)
    for name, parts in files.items():
        with pa.ipc.open_file(str(parts[0])) as first:
            schema = as_declared(run[1], name, first.schema.empty_table()).schema
            rows = pa.RecordBatchReader.from_batches(schema, _in_row_groups(parts, run[1], name))
        _name_frame(connection, run[0], name, _save_frame(connection, run[0], name, rows))
    for name, frame in missing_frames(run[1], list(files)).items():
        _name_frame(connection, run[0], name, _save_frame(connection, run[0], name, frame))


def _in_row_groups(parts: Iterable[Path], kind: str, name: str) -> Iterator[pa.RecordBatch]:
    """The rows of Arrow files in batches as large as DuckDB keeps rows together, of the declared kinds.

    As the files have them they would take half as long again and up to twice the room. A stream, because
    DuckDB holds a whole table until the transaction ends.
    """
    waiting: list[pa.Table] = []
    for part in parts:
        with pa.memory_map(str(part)) as source, pa.ipc.open_file(source) as reader:
            waiting.append(as_declared(kind, name, reader.read_all()))
        if sum(map(len, waiting)) >= ROWS_AT_ONCE:
            whole = pa.concat_tables(waiting).combine_chunks()
            full = len(whole) - len(whole) % ROW_GROUP
            waiting = [whole.slice(full)]
            yield from whole.slice(0, full).to_batches(max_chunksize=ROW_GROUP)
            del whole
    yield from pa.concat_tables(waiting).combine_chunks().to_batches(max_chunksize=ROW_GROUP)


def _add_run(connection: Connection, run: tuple[str, str, int], about: dict[str, Any]) -> None:
    run_id, kind, version = run
    made_at = datetime.now(UTC).replace(tzinfo=None)
    row = {"run_id": run_id, "kind": kind, "made_at": made_at, "data_version": version}
    row |= {"as_of": str(about.get("as_of", "")), "about": json.dumps(harmless(about), default=str)}
    connection.execute(statement("run_add"), row).fetchall()


def _name_frame(connection: Connection, run_id: str, name: str, table: str) -> None:
    connection.execute("INSERT INTO run_frame VALUES (?, ?, ?)", [run_id, name, table]).fetchall()


def read(connection: Connection, run_id: str, name: str, point: str | Sequence[str] | None) -> pa.Table:
    """Rows of a stored frame: all, those of one wear point, or those of several.

    Raises
    ------
    StoreProblem : there is no such run or frame.
    """
    bound = {"run_id": run_id, "name": name}
    found = connection.execute(statement("run_frame_at"), bound).fetchall()
    if not found:
        raise StoreProblem(f"The store holds no '{name}' of '{run_id}'. Make the forecast or plan again.")
    table, kind = found[0]
    return as_declared(kind, name, _rows(connection, run_id, table, point))


def _rows(connection: Connection, run_id: str, table: str, point: str | Sequence[str] | None) -> pa.Table:
    if point is None:
        sql, bound = statement("run_rows", table=table), {"run_id": run_id}
    elif not isinstance(point, str):
        connection.register("wanted", wanted(point))
        try:
            sql = statement("run_rows_of_points", table=table)
            return connection.sql(sql, params={"run_id": run_id}).to_arrow_table()
        finally:
            connection.unregister("wanted")
    else:
        sql = statement("run_rows_of_point", table=table)
        bound = {"run_id": run_id, "point": point}
    return connection.sql(sql, params=bound).to_arrow_table()


def wanted(points: Sequence[str]) -> pa.Table:
    """Wear points as the frame by which rows are picked."""
    return pa.table({"point": pa.array(list(points), pa.string())})


def _save_frame(
    connection: Connection, run_id: str, name: str, frame: pa.Table | pa.RecordBatchReader
) -> str:
    shape = json.dumps([name, *([field.name, str(field.type)] for field in frame.schema)])
    table = "frame_" + hashlib.sha256(shape.encode()).hexdigest()[:16]
    connection.register("incoming", frame)
    try:
        made = connection.execute(statement("table_exists"), {"table": table}).fetchall()
        sql = "run_frame_append" if made else "run_frame_make"
        connection.execute(statement(sql, table=table), {"run_id": run_id}).fetchall()
    finally:
        connection.unregister("incoming")
    return table
