"""The store: one DuckDB file. The only module that speaks to the database.

Each call opens the file, works and closes it, under the lock of ``ingest.store.locks``. Nothing is
overwritten:
rows are added and retracted by numbered batches, so the store can be read as it was at any version.
"""

import getpass
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal, Self

import duckdb
import pandas as pd

from ingest.errors import StoreBusy, StoreProblem
from ingest.schema import TABLES
from ingest.store import dump, migrate, mileage, partitioned, runs
from ingest.store.frames import to_arrow, to_pandas
from ingest.store.locks import locked
from ingest.store.sql import statement
from ingest.store.transaction import Transaction, stored_rows

WAIT_S = 30.0
"""How long a call waits for the store. [s] A batch of a million rows holds it for about two."""

# Nothing is fetched from anywhere: the store must behave the same on a machine without a network.
_CONFIG: dict[str, Any] = {"autoinstall_known_extensions": False, "autoload_known_extensions": False}


class Store:
    """A store by its path. Making one opens nothing.

    Parameters
    ----------
    path : the DuckDB file; it is made by the first write.
    wait_s : longest wait for other users of the file. [s]
    """

    def __init__(self, path: Path | str, wait_s: float = WAIT_S) -> None:
        self.path = Path(path)
        self.wait_s = wait_s
        self._over: duckdb.DuckDBPyConnection | None = None

    @contextmanager
    def at_once(self) -> Iterator[Self]:
        """The store for reads that follow each other: they share one opening and see one state.

        Nobody can write meanwhile, so what takes long does not belong into the block.
        """
        with self._reading() as connection:
            store = type(self)(self.path, self.wait_s)
            store._over = connection
            yield store

    def version(self) -> int:
        """Data version: the highest batch number; 0 for a store that does not exist yet.

        Raises
        ------
        StoreBusy, StoreProblem : the store cannot be opened.
        """
        if not self.path.exists():
            return 0
        with self._reading() as connection:
            return _version(connection)

    def read(self, table: str, version: int | None = None) -> pd.DataFrame:
        """A table of the contract as it was at a version.

        Parameters
        ----------
        table : a key of ``ingest.schema.TABLES``.
        version : data version; None for the latest.

        Returns
        -------
        Frame with the public and internal columns of the table, then row_id, batch, source_file,
        source_sheet, source_row; sorted by the key. Base units: mm for lengths, otherwise the point's own;
        distances in miles.

        Raises
        ------
        StoreBusy, StoreProblem : the store cannot be opened.
        """
        with self._reading() as connection:
            return _read(connection, table, _version(connection) if version is None else version)

    def read_all(self, *tables: str, version: int | None = None) -> dict[str, pd.DataFrame]:
        """Several tables (all of them if none is named) as they were at one and the same version."""
        with self._reading() as connection:
            at = _version(connection) if version is None else version
            return {table: _read(connection, table, at) for table in tables or tuple(TABLES)}

    def read_for_models(self, *tables: str, version: int | None = None) -> dict[str, pd.DataFrame]:
        """As :meth:`read_all`, but of readings only point, date, value, odometer, odometer_sd, in no order.

        A million readings are read in a third of the time: their texts are what takes it.
        """
        with self._reading() as connection:
            at = _version(connection) if version is None else version
            found = {table: _read(connection, table, at) for table in tables if table != "readings"}
            if "readings" in tables:
                log = found["mileage"] if "mileage" in tables else _read(connection, "mileage", at)
                found["readings"] = _lean_readings(connection, log, at)
            return found

    def points_read(self, since: int, version: int | None = None) -> list[str]:
        """Wear points of which batches after ``since`` brought readings that hold at a version."""
        with self._reading() as connection:
            at = _version(connection) if version is None else version
            found = _query(connection, statement("points_read"), since=since, version=at)
            return [str(point) for point in found["point"]]

    def read_of_points(
        self, points: Sequence[str], *tables: str, since: int = 0, version: int | None = None
    ) -> dict[str, pd.DataFrame]:
        """As :meth:`read_all`, only the rows of some wear points; each table needs a column ``point``.

        Parameters
        ----------
        since : of readings and work, only what later batches brought.
        """
        with self._reading() as connection:
            at = _version(connection) if version is None else version
            connection.register("wanted", runs.wanted(points))
            return {table: _of_points(connection, table, since, at) for table in tables}

    def last_readings(self, points: Sequence[str], version: int | None = None) -> pd.DataFrame:
        """Readings of the last day of each of some wear points: point, date, value [base unit]."""
        with self._reading() as connection:
            at = _version(connection) if version is None else version
            connection.register("wanted", runs.wanted(points))
            return _query(connection, statement("last_readings"), version=at)

    def stored(self) -> tuple[int, dict[str, pd.DataFrame]]:
        """Version, and the rows of every table that hold now, as they are kept; ``held`` among them.

        Makes the store if it does not exist.
        """
        if not self.path.exists():
            with self._writing():
                pass
        with self._reading() as connection:
            return _version(connection), stored_rows(connection)

    def stored_at(self, version: int | None = None) -> dict[str, pd.DataFrame]:
        """Rows of every table as they are kept, and ``held``, as they were at a version."""
        with self._reading() as connection:
            at = _version(connection) if version is None else version
            frames = {table: _rows(connection, table, at) for table in TABLES}
            return frames | {"held": _query(connection, statement("held_at_version"), version=at)}

    def held(self, version: int | None = None) -> pd.DataFrame:
        """Rows held back up to a version and what became of them; ``outcome`` is empty while a row waits."""
        with self._reading() as connection:
            at = _version(connection) if version is None else version
            return _query(connection, statement("held_at_version"), version=at)

    def batches(self) -> pd.DataFrame:
        """Commands that changed something: batch, made_at (UTC), who, command, about (JSON); newest first."""
        with self._reading() as connection:
            return _query(connection, statement("batches"))

    def save_run(self, kind: str, about: Mapping[str, Any], frames: Mapping[str, pd.DataFrame]) -> str:
        """Store the frames of a run as they are given.

        Parameters
        ----------
        kind : forecast, score, plan or case.
        about : what the run was made from and how; ``as_of`` and ``data_version`` are kept as columns too
            (the store's present version where ``data_version`` is not told).
        frames : name -> frame; cells may be numbers, texts, dates, or lists of numbers.

        Returns
        -------
        str : the run's id.
        """
        run_id = runs.new_id(kind)
        arrows = {name: to_arrow(frame) for name, frame in frames.items()}
        with self._writing() as connection:
            version = about.get("data_version", _version(connection))
            runs.save(connection, (run_id, kind, int(version)), dict(about), arrows)
        return run_id

    def save_run_files(self, kind: str, about: Mapping[str, Any], files: Mapping[str, list[Path]]) -> str:
        """As :meth:`save_run`, each frame from Parquet files of one schema: for runs that are large."""
        run_id = runs.new_id(kind)
        with self._writing() as connection:
            version = about.get("data_version", _version(connection))
            runs.save_files(connection, (run_id, kind, int(version)), dict(about), dict(files))
        return run_id

    def points(self, version: int | None = None) -> int:
        """How many wear points there are."""
        with self._reading() as connection:
            at = _version(connection) if version is None else version
            return int(connection.execute(statement("points_at_version"), {"version": at}).fetchall()[0][0])

    def family_keys(self, version: int | None = None) -> tuple[pd.DataFrame, pd.DataFrame]:
        """What tells the families: point, vehicle, component, position, quantity, base_unit; the vehicles."""
        with self._reading() as connection:
            at = _version(connection) if version is None else version
            return _query(connection, statement("family_keys"), version=at), _read(connection, "vehicles", at)

    def write_parts(self, folder: Path, runs: pd.DataFrame, version: int) -> None:
        """What a forecast needs, as Parquet partitioned by runs of wear points
        (:mod:`ingest.store.partitioned`).

        Parameters
        ----------
        runs : point, vehicle, run (number, from 0); wear points that are not named are left out.
        """
        with self._reading() as connection:
            partitioned.write_parts(connection, folder, runs, version)

    def runs(self, kind: str) -> pd.DataFrame:
        """Runs of a kind: run_id, kind, made_at (UTC), data_version, as_of, about (JSON); newest first."""
        if not self.path.exists():
            return pd.DataFrame(columns=["run_id", "kind", "made_at", "data_version", "as_of", "about"])
        with self._reading() as connection:
            return _query(connection, statement("runs"), kind=kind)

    def read_run(self, run_id: str, name: str, point: str | Sequence[str] | None = None) -> pd.DataFrame:
        """A frame of a run as it was given; with ``point``, only the rows of that wear point, or of those.

        Raises
        ------
        StoreProblem : there is no such run or frame.
        """
        with self._reading() as connection:
            return to_pandas(runs.read(connection, run_id, name, point))

    @contextmanager
    def transaction(
        self, command: str, who: str = "", about: Mapping[str, Any] | None = None
    ) -> Iterator[Transaction]:
        """One batch: everything done in the block is stored at its end, or nothing if it raises.

        Parameters
        ----------
        command : what is being done: add, mend, undo, ...
        who : who does it; the user of this process if empty.
        about : anything worth keeping about it.
        """
        with self._writing() as connection:
            batch = Transaction(connection, _version(connection) + 1)
            yield batch
            if batch.changed:
                row = (batch.batch, now(), who or this_user(), command, json.dumps(about or {}, default=str))
                connection.execute("INSERT INTO batch VALUES (?, ?, ?, ?, ?)", row)

    def dump_to(self, folder: Path) -> dict[str, Any]:
        """Every table as a Parquet file into a folder; form, version, tables (columns and types) and rows."""
        with self._reading() as connection:
            tables = dump.dump(connection, self.path, folder)
            rows = {table: dump.count(connection, table) for table in tables}
            return {"form": migrate.latest(), "version": _version(connection), "tables": tables, "rows": rows}

    def load_from(self, folder: Path, about: Mapping[str, Any], *, replace: bool = False) -> None:
        """Make this store from what :meth:`dump_to` wrote; one that is there is kept as ``.before-restore``.

        Raises
        ------
        StoreProblem : a store is there and is not to be replaced; the dump is of a newer form, does not fit.
        """
        if about["form"] > migrate.latest():
            raise StoreProblem("The backup was made by a newer milesleft. Use that, or a newer one.")
        with locked(self.path, "write", self.wait_s):
            if self.path.exists() and not replace:
                raise StoreProblem(f"The store '{self.path}' exists. --replace puts the backup in its place.")
            with migrate.new_file(self.path) as fresh:
                self._load(fresh, folder, about)
                self._keep_aside()

    def _keep_aside(self) -> None:
        """A second name for the file that is there, which the next one will be put in the place of."""
        if self.path.exists():
            with self._connected("write"):
                pass  # opening and closing writes the log of changes into the file
            aside = self.path.with_name(self.path.name + ".before-restore")
            aside.unlink(missing_ok=True)
            os.link(self.path, aside)
        self.path.with_name(self.path.name + ".wal").unlink(missing_ok=True)

    def _load(self, fresh: Path, folder: Path, about: Mapping[str, Any]) -> None:
        connection = duckdb.connect(str(fresh), config=_CONFIG)
        try:
            tables = {name: [(c, k) for c, k in columns] for name, columns in about["tables"].items()}
            dump.load(connection, folder, tables, about["form"])
            short = [name for name, rows in about["rows"].items() if dump.count(connection, name) < rows]
            if short:
                raise StoreProblem(
                    f"The backup holds fewer rows of {short[0]} than it says. Use another backup."
                )
        except duckdb.Error as error:
            raise StoreProblem(f"The backup does not fit: {str(error).splitlines()[0][:200]}") from None
        finally:
            connection.close()

    @contextmanager
    def _reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        if self._over is not None:
            yield self._over
            return
        self._must_exist()
        with self._opened("read") as connection:
            number = migrate.applied(connection, self.path)
            if number == migrate.latest():
                yield connection
                return
        with self._writing():  # brings an older store up to date
            pass
        with self._opened("read") as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[duckdb.DuckDBPyConnection]:
        if not self.path.parent.is_dir():
            raise StoreProblem(
                f"There is no folder '{self.path.parent}' to keep the store in. Make it first."
            )
        with locked(self.path, "write", self.wait_s):
            if not self.path.exists():
                self._keep_aside()
                self._make()
            with self._connected("write") as connection:
                if migrate.applied(connection, self.path) < migrate.latest():
                    migrate.bring_up_to_date(connection)
                connection.begin()
                try:
                    yield connection
                except BaseException:
                    connection.rollback()
                    raise
                connection.commit()

    def _make(self) -> None:
        with migrate.new_file(self.path) as fresh:
            connection = duckdb.connect(str(fresh), config=_CONFIG)
            try:
                migrate.bring_up_to_date(connection)
            finally:
                connection.close()

    @contextmanager
    def _opened(self, mode: Literal["read", "write"]) -> Iterator[duckdb.DuckDBPyConnection]:
        with locked(self.path, mode, self.wait_s), self._connected(mode) as connection:
            yield connection

    @contextmanager
    def _connected(self, mode: Literal["read", "write"]) -> Iterator[duckdb.DuckDBPyConnection]:
        try:
            connection = duckdb.connect(str(self.path), read_only=mode == "read", config=_CONFIG)
        except duckdb.Error as error:
            raise _translated(error, self.path) from None
        try:
            yield connection
        finally:
            connection.close()

    def _must_exist(self) -> None:
        if not self.path.exists():
            raise StoreProblem(
                f"There is no store '{self.path}'. 'milesleft add' with your files makes it; "
                "--db or MILESLEFT_DB names another."
            )


