"""The store in parts: what a forecast needs of each run of wear points, as partitioned Parquet.

A folder ``TABLE/run=N/*.parquet`` for each table, the layout that DuckDB and others read as one table
(``read_parquet('TABLE/*/*.parquet', hive_partitioning = true)``); a part is small enough to hand to another
machine. Mileage is kept as the log has it and is counted on when a part is read (``ingest.store.mileage``),
as the store itself does.
"""

from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from ingest.store import mileage
from ingest.store.frames import to_arrow, to_pandas
from ingest.store.known_by import DAY_OF, KnownBy
from ingest.store.reading import EVERYTHING, LEAN
from ingest.store.sql import statement
from ingest.store.transaction import Connection

COLUMNS = {
    "wear_points": "row_id, point, vehicle, component, position, quantity, unit, new_value, shop_limit, "
    "condemning_limit, condemned_when, limit_source, gauge_sd, base_unit, per_base",
    "readings": "row_id, point, date, value, odometer_read, gauge, found_or_left",
    "work": "row_id, point, date, action, value_before, value_after, part_no",
    "vehicles": "row_id, vehicle, class, arrangement",
    "mileage": "row_id, vehicle, date, odometer_read, unit, service_days, distance, event",
    "usage": "row_id, vehicle, month, miles_planned, miles_sd",
    "gauges": "row_id, gauge, repeatability, accuracy, reads_high, since",
    "parts": "row_id, part_no, component, miles_before",
    "fittings": "row_id, part_no, vehicle, position, since, until, why",
}
"""What a forecast reads of each table."""
LAST_READ = "last_read"
"""The part that says how far all of a vehicle's wear points were read: vehicle, date, odometer_read."""
TOLD = "told"
"""The part that says what readings tell of their part: row_id, point, date, part_no, found_or_left."""
OF_POINTS = ("wear_points", "readings", "work")
OF_ALL = ("gauges", "parts", "fittings")
Raw = dict[str, bytes]
_TEXT, _DAY = pa.string(), pa.timestamp("us")
BESIDE = {
    LAST_READ: {"vehicle": _TEXT, "date": _DAY, "odometer_read": pa.float64()},
    TOLD: {"row_id": pa.int64(), "point": _TEXT, "date": _DAY, "part_no": _TEXT, "found_or_left": _TEXT},
}
"""Parts that are no tables of the store, and their columns."""


def write_parts(
    connection: Connection, folder: Path, runs: pd.DataFrame, version: int, known: KnownBy = EVERYTHING
) -> None:
    """Write the tables of a version into a folder, cut into runs of wear points.

    Parameters
    ----------
    folder : empty or missing.
    runs : point, vehicle, run (number, from 0). Wear points that are not named are left out. What belongs
        to a vehicle goes into each run that has one of its wear points.
    version : data version.
    known : rows of later days are left out.
    """
    connection.execute(statement("spare_memory")).fetchall()
    connection.register("runs", to_arrow(runs[["point", "vehicle", "run"]]))
    try:
        for table, columns in COLUMNS.items():
            (folder / table).mkdir(parents=True)
            empty = statement("part_empty", table=table, columns=columns)
            connection.execute(empty, {"file": str(folder / table / "empty.parquet")}).fetchall()
            of_all = "parts_of_all" if table in OF_ALL else "parts_of_vehicles"
            name = "parts_of_points" if table in OF_POINTS else of_all
            sql = statement(name, table=table, columns=columns, day=DAY_OF.get(table, "NULL"))
            bound = {"version": version, "folder": str(folder / table), "until": known.until(table)}
            connection.execute(sql, bound).fetchall()
        for name, beside in BESIDE.items():
            (folder / name).mkdir()
            pq.write_table(pa.schema(beside).empty_table(), folder / name / "empty.parquet")
            bound = {"version": version, "folder": str(folder / name), "until": known.day}
            connection.execute(statement(f"parts_{name}"), bound).fetchall()
    finally:
        connection.unregister("runs")


def read_part(folder: Path, run: int) -> dict[str, pd.DataFrame]:
    """The tables of a run as ``Store.read_for_models`` gives those of the whole store, in the order of their
    rows in the store: the miles counted on and every reading placed in them; ``last_read``: vehicle, date,
    odometer [mi] of the last readings of all of the vehicles' wear points; and ``TOLD``."""
    return _as_read({table: _rows(folder / table, run) for table in (*COLUMNS, *BESIDE)})


def pack_part(folder: Path, run: int) -> Raw:
    """One run as Arrow streams, by table: what is sent to whoever works it out elsewhere."""
    return {table: packed(_rows(folder / table, run)) for table in (*COLUMNS, *BESIDE)}


def unpack_part(raw: Raw) -> dict[str, pd.DataFrame]:
    """The tables of a run that was sent, as :func:`read_part` gives them."""
    return _as_read({table: unpacked(rows) for table, rows in raw.items()})


def _as_read(rows: dict[str, pa.Table]) -> dict[str, pd.DataFrame]:
    tables = {table: to_pandas(_in_order(part)) for table, part in rows.items()}
    log = mileage.carry_on(tables["mileage"])
    points = tables["wear_points"].sort_values(["point", "row_id"], kind="stable", ignore_index=True)
    readings = tables["readings"]
    vehicle = points.drop_duplicates("point").set_index("point")["vehicle"].reindex(readings["point"])
    placed = mileage.place(readings.assign(vehicle=vehicle.to_numpy()), log)
    readings = readings.join(placed)[LEAN]
    last = tables[LAST_READ]
    last = last[["vehicle", "date"]].join(mileage.place(last, log)["odometer"])
    return tables | {"wear_points": points, "mileage": log, "readings": readings, LAST_READ: last}


def _in_order(rows: pa.Table) -> pa.Table:
    """By ``row_id``; most come in order, and looking costs less than sorting."""
    if "row_id" not in rows.column_names:
        return rows
    number = rows["row_id"].to_numpy()
    return rows if (number[1:] > number[:-1]).all() else rows.sort_by("row_id")


def _rows(folder: Path, run: int) -> pa.Table:
    files = sorted((folder / f"run={run}").glob("*.parquet")) or [folder / "empty.parquet"]
    return pa.concat_tables([pq.ParquetFile(file).read() for file in files])


def packed(table: pa.Table) -> bytes:
    """An Arrow table as a compressed stream."""
    sink = pa.BufferOutputStream()
    options = pa.ipc.IpcWriteOptions(compression="lz4")
    with pa.ipc.new_stream(sink, table.schema, options=options) as stream:
        stream.write_table(table)
    return bytes(sink.getvalue())


def unpacked(stream: bytes) -> pa.Table:
    """The table that :func:`packed` packed."""
    with pa.ipc.open_stream(stream) as reader:
        return reader.read_all()
