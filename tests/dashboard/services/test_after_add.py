"""What ``milesleft add`` says of the readings it stored: measure again, settled, found wrong by checks."""

import json
import shutil
import subprocess
import sys

import pytest
from click.testing import CliRunner

from dashboard.cli import main
from dashboard.services import after_add
from ingest.store import Store

HEAD = "point,date,value,unit,odometer\n"
AXLE = """point,vehicle,component,position,quantity,unit,new_value,condemning_limit,limit_source
DL,M1,driver tire,driver 1 left,diameter,in,,,49 CFR 230.112(a)
DR,M1,driver tire,driver 1 right,diameter,in,,,49 CFR 230.112(a)
CP,M1,crank pin,driver 1 left,diameter,in,5,4.5,own rule
"""
LOG = "vehicle,date,odometer,unit\nM1,2024-05-01,0,mi\nM1,2025-05-01,1000,mi\n"


@pytest.fixture
def add(tmp_path):
    """Call ``milesleft add`` with one table given as text."""

    def adder(store, text, *options, name="readings"):
        file = tmp_path / f"{name}.csv"
        file.write_text(text, encoding="utf-8")
        done = CliRunner().invoke(main, ["add", "--db", str(store), *options, str(file)])
        assert done.exit_code == 0, done.output
        return done.output

    return adder


@pytest.fixture
def forecast_made(made_store, tmp_path):
    """A copy of the small railway with its forecast; it expects 0.29 to 0.32 in at N-D2L-HOLLOW."""
    path = tmp_path / "copy.duckdb"
    shutil.copy(made_store, path)
    return path


def test_a_far_off_reading_is_stored_and_named_and_a_second_settles_it(add, forecast_made):
    first = add(forecast_made, HEAD + "N-D2L-HOLLOW,2023-11-20,0.5,in,9200\n")
    assert "readings.csv  readings     1         1          0" in first
    assert "Measure again" in first
    line = next(line for line in first.splitlines() if "N-D2L-HOLLOW" in line)
    assert "2023-11-20: read 0.5 in, expected 0.2" in line
    assert "measure it a second time" in line
    second = add(forecast_made, HEAD + "N-D2L-HOLLOW,2023-11-23,0.51,in,9210\n")
    assert "Measure again" not in second
    settled = second.partition("Settled by this batch:")[2]
    assert "2023-11-20: read 0.5 in" in settled
    assert "a second reading agrees with it" in settled
    assert Store(forecast_made).read("readings")["value_text"].isin(["0.5", "0.51"]).sum() == 2


def test_a_second_reading_as_expected_tells_that_the_first_was_wrong(add, forecast_made):
    add(forecast_made, HEAD + "N-D2L-HOLLOW,2023-11-20,0.5,in,9200\n")
    report = json.loads(add(forecast_made, HEAD + "N-D2L-HOLLOW,2023-11-22,0.30,in,9220\n", "--json"))
    (reading,) = report["unexpected"]
    assert (reading["point"], reading["date"], reading["state"], reading["new"]) == (
        "N-D2L-HOLLOW", "2023-11-20", "not confirmed", False,
    )  # fmt: skip
    assert reading["value"] == pytest.approx(0.5)
    assert reading["unit"] == "in"


def test_a_reading_as_expected_is_not_named(add, forecast_made):
    said = add(forecast_made, HEAD + "N-D2L-HOLLOW,2023-11-20,0.305,in,9200\n")
    assert said.endswith("Stored as batch 2.\n")


def test_a_part_renewed_since_the_forecast_is_not_held_against_it(add, forecast_made):
    add(forecast_made, "point,date,action\nN-D2L-HOLLOW,2023-11-18,renewed\n", name="work")
    said = add(forecast_made, HEAD + "N-D2L-HOLLOW,2023-11-20,0,in,9200\n")
    assert said.endswith("Stored as batch 3.\n")


@pytest.fixture
def axle(add, tmp_path):
    """An engine without a forecast whose wheels of one axle agree."""
    path = tmp_path / "axle.duckdb"
    add(path, "vehicle,arrangement,class\nM1,0-4-0,K\n", name="vehicles")
    add(path, LOG, name="mileage")
    add(path, AXLE, name="wear_points")
    said = add(path, "point,date,value\nDL,2024-06-01,50.2\nDR,2024-06-01,50.2\n")
    assert said.endswith("Stored as batch 4.\n")
    return path


