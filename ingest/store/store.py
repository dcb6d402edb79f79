"""The store: one DuckDB file, and everything that is asked of it.

Nothing is overwritten: rows are added and retracted by numbered batches, so the store can be read as it was
at any version. ``ingest.store.opening`` opens the file, ``ingest.store.reading`` gives the rows.
"""

import getpass
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self

import pandas as pd

from ingest.neutral import harmless
from ingest.schema import TABLES
from ingest.store import decisions, dump, migrate, partitioned, reading, runs
from ingest.store.frames import to_arrow, to_pandas
from ingest.store.known_by import known_by
from ingest.store.opening import DatabaseFile
from ingest.store.sql import statement
from ingest.store.transaction import Connection, Transaction, stored_rows

WAIT_S = 30.0
"""How long a call waits for the store. [s] A batch of a million rows holds it for about two."""


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
        self._file = DatabaseFile(self.path, wait_s)

    @contextmanager
    def at_once(self) -> Iterator[Self]:
        """The store for reads that follow each other: they share one opening and see one state.

        Nobody can write meanwhile, so what takes long does not belong into the block.
        """
        with self._file.reading() as connection:
            store = type(self)(self.path, self.wait_s)
            store._file.shared = connection
            yield store

    def version(self) -> int:
        """Data version: the highest batch number; 0 for a store that does not exist yet.

        Raises
        ------
        StoreBusy, StoreProblem : the store cannot be opened.
        """
        if not self.path.exists():
            return 0
        with self._file.reading() as connection:
            return reading.newest_version(connection)

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
        with self._at(version) as (connection, number):
            return reading.table_at(connection, table, number)

    def read_all(self, *tables: str, version: int | None = None) -> dict[str, pd.DataFrame]:
        """Several tables (all of them if none is named) as they were at one and the same version."""
        with self._at(version) as (connection, number):
            return {table: reading.table_at(connection, table, number) for table in tables or tuple(TABLES)}

    def read_for_models(
        self, *tables: str, version: int | None = None, until: pd.Timestamp | None = None
    ) -> dict[str, pd.DataFrame]:
        """As :meth:`read_all`, but of readings only ``reading.LEAN``, in no order; with the table fittings
        also ``told``: what readings tell of their part (:func:`ingest.store.reading.told_readings`).

        A million readings are read in a third of the time: their texts are what takes it.

        Parameters
        ----------
        until : only what was known on the evening of that day (:mod:`ingest.store.known_by`), miles counted
            from that alone; None: everything.
        """
        with self._at(version) as (connection, number):
            known = known_by(connection, until, number)
            whole = {"mileage" if table == "readings" else table for table in tables}
            frames = {table: reading.table_at(connection, table, number, known) for table in whole}
            if "readings" in tables:
                frames["readings"] = reading.lean_readings(connection, frames["mileage"], number, known)
            asked = {table: frames[table] for table in tables}
            if "fittings" in tables:
                asked["told"] = reading.told_readings(connection, number, known)
            return asked

    def read_blind(self, version: int | None = None, until: pd.Timestamp | None = None) -> pd.DataFrame:
        """Readings typed with their gauge before anything was shown; columns in ``sql/read_blind.sql``.

        ``until``: only readings of days up to that one; None: all.
        """
        with self._at(version) as (connection, number):
            return reading.query(connection, "read_blind", version=number, until=until)

    def points_read(self, since: int, version: int | None = None) -> list[str]:
        """Wear points with readings that batches after ``since`` brought and that hold at a version."""
        with self._at(version) as (connection, number):
            found = reading.query(connection, "points_read", since=since, version=number)
            return [str(point) for point in found["point"]]

    def read_of_points(
        self, points: Sequence[str], *tables: str, since: int = 0, version: int | None = None
    ) -> dict[str, pd.DataFrame]:
        """As :meth:`read_all`, only the rows of some wear points; each table needs a column ``point``.

        Parameters
        ----------
        since : of readings and work, only what later batches brought.
        """
        with self._at(version) as (connection, number):
            connection.register("wanted", runs.wanted(points))
            return {table: reading.rows_of_points(connection, table, since, number) for table in tables}

    def last_readings(self, points: Sequence[str], version: int | None = None) -> pd.DataFrame:
        """Readings of the last day of each of some wear points: point, date, value [base unit]."""
        with self._at(version) as (connection, number):
            connection.register("wanted", runs.wanted(points))
            return reading.query(connection, "last_readings", version=number)

    def stored(self) -> tuple[int, dict[str, pd.DataFrame]]:
        """Version, and the rows of every table that hold now, as they are kept; ``held`` among them.

        Makes the store if it does not exist.
        """
        if not self.path.exists():
            with self._file.writing():
                pass
        with self._file.reading() as connection:
            return reading.newest_version(connection), stored_rows(connection)

    def stored_at(self, version: int | None = None) -> dict[str, pd.DataFrame]:
        """Rows of every table as they are kept, and ``held``, as they were at a version."""
        with self._at(version) as (connection, number):
            frames = {table: reading.kept_rows(connection, table, number) for table in TABLES}
            return frames | {"held": reading.query(connection, "held_at_version", version=number)}

    def held(self, version: int | None = None) -> pd.DataFrame:
        """Rows held back up to a version and what became of them; ``outcome`` is empty while a row waits."""
        with self._at(version) as (connection, number):
            return reading.query(connection, "held_at_version", version=number)

    def batches(self) -> pd.DataFrame:
        """Commands that changed something: batch, made_at (UTC), who, command, about (JSON); newest first."""
        with self._file.reading() as connection:
            return reading.query(connection, "batches")

    def batch_counts(self) -> pd.DataFrame:
        """Rows of each batch, by batch: brought, hold (of these, now), taken (back), held, settled."""
        with self._file.reading() as connection:
            return reading.batch_counts(connection)

    def rows_of_batch(self, batch: int) -> dict[str, pd.DataFrame]:
        """Rows that a batch brought, by table, as they are kept; ``holds``: whether they do now."""
        with self._file.reading() as connection:
            tables = {table: reading.rows_of_batch(connection, table, batch) for table in TABLES}
            return {table: rows for table, rows in tables.items() if len(rows)}

    def save_run(self, kind: str, about: Mapping[str, Any], frames: Mapping[str, pd.DataFrame]) -> str:
        """Store the frames of a run as they are given.

        Parameters
        ----------
        kind : forecast, score, plan, case, shared or round (a printed sheet of readings to take).
        about : what the run was made from and how; ``as_of`` and ``data_version`` are kept as columns too
            (the store's present version where ``data_version`` is not given).
        frames : name -> frame; cells may be numbers, texts, dates, or lists of numbers.

        Returns
        -------
        str : the run's id.
        """
        run_id = runs.new_id(kind)
        arrows = {name: to_arrow(frame) for name, frame in frames.items()}
        with self._file.writing() as connection:
            version = about.get("data_version", reading.newest_version(connection))
            runs.save(connection, (run_id, kind, int(version)), dict(about), arrows)
        return run_id

    def save_run_files(self, kind: str, about: Mapping[str, Any], files: Mapping[str, list[Path]]) -> str:
        """As :meth:`save_run`, each frame from Parquet files of one schema: for runs that are large."""
        run_id = runs.new_id(kind)
        with self._file.writing() as connection:
            version = about.get("data_version", reading.newest_version(connection))
            runs.save_files(connection, (run_id, kind, int(version)), dict(about), dict(files))
        return run_id

    def points(self, version: int | None = None) -> int:
        """How many wear points there are."""
        with self._at(version) as (connection, number):
            counted = connection.execute(statement("points_at_version"), {"version": number}).fetchall()
            return int(counted[0][0])

    def family_keys(self, version: int | None = None) -> tuple[pd.DataFrame, pd.DataFrame]:
        """What makes families: point, vehicle, component, position, quantity, base_unit, limit_source; the
        vehicles."""
        with self._at(version) as (connection, number):
            keys = reading.query(connection, "family_keys", version=number)
            return keys, reading.table_at(connection, "vehicles", number)

    def write_parts(
        self, folder: Path, runs: pd.DataFrame, version: int, until: pd.Timestamp | None = None
    ) -> None:
        """What a forecast needs, as Parquet partitioned by runs of wear points
        (:mod:`ingest.store.partitioned`).

        Parameters
        ----------
        runs : point, vehicle, run (number, from 0); wear points that are not named are left out.
        until : as :meth:`read_for_models` takes it.
        """
        with self._file.reading() as connection:
            partitioned.write_parts(connection, folder, runs, version, known_by(connection, until, version))

    def runs(self, kind: str) -> pd.DataFrame:
        """Runs of a kind: run_id, kind, made_at (UTC), data_version, as_of, about (JSON); newest first."""
        if not self.path.exists():
            return pd.DataFrame(columns=["run_id", "kind", "made_at", "data_version", "as_of", "about"])
        with self._file.reading() as connection:
            return reading.query(connection, "runs", kind=kind)

    def read_run(self, run_id: str, name: str, point: str | Sequence[str] | None = None) -> pd.DataFrame:
        """A frame of a run as it was given; with ``point``, only the rows of that wear point, or of those.

        Raises
        ------
        StoreProblem : there is no such run or frame.
        """
        with self._file.reading() as connection:
            return to_pandas(runs.read(connection, run_id, name, point))

    def decide_on(
        self, kind: str, name: str, state: str, run_id: str, *, who: str = "", note: str = ""
    ) -> int:
        """Record what was decided about a plan or case; nothing that was decided before is changed.

        Parameters
        ----------
        kind, state : a kind of run, and one of its ``ingest.store.decisions.STATES``.
        name : what people call it; later decisions of the same name stand in its place.
        run_id : the run that holds the frozen content.
        who : who decides; the user of this process if empty.

        Returns
        -------
        int : number of the decision. The data version stays as it is.

        Raises
        ------
        NotPossible : no such kind, state or run, or no name.
        """
        decision = {"kind": kind, "name": name.strip(), "state": state, "run_id": run_id}
        with self._file.writing() as connection:
            decision |= {"who": who or this_user(), "note": note}
            return decisions.decide_on(connection, harmless(decision))

    def decisions(self, kind: str, name: str | None = None) -> pd.DataFrame:
        """Decisions about runs of a kind, of one name if it is given, newest first.

        Returns
        -------
        Frame: decision_id, kind, name, state, run_id, who, made_at (UTC), note.
        """
        if not self.path.exists():
            return pd.DataFrame(columns=decisions.COLUMNS)
        with self._file.reading() as connection:
            return decisions.decisions(connection, kind, name)

    def standing(self, kind: str, *states: str) -> pd.DataFrame:
        """The last decision of each name, as :meth:`decisions`; with ``states`` only those in one of them."""
        return decisions.standing(self.decisions(kind), *states)

    def entries_of(self, table: str, client_ids: Sequence[str]) -> pd.DataFrame:
        """What ever came in under numbers that devices gave: client_id, point, said; held rows too."""
        with self._at(None) as (connection, _):
            return reading.entries_of(connection, table, client_ids)

    def picture(self, picture: str) -> bytes:
        """Content of a picture that :meth:`Transaction.keep_picture` kept.

        Raises
        ------
        StoreProblem : the store holds no content of that name.
        """
        with self._file.reading() as connection:
            return reading.picture(connection, picture)

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
        with self._file.writing() as connection:
            batch = Transaction(connection, reading.newest_version(connection) + 1)
            yield batch
            if batch.changed:
                said = json.dumps(harmless({**(about or {}), **batch.notes}), default=str)
                row = (batch.batch, now(), harmless(who or this_user()), command, said)
                connection.execute("INSERT INTO batch VALUES (?, ?, ?, ?, ?)", row)

    def dump_to(self, folder: Path) -> dict[str, Any]:
        """Every table as a Parquet file into a folder; form, version, tables (columns and types) and rows."""
        with self._file.reading() as connection:
            tables = dump.dump(connection, self.path, folder)
            rows = {table: dump.count(connection, table) for table in tables}
            return {
                "form": migrate.latest(),
                "version": reading.newest_version(connection),
                "tables": tables,
                "rows": rows,
            }

    def must_be_free(self, *, replace: bool) -> None:
        """StoreProblem if something is here and is not to be, or cannot be, replaced."""
        self._file.must_be_free(replace=replace)

    def take(self, finished: Path, *, replace: bool) -> None:
        """Put a finished store in this one's place; one that is there is kept as ``.before-restore``.

        Raises
        ------
        StoreProblem : a store is there and is not to be replaced.
        """
        self._file.take(finished, replace=replace)

    @contextmanager
    def _at(self, version: int | None) -> Iterator[tuple[Connection, int]]:
        """The store open to read, and the version asked for: the newest where it is None."""
        with self._file.reading() as connection:
            yield connection, reading.newest_version(connection) if version is None else version


def now() -> datetime:
    """The present instant, UTC, without a time zone, as the store keeps it."""
    return datetime.now(UTC).replace(tzinfo=None)


def this_user() -> str:
    """Name of the user of this process, for the record of who changed what."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return f"user {os.getuid()}"
