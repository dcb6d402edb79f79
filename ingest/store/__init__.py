"""The one DuckDB file: transactions, locks, migrations, runs, backup, export; all SQL."""

from ingest.store.store import Store

__all__ = ["Store"]