def test_a_check_that_a_batch_breaks_is_named_once_with_limit_source_and_remedy(add, axle):
    said = add(axle, "point,date,value\nDL,2025-05-01,50\n")
    assert "Found wrong by checks since this batch" in said
    assert "M1 driver 1" in said
    assert "49 CFR 230.112" in said
    assert "0.200 in (max 0.0938 in)" in said  # 3/32 in on one axle
    assert "Turn the two wheels of the axle to one diameter" in said
    assert "milesleft checks" in said
    again = add(axle, "point,date,value\nCP,2025-04-01,4.9\n")
    assert again.endswith("Stored as batch 6.\n")


def test_a_check_that_grows_worse_is_named_again(add, axle):
    add(axle, "point,date,value\nDL,2024-09-01,50\n")
    assert "Found wrong by checks since this batch" in add(axle, "point,date,value\nDL,2025-05-01,49.9\n")


def test_large_stores_and_whole_histories_are_told_to_wait(add, axle, monkeypatch):
    monkeypatch.setattr(after_add, "MOST_POINTS", 2)
    assert "milesleft checks --vehicle" in add(axle, "point,date,value\nDL,2025-05-01,50\n")
    monkeypatch.setattr(after_add, "MOST_READINGS", 0)
    assert "So many readings at once" in add(axle, "point,date,value\nDL,2025-04-01,50\n")


def test_quiet_says_nothing(add, axle):
    assert add(axle, "point,date,value\nDL,2025-05-01,50\n", "--quiet") == ""


def test_a_forecast_loads_nothing_that_only_adding_needs():
    """Judging rows loads pandera, a quarter of the time that a small forecast takes."""
    code = "import sys, dashboard.services.forecasting; print('pandera' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_after_a_forecast_that_could_tell_nothing_readings_are_stored_and_it_says_so(add, tmp_path):
    store = tmp_path / "bare.duckdb"
    add(store, "vehicle,name\nM1,Merle\n", name="vehicles")
    add(store, AXLE.replace(",5,4.5,own rule", ",,,own rule"), name="wear_points")
    add(store, LOG, name="mileage")
    done = CliRunner().invoke(main, ["forecast", "--db", str(store)])
    assert done.exit_code == 0, done.output
    said = add(store, HEAD + "CP,2025-04-01,4.9,in,\n")
    assert "Stored as batch" in said
    assert "The last forecast could tell nothing of any wear point" in said


@pytest.fixture
def swapped(add, tmp_path):
    """Two engines whose wheelsets have numbers and agree among themselves; those of M2 are smaller."""
    path = tmp_path / "swapped.duckdb"
    add(path, "vehicle,arrangement,class\nM1,0-4-0,K\nM2,0-4-0,K\n", name="vehicles")
    add(path, LOG + "M2,2024-05-01,0,mi\nM2,2025-05-01,1000,mi\n", name="mileage")
    head = "point,vehicle,component,position,quantity,unit,matched_set,limit_source\n"
    rows = [
        f"{engine}-{axle}{side[0]},{engine},driver tire,driver {axle} {side},diameter,in,{engine},49 CFR 230"
        for engine in ("M1", "M2") for axle in (1, 2) for side in ("left", "right")
    ]  # fmt: skip
    add(path, head + "\n".join(rows) + "\n", name="wear_points")
    sizes = {"M1-1": 50.2, "M1-2": 50.2, "M2-1": 49.9, "M2-2": 49.9}
    read = [f"{name}{side},2024-06-01,{size}" for name, size in sizes.items() for side in "lr"]
    assert "found wrong" not in add(path, "point,date,value\n" + "\n".join(read) + "\n").lower()
    parts = "".join(f"WS-{name},driving wheelset,K\n" for name in sizes)
    add(path, "part_no,component,class\n" + parts, name="parts")
    fitted = "".join(f"WS-{name},{name[:2]},driver {name[-1]},2024-05-01,\n" for name in sizes)
    add(path, "part_no,vehicle,position,since,until\n" + fitted, name="fittings")
    return path


SWAP = """part_no,vehicle,position,since,until
WS-M1-2,M1,driver 2,2024-05-01,2024-08-01
WS-M1-2,M2,driver 2,2024-08-01,
WS-M2-2,M2,driver 2,2024-05-01,2024-08-01
WS-M2-2,M1,driver 2,2024-08-01,
"""


def test_wheelsets_that_change_engines_take_their_diameters_with_them(add, swapped):
    said = add(swapped, SWAP, name="fittings")
    assert said.count("coupled diameters: 0.300 in") == 2  # 50.2 in beside 49.9 in on both engines


def test_readings_of_wheels_that_agree_since_an_exchange_raise_nothing(add, swapped):
    add(swapped, SWAP, name="fittings")
    again = "point,date,value\n" + "".join(f"M1-1{side},2024-09-01,49.9\n" for side in "lr")
    assert "coupled diameters" not in add(swapped, again)
