"""``milesleft forecast`` end to end: a small railway handed in as files, its table written and kept."""

import json
import subprocess

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from dashboard.cli import main
from dashboard.services.forecasting import forecast_and_store, run_forecast
from ingest.errors import NotPossible
from ingest.store import Store
from ingest.verdicts.add import add_files
from models.forecast.public import PUBLIC

FILES = {
    "vehicles.csv": "vehicle,name,arrangement,class\nN9,Nightjar,2-6-0,moor\n",
    "wear_points.csv": (
        "point,vehicle,component,position,quantity,unit,new_value,condemning_limit,condemned_when\n"
        "P1,N9,rod bushing,driver 1 left,clearance,in,0.010,0.094,beyond\n"
        "P2,N9,rod bushing,driver 1 right,clearance,in,0.010,0.094,beyond\n"
        "P3,N9,rod bushing,driver 2 left,clearance,in,0.010,,beyond\n"
    ),
    "mileage.csv": (
        "vehicle,date,odometer,unit\nN9,2018-01-01,0,mi\nN9,2019-12-31,10000,mi\nN9,2021-12-31,20000,mi\n"
    ),
    "readings.csv": "point,date,value,unit\n"
    + "".join(
        f"{point},{2018 + i}-{m:02d}-15,{0.010 + rate * (i + m / 12):.3f},in\n"
        for point, rate in (("P1", 0.012), ("P2", 0.015), ("P3", 0.013))
        for i in range(4)
        for m in (4, 10)
    ),
    "usage.csv": "vehicle,month,miles_planned,miles_sd\n"
    + "".join(f"N9,{year}-07,5000,500\n" for year in range(2022, 2030)),
}


@pytest.fixture
def store(tmp_path):
    folder = tmp_path / "sheets"
    folder.mkdir()
    for name, text in FILES.items():
        (folder / name).write_text(text)
    store = Store(tmp_path / "n9.duckdb")
    report = add_files(store, [folder])
    assert report.held_back.empty
    return store


def call(milesleft, store, *words):
    return subprocess.run(
        [*milesleft, "forecast", "--db", str(store.path), *words], capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize("ending", ["csv", "parquet", "json"])
def test_the_table_is_written_in_every_form(milesleft, store, tmp_path, ending):
    out = tmp_path / f"table.{ending}"
    done = call(milesleft, store, "--out", str(out))
    assert done.returncode == 0, done.stderr
    read = {"csv": pd.read_csv, "parquet": pd.read_parquet, "json": pd.read_json}[ending]
    table = read(out)
    assert list(table.columns) == PUBLIC
    assert table["point"].tolist() == ["P1", "P2", "P3"]
    assert table["miles_p50"].notna().tolist() == [True, True, False]
    assert str(table["as_of"].iloc[0])[:10] == "2021-12-31"
    # 0.012 in a year of 5,000 mi: 0.036 in is left after four years, 15,000 mi; the other 9,000 mi.
    assert table["miles_p50"][:2].to_numpy() == pytest.approx([15_000, 8_000], rel=0.25)
    assert table["unit"].tolist() == ["in"] * 3
    assert table["condemning_limit"].iloc[0] == pytest.approx(0.094)


def test_what_is_printed_names_miles_dates_and_the_caution(milesleft, store):
    done = call(milesleft, store)
    assert "P2" in done.stdout
    said = " ".join(done.stdout.split())
    assert "1 cannot be forecast; their flags say why" in said
    assert "never replaces inspection" in said
    assert max(len(line) for line in done.stdout.splitlines()[:-1]) <= 100


def test_json_goes_to_stdout_alone(milesleft, store):
    done = call(milesleft, store, "--json")
    written = json.loads(done.stdout)
    assert [row["point"] for row in written["forecast"]] == ["P1", "P2", "P3"]
    assert written["forecast"][2]["miles_p50"] is None
    assert written["forecast"][2]["flags"] == "cannot be forecast: no condemning limit is stated"
    assert written["run"] == Store(store.path).runs("forecast")["run_id"].iloc[0]


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["--vehicle", "Z"], 1, "No wear point belongs to the vehicle 'Z'. In the store: N9."),
        (["--out", "table.xml"], 2, "'.xml' is no ending that can be written"),
        (["--out", "nowhere/table.csv"], 2, "there is no folder 'nowhere'"),
        (["--as-of", "yesterday"], 2, "yesterday"),
    ],
)
def test_wrong_calls_say_what_to_do(milesleft, store, words, code, says):
    done = call(milesleft, store, *words)
    assert done.returncode == code
    assert says in done.stderr
    assert "Traceback" not in done.stderr


def test_a_store_that_is_not_there(milesleft, tmp_path):
    done = call(milesleft, Store(tmp_path / "none.duckdb"))
    assert done.returncode == 1
    assert "none.duckdb" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_store_without_wear_points_says_what_to_add(tmp_path):
    path = tmp_path / "mileage.csv"
    path.write_text(FILES["vehicles.csv"])
    store = Store(tmp_path / "s.duckdb")
    add_files(store, [path])
    with pytest.raises(NotPossible, match="holds no wear points"):
        run_forecast(store)


def test_as_of_may_be_the_next_season_but_not_out_of_sight_of_the_record(store):
    last = store.read("mileage")["date"].max()
    near, far = (f"{last + pd.DateOffset(days=days):%Y-%m-%d}" for days in (200, 400))
    assert CliRunner().invoke(main, ["forecast", "--db", str(store.path), "--as-of", near]).exit_code == 0
    refused = CliRunner().invoke(main, ["forecast", "--db", str(store.path), "--as-of", far])
    assert (refused.exit_code, f"last day on record, {last:%Y-%m-%d}" in refused.output) == (2, True)


def test_as_of_believes_nothing_later(store):
    _, table = forecast_and_store(store, pd.Timestamp("2020-01-01"))
    row = table.set_index("point").loc["P1"]
    assert row["as_of_odometer"] == pytest.approx(10_000, rel=0.01)
    assert row["last_date"] == pd.Timestamp("2019-10-15")
    assert row["readings_used"] == 4


def test_the_run_is_kept_and_an_old_version_gives_the_old_forecast(store, tmp_path):
    before = forecast_and_store(store)[1]
    later = tmp_path / "later.csv"
    later.write_text("point,date,value,unit\nP1,2021-12-20,0.080,in\n")
    add_files(store, [later])
    after = forecast_and_store(store)[1]
    again = forecast_and_store(store, version=1)[1]
    assert after["miles_p50"][0] < before["miles_p50"][0]
    np.testing.assert_array_equal(again["miles_p50"], before["miles_p50"])
    runs = store.runs("forecast")
    assert runs["data_version"].tolist() == [1, 2, 1]


def test_a_condemned_part_is_out_whatever_its_miles(store, tmp_path):
    found = tmp_path / "findings.csv"
    found.write_text(
        "vehicle,date,component,examined,defective,note\n"
        "N9,2021-12-01,rod bushing,1,1,driver 1 left: loose in the rod\n"
    )
    add_files(store, [found])
    flags = forecast_and_store(store)[1].set_index("point")["flags"]
    assert flags["P1"].startswith("condemned by a finding of 2021-12-01")
    assert "condemned" not in flags["P2"]
    early = forecast_and_store(store, pd.Timestamp("2021-11-01"))[1]
    assert "condemned" not in early.set_index("point")["flags"]["P1"]
