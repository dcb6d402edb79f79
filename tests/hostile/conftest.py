"""A small store for the tests that do harm; each takes a copy of what it changes."""

import pytest
from pages.small_railway import small_railway


@pytest.fixture(scope="session")
def small_store(tmp_path_factory):
    """The small railway in a store, with one forecast. Copy it, do not write."""
    from dashboard.services.forecasting import run_forecast
    from ingest.store import Store
    from ingest.verdicts.add import add_files

    folder = tmp_path_factory.mktemp("hostile")
    store = Store(folder / "s.duckdb")
    add_files(store, [small_railway(folder / "files")], who="R. T.")
    run_forecast(store)
    return store.path
