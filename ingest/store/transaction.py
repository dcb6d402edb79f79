"""What one batch may do to the store: add rows, retract rows, hold rows back, settle them."""

import hashlib
from typing import Any, Protocol

import numpy as np
import pandas as pd
import pyarrow as pa

from ingest.schema import TABLES
from ingest.store.frames import to_arrow, to_pandas
from ingest.store.sql import statement


def name_of_picture(content: bytes) -> str:
    """The name that a picture has by its content, as the column ``picture`` has it: its SHA-256."""
    return hashlib.sha256(content).hexdigest()


class Result(Protocol):
    """What a statement gives."""

    def fetchall(self) -> list[Any]: ...
    def to_arrow_table(self) -> pa.Table: ...


class Connection(Protocol):
    """The part of a database connection that is used here."""

    def execute(self, query: str, parameters: object = ..., /) -> Result: ...
    def sql(self, query: str, *, params: object = ...) -> Result: ...
    def register(self, view_name: str, python_object: object, /) -> object: ...
    def unregister(self, view_name: str, /) -> object: ...


class Transaction:
    """An open batch. Made by ``Store.transaction``; everything is stored at its end or not at all.

    Attributes
    ----------
    batch : number of this batch, the data version that it makes.
    changed : whether anything was stored so far; a batch that stores nothing leaves no number behind.
    notes : what is kept of the batch beside what it is about.
    """

    def __init__(self, connection: Connection, batch: int) -> None:
        self._connection = connection
        self.batch = batch
        self.changed = False
        self.notes: dict[str, object] = {}

    @property
    def before(self) -> int:
        """Data version that this batch builds on."""
        return self.batch - 1

    def insert(self, table: str, rows: pd.DataFrame) -> None:
        """Add rows to a table of the contract; columns as stored, without row_id and batch."""
        if len(rows):
            numbered = self._numbered(rows, _known(table), "row_id")
            numbered = numbered.assign(batch=self.batch, brought_by=self.batch)
            self._with_incoming(numbered, statement("insert_rows", table=table))

    def retract(self, table: str, row_ids: pd.Series) -> None:
        """Let rows no longer hold from this batch on."""
        if len(row_ids):
            sql = statement("retract_rows", table=_known(table))
            self._with_incoming(pd.DataFrame({"row_id": row_ids}), sql, batch=self.batch)

    def replace(self, table: str, row_ids: pd.Series, rows: pd.DataFrame) -> None:
        """Retract rows of a table and add others in their place."""
        self.retract(table, row_ids)
        self.insert(table, rows)

    def keep_picture(self, content: bytes) -> str:
        """Keep the content of a picture, once; its name (:func:`name_of_picture`)."""
        picture = name_of_picture(content)
        bound = {"picture": picture, "content": content}
        self._connection.execute(statement("picture_add"), bound).fetchall()
        return picture

    def hold(self, rows: pd.DataFrame) -> None:
        """Keep rows back: table_name, source_file, source_sheet, source_row, raw (JSON), reasons (JSON).

        Those with an ``outcome`` are settled at once.
        """
        if len(rows):
            numbered = self._numbered(rows, "held", "held_id").assign(batch=self.batch)
            self._with_incoming(numbered.drop(columns="outcome"), statement("hold_rows"))
            settled = numbered.loc[numbered["outcome"] != "", ["held_id", "outcome"]]
            self.settle(settled.assign(reason="left out: no entry of the table", mended=""))

    def settle(self, rows: pd.DataFrame) -> None:
        """Record what became of held rows: held_id, outcome, reason, mended (JSON)."""
        if len(rows):
            self._with_incoming(rows.assign(batch=self.batch), statement("insert_rows", table="settled"))

    def undo(self, batch: int) -> int:
        """Retract what a batch brought and bring back what it retracted; number of rows concerned."""
        count = 0
        for table in TABLES:
            bound = {"batch": self.batch, "undone": batch}
            revived = self._count(statement("revive_rows", table=table), bound)
            count += revived + self._count(
                statement("retract_batch", table=table, origin="brought_by"), bound
            )
        for table in ("held", "settled"):
            sql = statement("retract_batch", table=table, origin="batch")
            count += self._count(sql, {"batch": self.batch, "undone": batch})
        self.changed = self.changed or count > 0
        return count

    def changed_since(self, batch: int) -> list[int]:
        """Later batches that changed rows which a batch brought, or settled rows that it held back."""
        found: set[int] = set()
        for table in TABLES:
            rows = self._connection.execute(
                statement("changed_since", table=table), {"undone": batch}
            ).fetchall()
            found |= {int(row[0]) for row in rows}
        rows = self._connection.execute(statement("settled_since"), {"undone": batch}).fetchall()
        return sorted(found | {int(row[0]) for row in rows})

    def batches(self) -> pd.DataFrame:
        """Commands that changed something; see ``Store.batches``."""
        return to_pandas(self._connection.sql(statement("batches")).to_arrow_table())

    def stored(self) -> dict[str, pd.DataFrame]:
        """Rows of every table that hold now, as they are kept; ``held`` and ``corrected`` among them."""
        return stored_rows(self._connection)

    def _count(self, sql: str, bound: dict[str, int]) -> int:
        return int(self._connection.execute(sql, bound).fetchall()[0][0])

    def _numbered(self, rows: pd.DataFrame, table: str, name: str) -> pd.DataFrame:
        """Rows with numbers that go on from the highest of the table."""
        sql = statement("highest", table=table, column=name)
        start = int(self._connection.execute(sql).fetchall()[0][0]) + 1
        return rows.assign(**{name: np.arange(start, start + len(rows))})

    def _with_incoming(self, rows: pd.DataFrame, sql: str, **bound: object) -> None:
        self._connection.register("incoming", to_arrow(rows))
        try:
            self._connection.execute(sql, bound or None).fetchall()
        finally:
            self._connection.unregister("incoming")
        self.changed = True


def stored_rows(connection: Connection) -> dict[str, pd.DataFrame]:
    """Rows of every table that hold now, in no order; the rows held back under ``held``; under ``corrected``
    readings, work and log entries as they stood before somebody corrected or withdrew them."""
    frames = {
        table: to_pandas(connection.sql(statement("rows_stored", table=table)).to_arrow_table())
        for table in TABLES
    }
    sql = statement("held_at_version")
    newest = {"version": 2**62}
    frames["corrected"] = to_pandas(connection.sql(statement("rows_corrected")).to_arrow_table())
    return frames | {"held": to_pandas(connection.sql(sql, params=newest).to_arrow_table())}


def _known(table: str) -> str:
    if table not in TABLES:
        raise KeyError(f"no table of the store: {table}")
    return table
