"""The forecast of a past day is the one that could have been made on it: the same store without anything
later gives the same table, to the last digit."""

import shutil

import duckdb
import numpy as np
import pandas as pd
import pytest

from dashboard.services import one_run
from dashboard.services.forecasting import forecast_and_store
from dashboard.services.scoring import run_score
from ingest.schema import TABLES
from ingest.store import Store
from ingest.store.known_by import DAY_OF
from ingest.verdicts.add import add_files

AHEAD_ONLY = {"funds", "trips", "capacities", "lead_times", "costs", "pictures", "answers", "layouts"}
"""Tables with a day that no forecast reads."""


def generated(seed, folder):
    """Two vehicles: a log now and then, readings that note no odometer, tires that are cut and pins that are
    renewed, now and then unrecorded; a plan; findings."""
    rng = np.random.default_rng(seed)
    log, readings, work, findings = [], [], [], []
    points = [
        f"{v}{kind}{i},{v},{part},{quantity},mm,{new},{limit}"
        for v in "AB"
        for kind, part, quantity, new, limit in (
            ("T", "driver tire", "thickness", 90, 60),
            ("P", "crank pin", "clearance", 0, 2),
        )
        for i in range(3)
    ]
    for v in "AB":
        figure = int(rng.integers(20_000, 40_000))
        for year in range(2008, 2020):
            for month in rng.choice([4, 5, 7, 8, 10], 2, replace=False):
                figure += int(rng.integers(800, 2500))
                log.append(f"{v},{year}-{month:02d}-{rng.integers(1, 28):02d},{figure},mi")
    for name in (p.split(",")[0] for p in points):
        wear = 0.0
        for year in range(2008, 2020):
            wear += rng.uniform(1.0, 2.2) if "T" in name else rng.uniform(0.12, 0.3)
            day = f"{year}-{rng.integers(3, 12):02d}-{rng.integers(1, 28):02d}"
            value = 90 - wear if "T" in name else wear
            readings.append(f"{name},{day},{value + rng.normal(0, 0.03):.2f},mm")
            if "T" in name and rng.random() < 0.15:
                work.append(f"{name},{year}-12-20,cut,{90 - wear:.2f},{90 - wear - 3:.2f},mm")
                wear += 3.0
            elif "P" in name and wear > 1.3:
                wear = 0.0
                if rng.random() < 0.7:
                    work.append(f"{name},{year}-12-20,renewed,,,")
    for year in range(2009, 2020):
        findings.append(f"A,{year}-01-15,driver tire,6,{rng.integers(0, 2)}")
    plan = [f"{v},2020-{month:02d},{600 + 10 * month}" for v in "AB" for month in range(4, 11)]
    files = {
        "vehicles": ["vehicle,class", "A,K", "B,K"],
        "wear_points": ["point,vehicle,component,quantity,unit,new_value,condemning_limit", *points],
        "mileage": ["vehicle,date,odometer,unit", *sorted(log)],
        "readings": ["point,date,value,unit", *readings],
        "work": ["point,date,action,value_before,value_after,unit", *work],
        "findings": ["vehicle,date,component,examined,defective", *findings],
        "usage": ["vehicle,month,miles_planned", *plan],
    }
    for name, lines in files.items():
        (folder / f"{name}.csv").write_text("\n".join(lines) + "\n")
    store = Store(folder / "store.duckdb")
    add_files(store, [folder / f"{name}.csv" for name in files])
    few = {table: len(store.read(table)) for table in ("mileage", "readings", "work", "usage")}
    assert min(few.values()) >= 5, few
    return store


def cut_after(store, day, folder):
    """A copy of the store without any row of a later day and without any run."""
    copy = folder / f"until-{day}.duckdb"
    shutil.copy(store.path, copy)
    with duckdb.connect(str(copy)) as connection:
        for table, column in DAY_OF.items():
            connection.execute(f'DELETE FROM {table} WHERE "{column}" > CAST(? AS DATE)', [day])
        connection.execute("DELETE FROM run")
    return Store(copy)


def told(store, day, **options):
    return forecast_and_store(store, pd.Timestamp(day), **options)[1]


@pytest.fixture(scope="module", params=["demo", 1])
def store(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("later")
    if request.param == "demo":
        shutil.copy(request.getfixturevalue("demo_store"), folder / "demo.duckdb")
        made = Store(folder / "demo.duckdb")
    else:
        made = generated(request.param, folder)
    run_score(made, 1, slow=False)
    return made


@pytest.mark.parametrize("day", ["2012-11-30", "2014-06-17"])
def test_the_forecast_of_a_day_is_the_same_without_anything_later(store, day, tmp_path):
    whole = told(store, day)
    assert min(store.read(table)["date"].max() for table in ("mileage", "readings")) > pd.Timestamp(day)
    assert whole["miles_p50"].notna().sum() >= 10
    pd.testing.assert_frame_equal(whole, told(cut_after(store, day, tmp_path), day), check_exact=True)


def test_a_large_store_cut_in_runs_knows_nothing_of_later_either(tmp_path, monkeypatch):
    from dashboard.services import forecast_runs, forecasting

    store, day = generated(3, tmp_path), "2014-07-01"
    for module in (forecasting, forecast_runs, one_run):
        monkeypatch.setattr(module, "AT_ONCE", 5)
    cut = cut_after(store, day, tmp_path)
    pd.testing.assert_frame_equal(told(store, day), told(cut, day), check_exact=True)


def test_a_score_that_rests_on_later_readings_stretches_no_interval_of_an_earlier_day(store):
    newest = str(store.runs("score")["as_of"].iloc[0])[:10]
    assert one_run.latest_stretch(store, pd.Timestamp("2012-11-30")).empty
    assert len(one_run.latest_stretch(store, pd.Timestamp(newest)))
    assert one_run.latest_stretch(store).equals(one_run.latest_stretch(store, pd.Timestamp(newest)))


def test_every_table_with_a_day_says_since_when_its_rows_are_known():
    dated = {t.name for t in TABLES.values() if {"date", "month", "since"} & {c.name for c in t.columns}}
    assert dated - set(DAY_OF) == AHEAD_ONLY & dated
    read = {name for name in one_run.TABLES if name in dated}
    assert read <= set(DAY_OF)