def now() -> datetime:
    """The present instant, UTC, without a time zone, as the store keeps it."""
    return datetime.now(UTC).replace(tzinfo=None)


def this_user() -> str:
    """Name of the user of this process, for the record of who changed what."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return f"user {os.getuid()}"


def _version(connection: duckdb.DuckDBPyConnection) -> int:
    return int(connection.execute("SELECT coalesce(max(batch), 0) FROM batch").fetchall()[0][0])


def _query(connection: duckdb.DuckDBPyConnection, sql: str, **bound: object) -> pd.DataFrame:
    return to_pandas(connection.sql(sql, params=bound).to_arrow_table())


def _read(connection: duckdb.DuckDBPyConnection, table: str, version: int) -> pd.DataFrame:
    if table == "readings":
        rows = _query(connection, statement("readings_at_version"), version=version)
        log = mileage.carry_on(_rows(connection, "mileage", version))
        rows = rows.join(mileage.place(rows, log)).drop(columns="vehicle")
    else:
        rows = _rows(connection, table, version)
        rows = mileage.carry_on(rows) if table == "mileage" else rows
    names = [column.name for column in TABLES[table].all_columns]
    return rows[names + [name for name in rows.columns if name not in names]]


def _of_points(connection: duckdb.DuckDBPyConnection, table: str, since: int, version: int) -> pd.DataFrame:
    """Rows of a table of the wear points in the registered frame ``wanted``."""
    rows = _picked(connection, table, 0 if table == "wear_points" else since, version)
    if table != "readings":
        return rows
    points = _picked(connection, "wear_points", 0, version).drop_duplicates("point", keep="last")
    vehicle = rows["point"].map(points.set_index("point")["vehicle"]).fillna("").astype("str")
    log = _rows(connection, "mileage", version)
    log = mileage.carry_on(log[log["vehicle"].isin(vehicle.unique())].reset_index(drop=True))
    return rows.join(mileage.place(rows.assign(vehicle=vehicle), log))


def _picked(connection: duckdb.DuckDBPyConnection, table: str, since: int, version: int) -> pd.DataFrame:
    sql = statement("rows_of_points", table=table, key=", ".join(TABLES[table].key))
    return _query(connection, sql, since=since, version=version)


def _lean_readings(connection: duckdb.DuckDBPyConnection, log: pd.DataFrame, version: int) -> pd.DataFrame:
    rows = _query(connection, statement("readings_for_models"), version=version)
    placed = mileage.place(rows, log)
    return rows[["point", "date", "value"]].join(placed[["odometer", "odometer_sd"]])


def _rows(connection: duckdb.DuckDBPyConnection, table: str, version: int) -> pd.DataFrame:
    key = ", ".join(TABLES[table].key)
    return _query(connection, statement("rows_at_version", table=table, key=key), version=version)


def _translated(error: duckdb.Error, path: Path) -> Exception:
    text = str(error)
    if "lock" in text.lower():
        return StoreBusy(
            f"The store '{path}' is held open by another program ({text.split('.')[0]}). "
            "Close it there and try again."
        )
    if isinstance(error, duckdb.IOException | duckdb.InvalidInputException | duckdb.SerializationException):
        return StoreProblem(
            f"'{path}' cannot be opened as a store: {text.splitlines()[0][:200]} "
            "If it is a damaged store, restore the last backup ('milesleft restore')."
        )
    return error
