"""The DuckDB file: who opens it when, in which form. The only module that imports duckdb.

Each opening opens the file, works and closes it, under the lock of ``ingest.store.locks``.
"""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Literal

import duckdb

from ingest.errors import StoreBusy, StoreProblem
from ingest.machine import in_plain_words, number_of
from ingest.store import migrate
from ingest.store.locks import locked

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
            if self.path.exists() and not replace:
                raise StoreProblem(f"The store '{self.path}' exists. --replace puts the backup in its place.")
            try:
                self._put_in_place(fill)
            except duckdb.Error as error:
                raise StoreProblem(f"The backup does not fit: {str(error).splitlines()[0][:200]}") from None

    def _put_in_place(self, fill: Callable[[duckdb.DuckDBPyConnection], None]) -> None:
        with _machine_told(self.path, "write"), migrate.new_file(self.path) as fresh:
            connection = duckdb.connect(str(fresh), config=_CONFIG)
            try:
                fill(connection)
            finally:
                connection.close()
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

    @contextmanager
    def _opened_to_read(self) -> Iterator[duckdb.DuckDBPyConnection]:
        with locked(self.path, "read", self.wait_s), self._connected("read") as connection:
            yield connection

    @contextmanager
    def _connected(self, mode: Literal["read", "write"]) -> Iterator[duckdb.DuckDBPyConnection]:
        try:
            connection = duckdb.connect(str(self.path), read_only=mode == "read", config=_CONFIG)
        except duckdb.Error as error:
            raise _translated(error, self.path, _THEN[mode]) from None
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
_OF_THE_MACHINE = (
    duckdb.IOException,
    duckdb.TransactionException,  # a commit that could not be written
    duckdb.FatalException,
    duckdb.OutOfMemoryException,
)


@contextmanager
def _machine_told(path: Path, mode: Literal["read", "write"]) -> Iterator[None]:
    """What the disk or the memory did not allow leaves the block in plain words."""
    then = _THEN[mode]
    try:
        yield
    except OSError as error:
        raise in_plain_words(error, error.filename or path, then) from None
    except _OF_THE_MACHINE as error:
        if isinstance(error, duckdb.OutOfMemoryException):
            raise in_plain_words(MemoryError(), path, then) from None
        if number_of(error) is None:
            raise
        raise in_plain_words(error, path, then) from None


def _translated(error: duckdb.Error, path: Path, then: str) -> Exception:
    text = str(error)
    if "lock" in text.lower():
        return StoreBusy(
            f"The store '{path}' is held open by another program ({text.split('.')[0]}). "
            "Close it there and try again."
        )
    if isinstance(error, _OF_THE_MACHINE) and number_of(error) is not None:
        return in_plain_words(error, path, then)
    if isinstance(error, duckdb.IOException | duckdb.InvalidInputException | duckdb.SerializationException):
        return StoreProblem(
            f"'{path}' cannot be opened as a store: {text.splitlines()[0][:200]} "
            "If it is a damaged store, restore the last backup ('milesleft restore')."
        )
    return error
