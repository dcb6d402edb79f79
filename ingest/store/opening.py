"""The DuckDB file: who opens it when, in which form. Only this module and ``damage`` import duckdb.

Each opening opens the file, works and closes it, under the lock of ``ingest.store.locks``.
"""

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Literal

import duckdb

from ingest.errors import StoreProblem
from ingest.figures import bound
from ingest.machine import in_plain_words
from ingest.store import migrate
from ingest.store.damage import no_store, number_of_machine, translated
from ingest.store.locks import locked
from ingest.store.sql import statement
from ingest.writing import whole_file

# Nothing is fetched from anywhere: the store must behave the same on a machine without a network.
_CONFIG: dict[str, Any] = {"autoinstall_known_extensions": False, "autoload_known_extensions": False}
_ONE_CONNECTS = threading.Lock()
"""A thread that connects to a file that another is just opening may find it without the functions that read
frames: DuckDB adds them after the file is known to all threads."""


class DatabaseFile:
    """The file of a store by its path. Making one opens nothing.

    Attributes
    ----------
    path : the file; it is made by the first write.
    wait_s : longest wait for other users of the file. [s]
    shared : an open connection that all reads share, where there is one.
    """

    def __init__(self, path: Path, wait_s: float) -> None:
        self.path = path
        self.wait_s = wait_s
        self.shared: duckdb.DuckDBPyConnection | None = None

    @contextmanager
    def reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """The file open to read, brought up to date before.

        Raises
        ------
        StoreBusy, StoreProblem : it cannot be opened.
        """
        if self.shared is not None:
            yield self.shared
            return
        self._must_exist()
        with self._opened_to_read() as connection:
            if migrate.applied(connection, self.path) == migrate.latest():
                yield connection
                return
        with self.writing():  # brings an older store up to date
            pass
        with self._opened_to_read() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """The file open to write, made or brought up to date before; the block is one transaction.

        Raises
        ------
        StoreBusy, StoreProblem : it cannot be opened.
        """
        if not self.path.parent.is_dir():
            raise StoreProblem(
                f"There is no folder '{self.path.parent}' to keep the store in. Make it first."
            )
        with locked(self.path, "write", self.wait_s):
            if not self.path.exists():
                self._put_in_place(_new_store)
            with self._connected("write") as connection:
                if migrate.applied(connection, self.path) < migrate.latest():
                    migrate.bring_up_to_date(connection)
                connection.begin()
                try:
                    yield connection
                except BaseException:
                    with suppress(duckdb.Error):  # after a fault of the disk there is nothing to go back in
                        connection.rollback()
                    raise
                connection.commit()

    def take(self, finished: Path, *, replace: bool) -> None:
        """Put a finished store in the place of this one, in one step; it is moved.

        Parameters
        ----------
        finished : closed, in the same file system.
        replace : a file that is there is kept beside the new one as ``.before-restore``.

        Raises
        ------
        StoreProblem : a store is there and is not to be replaced.
        """
        with locked(self.path, "write", self.wait_s):
            self.must_be_free(replace=replace)
            self._put_in_place(lambda fresh: os.replace(finished, fresh))

    def must_be_free(self, *, replace: bool) -> None:
        """StoreProblem if what is there may not be replaced."""
        if self.path.is_dir():
            raise StoreProblem(f"'{self.path}' is a folder, not a store. Name a file with --db.")
        if self.path.exists() and not self.path.is_file():
            raise StoreProblem(f"'{self.path}' is a device or a pipe, not a store. Name a file with --db.")
        if self.path.exists() and not replace:
            raise StoreProblem(f"The store '{self.path}' exists. --replace puts the backup in its place.")

    def _put_in_place(self, make: Callable[[Path], None]) -> None:
        with _machine_told(self.path, "write"), whole_file(self.path) as fresh:
            make(fresh)
            self._keep_aside()

    def _keep_aside(self) -> None:
        """A second name for the file that is there, which the next one will be put in the place of."""
        log = self.path.with_name(self.path.name + ".wal")
        if self.path.exists():
            aside = self.path.with_name(self.path.name + ".before-restore")
            aside_log = aside.with_name(aside.name + ".wal")
            for left in (aside, aside_log):
                left.unlink(missing_ok=True)
            try:
                with self._connected("write"):
                    pass  # opening and closing writes the log of changes into the file
            except StoreProblem:  # damaged, or no store at all: kept as it is
                if log.exists():
                    os.link(log, aside_log)
            os.link(self.path, aside)
        log.unlink(missing_ok=True)

    @contextmanager
    def _opened_to_read(self) -> Iterator[duckdb.DuckDBPyConnection]:
        with locked(self.path, "read", self.wait_s), self._connected("read") as connection:
            yield connection

    @contextmanager
    def _connected(self, mode: Literal["read", "write"]) -> Iterator[duckdb.DuckDBPyConnection]:
        problem = no_store(self.path)
        if problem is not None:
            raise problem
        try:
            with _ONE_CONNECTS:
                connection = duckdb.connect(str(self.path), read_only=mode == "read", config=_CONFIG)
        except duckdb.Error as error:
            raise translated(error, self.path, _THEN[mode]) from None
        with _machine_told(self.path, mode):
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


