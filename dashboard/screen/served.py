"""Which store is served, and whether it can be read: one name for the variable, one place that reads it."""

import os
from pathlib import Path

from ingest.errors import SystemProblem, UserError
from ingest.machine import in_plain_words
from ingest.store import Store

DB_VARIABLE = "MILESLEFT_DB"


def path() -> Path:
    """The store that this server shows."""
    return Path(os.environ.get(DB_VARIABLE, "milesleft.duckdb"))


def health() -> tuple[dict[str, object], int]:
    """Whether the store can be read, and the status of HTTP for it; no names, no figures of the railway."""
    try:
        return {"ok": True, "data_version": Store(path(), wait_s=2.0).version()}, 200
    except (UserError, OSError, MemoryError) as error:
        known = error if isinstance(error, UserError) else in_plain_words(error)
        means = {"means": known.means} if isinstance(known, SystemProblem) else {}
        return {"ok": False, "problem": type(known).__name__, **means}, 503
