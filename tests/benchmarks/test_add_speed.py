"""A million readings with fractions in one call: time by pytest-benchmark, memory as the system counts it.

Run: pytest tests/benchmarks/test_add_speed.py --benchmark-enable -m long -n 0
"""

import json
import resource
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

VEHICLES, POINTS_EACH, READINGS_EACH = 40, 250, 100
MEMORY = 3 * 2**30  # bytes


def write_files(folder: Path) -> None:
    """40 vehicles of 250 points, 41 years of weekly mileage, 100 readings a point in 64ths of an inch."""
    rng = np.random.default_rng(1)
    vehicles = [f"V{i}" for i in range(VEHICLES)]
    points = np.array([f"{v}-P{j}" for v in vehicles for j in range(POINTS_EACH)])
    pd.DataFrame({"vehicle": vehicles, "class": "M"}).to_csv(folder / "vehicles.csv", index=False)
    about = {
        "component": "tire",
        "quantity": "thickness",
        "unit": "in",
        "new_value": "3 1/2",
        "gauge_sd": 0.02,
    }
    table = pd.DataFrame({"point": points, "vehicle": np.repeat(vehicles, POINTS_EACH)}).assign(**about)
    table.assign(condemning_limit="1 1/2").to_csv(folder / "wear_points.csv", index=False)
    days = pd.date_range("1985-01-01", "2025-12-31", freq="7D").strftime("%Y-%m-%d")
    log = {"vehicle": np.repeat(vehicles, len(days)), "date": np.tile(days, VEHICLES)}
    log["odometer"] = np.tile(np.arange(len(days)) * 150, VEHICLES)
    pd.DataFrame(log).to_csv(folder / "mileage.csv", index=False)
    share = np.tile(np.arange(READINGS_EACH) / READINGS_EACH, len(points))
    sixtyfourths = np.round((3.5 - 1.9 * share + rng.normal(0, 0.01, len(share))) * 64).astype(int)
    text = (
        pd.Series(sixtyfourths // 64).astype("str") + " " + pd.Series(sixtyfourths % 64).astype("str") + "/64"
    )
    dates = np.datetime64("1985-02-01") + np.tile(np.arange(READINGS_EACH) * 140, len(points))
    readings = {"point": np.repeat(points, READINGS_EACH), "date": dates, "value": text, "unit": "in"}
    pd.DataFrame(readings).to_csv(folder / "readings.csv", index=False)


@pytest.mark.long
def test_a_million_readings_with_fractions(benchmark, tmp_path):
    folder = tmp_path / "files"
    folder.mkdir()
    write_files(folder)

    def add() -> dict[str, int]:
        store = tmp_path / "store.duckdb"
        store.unlink(missing_ok=True)
        call = [sys.executable, "-m", "dashboard.cli", "add", "--json", "--db", str(store), str(folder)]
        return json.loads(subprocess.run(call, capture_output=True, text=True, check=True).stdout)

    told = benchmark.pedantic(add, rounds=1)
    assert told["accepted"] == told["rows"] > 1_000_000
    assert resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024 < MEMORY
