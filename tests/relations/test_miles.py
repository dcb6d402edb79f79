"""Miles are one count: log, readings, forecast and what the instruments show fit each other."""

import shutil

import numpy as np
import pandas as pd
import pytest

from dashboard.services.demo_railway import winter_sheets
from dashboard.services.forecasting import run_forecast
from ingest.store import Store
from ingest.store.mileage import counted, instruments, shown
from ingest.verdicts.add import add_files
from models.forecast.flags import AFTER_THE_LOG


def generated(seed, folder):
    """Two vehicles of one family, counters replaced and rolled over, one in km; read in the winter after."""
    rng = np.random.default_rng(seed)
    rows, points, readings = [], [], []
    for vehicle, unit in (("A", "mi"), ("B", "km")):
        figure, event = rng.integers(90_000, 99_000), ""
        for year in range(2010, 2020):
            for month, run in (("04", 0), ("10", int(rng.integers(1500, 3500)))):
                figure, distance, event = figure + run, "", ""
                if run and rng.random() < 0.3:
                    distance, figure, event = run, int(rng.integers(0, 900)), "replaced"
                elif figure >= 100_000 and rows and event == "" and rng.random() < 0.5:
                    figure, event = figure - 100_000, "rolled_over"
                rows.append(f"{vehicle},{year}-{month}-01,{figure},{unit},{distance},{event}")
        points.append(f"{vehicle}1,{vehicle},pin,clearance,mm,0,5")
        readings += [f"{vehicle}1,{year}-11-15,{0.2 * (year - 2009):.2f}" for year in range(2010, 2020)]
    files = {
        "vehicles": "vehicle,class\nA,K\nB,K\n",
        "wear_points": "point,vehicle,component,quantity,unit,new_value,condemning_limit\n"
        + "\n".join(points),
        "mileage": "vehicle,date,odometer,unit,distance,event\n" + "\n".join(rows),
        "readings": "point,date,value\n" + "\n".join(readings),
    }
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text)
    store = Store(folder / "store.duckdb")
    add_files(store, [folder / f"{name}.csv" for name in files])
    run_forecast(store)
    return store


@pytest.fixture(scope="module", params=["demo", 1, 2, 3])
def store(request, tmp_path_factory):
    if request.param == "demo":
        made = Store(tmp_path_factory.mktemp("winter") / "demo.duckdb")
        shutil.copy(request.getfixturevalue("demo_store"), made.path)
        add_files(made, [winter_sheets()])
        run_forecast(made)
        return made
    return generated(request.param, tmp_path_factory.mktemp("miles"))


@pytest.fixture(scope="module")
def told(store):
    run = str(store.runs("forecast")["run_id"].iloc[0])
    return store.read_run(run, "forecast"), store.read_all("mileage", "readings", "wear_points")


def test_a_forecast_is_as_of_the_last_entry_or_the_last_reading(told):
    forecast, tables = told
    vehicle = tables["readings"]["point"].map(tables["wear_points"].set_index("point")["vehicle"])
    read = tables["readings"].groupby(vehicle)["date"].max()
    logged = tables["mileage"].groupby("vehicle")["date"].max()
    last = pd.concat([read, logged], axis=1).max(axis=1)
    assert (forecast["as_of"] == forecast["vehicle"].map(last)).all()
    furthest = tables["mileage"].groupby("vehicle")["odometer"].max()
    assert (forecast["as_of_odometer"] >= forecast["vehicle"].map(furthest) - 1e-6).all()


def test_readings_after_the_log_have_its_last_odometer_and_the_forecast_says_so(told):
    forecast, tables = told
    log = tables["mileage"].groupby("vehicle").last()
    points = tables["wear_points"].set_index("point")["vehicle"]
    readings = tables["readings"].assign(vehicle=tables["readings"]["point"].map(points))
    after = readings["date"] > readings["vehicle"].map(log["date"])
    late = readings[after & readings["odometer_read"].isna()]
    assert len(late)
    assert (late["odometer_source"] == "last entry").all()
    assert late["odometer"].to_numpy() == pytest.approx(late["vehicle"].map(log["odometer"]).to_numpy())
    said = forecast.set_index("point")["flags"].str.contains(AFTER_THE_LOG, regex=False)
    assert set(said.index[said]) == set(late["point"])


def test_what_the_instruments_show_is_the_log_as_it_was_written(told):
    _, tables = told
    log = tables["mileage"]
    noted = log[log["odometer_read"].notna()]
    its = instruments(noted["vehicle"], noted["date"], log)
    per = its["unit"].map({"mi": 1.0, "km": 0.621371192237334})
    assert shown(noted["odometer"], its).to_numpy() == pytest.approx(
        (noted["odometer_read"] / per).to_numpy()
    )
    assert counted(shown(noted["odometer"], its), its).to_numpy() == pytest.approx(
        noted["odometer"].to_numpy()
    )
