"""The DuckDB file: who opens it when, in which form. Only this module and ``damage`` import duckdb.

Each opening opens the file, works and closes it, under the lock of ``ingest.store.locks``.
"""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Literal

import duckdb

from ingest.errors import StoreProblem
from ingest.machine import in_plain_words
from ingest.store import migrate
from ingest.store.damage import no_store, of_the_machine, translated
from ingest.store.locks import locked
from ingest.writing import whole_file

# Nothing is fetched from anywhere: the store must behave the same on a machine without a network.
_CONFIG: dict[str, Any] = {"autoinstall_known_extensions": False, "autoload_known_extensions": False}


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
                self._put_in_place(migrate.bring_up_to_date)
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

    def build(self, fill: Callable[[duckdb.DuckDBPyConnection], None], *, replace: bool) -> None:
        """Make the file anew from an empty one that `fill` fills; it takes its place in one step.

        Parameters
        ----------
        replace : a file that is there is kept beside the new one as ``.before-restore``.

        Raises
        ------
        StoreProblem : a store is there and is not to be replaced; what `fill` puts in does not fit.
        """
        with locked(self.path, "write", self.wait_s):
            if self.path.is_dir():
                raise StoreProblem(f"'{self.path}' is a folder, not a store. Name a file with --db.")
            if self.path.exists() and not replace:
                raise StoreProblem(f"The store '{self.path}' exists. --replace puts the backup in its place.")
            self._put_in_place(_fitting(fill))

    def _put_in_place(self, fill: Callable[[duckdb.DuckDBPyConnection], None]) -> None:
        with _machine_told(self.path, "write"), whole_file(self.path) as fresh:
            connection = duckdb.connect(str(fresh), config=_CONFIG)
            try:
                fill(connection)
            finally:
                connection.close()
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


def _fitting(
    fill: Callable[[duckdb.DuckDBPyConnection], None],
) -> Callable[[duckdb.DuckDBPyConnection], None]:
    """The same, but what does not fit is told in words; what the machine would not do is no fault of it."""

    def filled(connection: duckdb.DuckDBPyConnection) -> None:
        try:
            fill(connection)
        except duckdb.Error as error:
            if of_the_machine(error):
                raise
            raise StoreProblem(f"The backup does not fit: {str(error).splitlines()[0][:200]}") from None

    return filled
