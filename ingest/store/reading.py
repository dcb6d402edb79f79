"""What reads give: rows of a version, with the miles of log and readings counted on.

Every function takes an open connection and a data version.
"""

from collections.abc import Sequence

import pandas as pd

from ingest.errors import StoreProblem
from ingest.names.points import by_point
from ingest.schema import TABLES
from ingest.store import mileage
from ingest.store.frames import to_pandas
from ingest.store.known_by import KnownBy
from ingest.store.sql import statement
from ingest.store.transaction import Connection

LEAN = [
    "row_id",
    "point",
    "date",
    "value",
    "odometer",
    "odometer_sd",
    "odometer_source",
    "gauge",
    "found_or_left",
]
"""What the models read of a reading."""
EVERYTHING = KnownBy()


def newest_version(connection: Connection) -> int:
    """Highest batch number; 0 before the first batch."""
    return int(connection.execute("SELECT coalesce(max(batch), 0) FROM batch").fetchall()[0][0])


def query(connection: Connection, name: str, **bound: object) -> pd.DataFrame:
    """Rows that a statement without placeholders for names gives."""
    return to_pandas(connection.sql(statement(name), params=bound).to_arrow_table())


def table_at(connection: Connection, table: str, version: int, known: KnownBy = EVERYTHING) -> pd.DataFrame:
    """A table of the contract, its columns first; see ``Store.read``."""
    if table == "readings":
        rows = known.rows(table, query(connection, "readings_at_version", version=version))
        log = mileage.carry_on(known.rows("mileage", kept_rows(connection, "mileage", version)))
        rows = rows.join(mileage.place(rows, log)).drop(columns="vehicle")
    else:
        rows = known.rows(table, kept_rows(connection, table, version))
        rows = mileage.carry_on(rows) if table == "mileage" else rows
    names = [column.name for column in TABLES[table].all_columns]
    return rows[names + [name for name in rows.columns if name not in names]]


def kept_rows(connection: Connection, table: str, version: int) -> pd.DataFrame:
    """Rows of a table as they are kept, nothing computed."""
    key = ", ".join(TABLES[table].key)
    sql = statement("rows_at_version", table=table, key=key)
    return to_pandas(connection.sql(sql, params={"version": version}).to_arrow_table())


def batch_counts(connection: Connection) -> pd.DataFrame:
    """Rows of each batch; see ``Store.batch_counts``."""
    parts = [
        to_pandas(connection.sql(statement("batch_rows", table=table)).to_arrow_table()) for table in TABLES
    ]
    counts = pd.concat([*parts, query(connection, "batch_held")]).fillna(0).astype("int64")
    return counts.groupby("batch").sum()


def rows_of_batch(connection: Connection, table: str, batch: int) -> pd.DataFrame:
    """Rows of a table that a batch brought."""
    sql = statement("rows_of_batch", table=table)
    return to_pandas(connection.sql(sql, params={"batch": batch}).to_arrow_table())


def lean_readings(
    connection: Connection, log: pd.DataFrame, version: int, known: KnownBy = EVERYTHING
) -> pd.DataFrame:
    """``LEAN`` of all readings; `log` as ``mileage.carry_on`` gives it."""
    rows = known.rows("readings", query(connection, "readings_for_models", version=version))
    placed = mileage.place(rows, log)
    return rows.join(placed)[LEAN]


def told_readings(connection: Connection, version: int, known: KnownBy = EVERYTHING) -> pd.DataFrame:
    """Readings that name their part, or say that they are as found or as left: row_id, point, date, part_no,
    found_or_left."""
    return known.rows("readings", query(connection, "readings_told", version=version))


_SAYS = {
    "readings": ("value_text", "value"),
    "defects": ("defect", "defect"),
    "pictures": ("picture", "picture"),
}
"""Column that an entry of a device is known again by, as it is stored and as it was handed in."""


def entries_of(connection: Connection, table: str, client_ids: Sequence[str]) -> pd.DataFrame:
    """What ever came in under numbers that devices gave; see ``Store.entries_of``."""
    column, cell = _SAYS[table]
    sql = statement("entries_of", table=table, column=column, cell=cell)
    connection.register("wanted", pd.DataFrame({"client_id": pd.Series(client_ids, dtype="str")}))
    return to_pandas(connection.sql(sql).to_arrow_table())


def picture(connection: Connection, picture: str) -> bytes:
    """Content of a picture; StoreProblem if there is none."""
    found = connection.execute(statement("picture"), {"picture": picture}).fetchall()
    if not found:
        raise StoreProblem(f"The store holds no picture '{picture[:80]}'. Its file was never handed in.")
    return bytes(found[0][0])


def rows_of_points(connection: Connection, table: str, since: int, version: int) -> pd.DataFrame:
    """Rows that batches after `since` brought, of the wear points in the registered frame ``wanted``.

    Of the table wear_points all rows, whatever brought them.
    """
    rows = _picked(connection, table, 0 if table == "wear_points" else since, version)
    if table != "readings":
        return rows
    points = by_point(_picked(connection, "wear_points", 0, version))
    vehicle = rows["point"].map(points["vehicle"]).fillna("").astype("str")
    log = kept_rows(connection, "mileage", version)
    log = mileage.carry_on(log[log["vehicle"].isin(vehicle.unique())].reset_index(drop=True))
    return rows.join(mileage.place(rows.assign(vehicle=vehicle), log))


def _picked(connection: Connection, table: str, since: int, version: int) -> pd.DataFrame:
    sql = statement("rows_of_points", table=table, key=", ".join(TABLES[table].key))
    bound = {"since": since, "version": version}
    return to_pandas(connection.sql(sql, params=bound).to_arrow_table())
