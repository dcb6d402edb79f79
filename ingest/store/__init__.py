"""The one DuckDB file: transactions, locks, migrations, runs, backup, export; all SQL."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ingest.store.store import Store

__all__ = ["Store"]


def __getattr__(name: str) -> Any:  # noqa: ANN401  # as Python asks for it
    """Load ``Store`` when it is asked for: the process that rebuilds one from a backup has no pandas."""
    if name != "Store":
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from ingest.store.store import Store

    return Store
