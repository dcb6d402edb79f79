"""Which store is served: one name for the environment variable, one place that reads it."""

import os
from pathlib import Path

DB_VARIABLE = "MILESLEFT_DB"


def path() -> Path:
    """The store that this server shows."""
    return Path(os.environ.get(DB_VARIABLE, "milesleft.duckdb"))
