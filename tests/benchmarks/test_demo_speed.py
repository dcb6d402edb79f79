"""How long the demo railway takes: run with ``pytest tests/benchmarks --benchmark-enable -n 0``."""

from itertools import count

from dashboard.services.forecasting import run_forecast
from ingest.store import Store
from ingest.verdicts.add import add_files


def test_taking_in_27_sheets(benchmark, demo_folder, tmp_path):
    """Each round into a store of its own: the second time, all would be known."""
    number = count()
    report = benchmark.pedantic(
        lambda: add_files(Store(tmp_path / f"{next(number)}.duckdb"), [demo_folder]), rounds=3
    )
    assert report.count("accepted") > 10_000


def test_forecast_of_500_wear_points(benchmark, demo_folder, tmp_path):
    store = Store(tmp_path / "demo.duckdb")
    add_files(store, [demo_folder])
    run = benchmark.pedantic(lambda: run_forecast(store), rounds=3)
    assert len(store.read_run(run, "forecast")) == 500
