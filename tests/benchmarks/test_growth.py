"""The table of ``compare.py``, and what large stores take: growth and memory, up to a million wear points.

    pytest tests/benchmarks/test_growth.py -m "long or not long" -s -n 0

Memory is asserted, it does not depend on who else is at work; seconds are printed and timed, never asserted.
"""

import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fleets.large_fleets import ENGINES, KINDS, SIDES, large_tables, write_large
from fleets.simulate import FleetPlan, simulate_fleet

from ingest.store import Store
from models.lives.table import Lives
from models.wear.model import PooledWear
from models.wear.priors import Known

_SPEC = importlib.util.spec_from_file_location("compare", Path(__file__).with_name("compare.py"))
compare = importlib.util.module_from_spec(_SPEC)
sys.modules["compare"] = compare
_SPEC.loader.exec_module(compare)

MEMORY_MB = 4096


def origin(rows, table):
    return rows.assign(source_file=table, source_sheet="", source_row=np.arange(len(rows)))


def fill(path, points, block=50_000):
    """A store of so many wear points, filled block by block without the judging of files."""
    store, done = Store(path), 0
    words = {"gauge": "", "observer": "", "note": "", "value_text": "", "odometer_text": ""}
    point = {"shop_limit": np.nan, "condemned_when": "at", "limit_source": "own", "gauge_sd": np.nan}
    point |= {"access": "in_place", "matched_set": "", "base_unit": "mm", "per_base": 1.0}
    log = {"service_days": np.nan, "distance": np.nan, "event": "", "note": ""}
    while done < points:
        first = done // (ENGINES * SIDES * KINDS)
        tables = large_tables(min(block, points - done), first_class=first)
        vehicles = tables["vehicles"].assign(name="", service_from=pd.NaT)
        readings, mileage = (
            tables[name].assign(date=pd.to_datetime(tables[name]["date"]).astype("datetime64[us]"), **more)
            for name, more in (("readings", words), ("mileage", log))
        )
        with store.transaction("add", "benchmark") as batch:
            batch.insert("vehicles", origin(vehicles, "vehicles"))
            batch.insert("wear_points", origin(tables["wear_points"].assign(**point), "wear_points"))
            for name, rows in (("mileage", mileage), ("readings", readings)):
                batch.insert(name, origin(rows.rename(columns={"odometer": "odometer_read"}), name))
        done += len(tables["wear_points"])
    return store


def forecast_alone(folder):
    """Forecast a store in a process of its own; its figures."""
    return compare.in_own_process("forecast", folder)


def test_a_work_is_measured_in_its_own_process(tmp_path):
    write_large(tmp_path / "files", 200, readings=3)
    found = compare.in_own_process("DuckDB reads the CSV", tmp_path)
    assert found["seconds"] > 0
    assert found["cpu"] > 0
    assert 50 < found["peak_mb"] < 2000
    with pytest.raises(RuntimeError, match=r"(?s)numpy pass: .*lives\.npz"):
        compare.in_own_process("numpy pass", tmp_path)


def test_the_table_tells_slope_and_ratio():
    works = [
        compare.Work("forecast", "milesleft", None, scored_as="a"),
        compare.Work("loop", "instead", None),
    ]
    rows = pd.DataFrame(
        [
            {"work": w, "kind": "", "points": n, "seconds": t, "cpu": t, "peak_mb": 1.0, "worker_mb": 0.0}
            for w, n, t in (("forecast", 1000, 1.0), ("forecast", 10_000, 10.0), ("loop", 1000, 5.0))
        ]
    )
    table = compare.table_of(rows, works, {"a": 0.04}).set_index("work")
    assert table.loc["forecast", "slope"] == pytest.approx(1.0, abs=1e-3)
    assert table.loc["loop", "times_forecast"] == pytest.approx(5.0)
    assert table.loc["forecast", "loss"] == 0.04


@pytest.mark.long
def test_everything_against_everything():
    works = compare.WORKS
    losses = compare.losses_of(works)
    table = compare.table_of(compare.compare([1000, 10_000], works), works, losses)
    with pd.option_context("display.width", 160, "display.max_columns", 20):
        print("\n" + table.round(3).to_string(index=False))
    assert set(table["work"]) == {w.name for w in works}
    assert losses["milesleft"] < min(loss for name, loss in losses.items() if name != "milesleft")


@pytest.mark.parametrize(
    "points",
    [
        pytest.param(30_000, marks=pytest.mark.long),
        pytest.param(100_000, marks=pytest.mark.long),
        pytest.param(1_000_000, marks=pytest.mark.long),
    ],
)
def test_a_large_store_is_forecast_within_four_gigabytes(points, tmp_path):
    fill(tmp_path / "store.duckdb", points)
    found = forecast_alone(tmp_path)
    print(f"\n{points:,} wear points: {json.dumps({k: round(v, 1) for k, v in found.items()})}")
    # The process that hands out and two workers, each at the most that it ever held.
    assert found["peak_mb"] + 2 * found["worker_mb"] < MEMORY_MB


@pytest.mark.long
def test_a_million_wear_points_on_a_cluster_end_to_end(tmp_path):
    """Two workers of a local cluster, by the command."""
    from distributed import LocalCluster

    store = fill(tmp_path / "store.duckdb", 1_000_000)
    options = {"n_workers": 2, "threads_per_worker": 1, "dashboard_address": None, "host": "127.0.0.1"}
    with LocalCluster(**options) as cluster:
        call = [sys.executable, "-m", "dashboard.cli", "forecast", "--db", str(store.path)]
        call += ["--scheduler", cluster.scheduler_address, "--out", str(tmp_path / "forecast.parquet")]
        told = subprocess.run(call, capture_output=True, text=True, check=True).stdout
    print(told[-200:])
    table = pd.read_parquet(tmp_path / "forecast.parquet", columns=["point", "miles_p50"])
    assert len(table) == table["point"].nunique() == store.points()
    assert table["miles_p50"].notna().all()


def test_time_of_a_run_of_families(benchmark):
    """320 lives with what others taught: timed with --benchmark-enable, never asserted."""
    lives = Lives(**simulate_fleet(np.random.default_rng(1), FleetPlan(n_families=40)).arrays)
    learned = PooledWear().fit(lives)
    known = Known(learned.priors_, learned.shape_prior_, learned.wild_share_, learned.memory_share_, 4)
    found = benchmark(lambda: PooledWear(known=known).fit(lives).predict_remaining([0.1, 0.5, 0.9]))
    assert found.shape == (len(lives.family), 3)