_THEN = {"read": "", "write": "Nothing was stored."}


@contextmanager
def _machine_told(path: Path, mode: Literal["read", "write"]) -> Iterator[None]:
    """What the disk or the memory did not allow, and damage, leaves the block in plain words."""
    then = _THEN[mode]
    try:
        yield
    except OSError as error:
        raise in_plain_words(error, error.filename or path, then) from None
    except duckdb.Error as error:
        told = translated(error, path, then)
        if told is error:
            raise
        raise told from None


def _new_store(path: Path) -> None:
    connection = duckdb.connect(str(path), config=_CONFIG)
    try:
        migrate.bring_up_to_date(connection)
    finally:
        connection.close()


OWN, GIVEN = "memory", "given"
"""Names of the databases of :func:`beside_given`: its own in memory, and the one that was given."""


@contextmanager
def beside_given(
    path: Path, make: Callable[[duckdb.DuckDBPyConnection], None]
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A file that others made, open to read beside a database of ours in memory, which `make` fills before.

    Names that are asked for mean ours, until it is said otherwise. No extension is loaded, nothing else can
    be opened, and no setting changed.

    Raises
    ------
    StoreProblem : it cannot be read. SystemProblem : the machine does not do it.
    """
    config = _CONFIG | {"memory_limit": f"{bound('restore', 'memory')}B", "threads": 1}
    try:
        connection = duckdb.connect(config=config)
        try:
            make(connection)
            quoted = str(path.absolute()).replace("'", "''")
            connection.execute(f"ATTACH '{quoted}' AS {GIVEN} (TYPE duckdb, READ_ONLY)").fetchall()
            connection.execute(statement("shut")).fetchall()
            yield connection
        finally:
            connection.close()
    except duckdb.Error as error:
        if number_of_machine(error) is not None:
            raise translated(error, path) from None
        raise StoreProblem("what was built of it is no database that can be read") from None


def build_confined(
    path: Path, fill: Callable[[duckdb.DuckDBPyConnection], None], *, backup: str, memory: int, spilled: int
) -> None:
    """Make a new file that `fill` fills from foreign files below the present folder; nothing else is opened.

    Parameters
    ----------
    backup : name of what it is filled from, for messages.
    memory : most that it may take; half of the machine's where that is less. [bytes]
    spilled : largest room on the disk for what does not fit into memory. [bytes]

    Raises
    ------
    StoreProblem : what `fill` puts in does not fit.
    OSError : the machine does not do it; ENOMEM where it takes more memory than that.
    """
    machine = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    config = _CONFIG | {
        "memory_limit": f"{min(memory, machine // 2)}B",
        "threads": min(bound("restore", "threads"), os.cpu_count() or 1),
        "max_temp_directory_size": f"{spilled}B",
    }
    try:
        connection = duckdb.connect(str(path), config=config)
        try:
            connection.execute(statement("confine")).fetchall()
            fill(connection)
            connection.execute("CHECKPOINT").fetchall()  # closing would keep quiet about a full disk
        finally:
            connection.close()
    except duckdb.Error as error:
        number = number_of_machine(error)
        if number is not None:
            raise OSError(number, os.strerror(number)) from None
        raise StoreProblem(
            f"The backup '{backup}' does not fit: {str(error).strip().splitlines()[0][:200]}. "
            "Nothing was changed. Use another backup."
        ) from None
