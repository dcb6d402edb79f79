"""Readings at one of two engines, one with a new counter in km: the engine stays, the counter is its own."""

import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from pages.without_browser import counts, opened, said, widget
from streamlit.testing.v1 import AppTest

from dashboard.services.forecasting import run_forecast
from ingest.store import Store
from ingest.verdicts.add import add_files

APP = str(Path(__file__).parents[3] / "dashboard" / "app.py")
TODAY = datetime.now(UTC).date()
HEAD = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit,limit_source,gauge_sd\n"


def day(ago: int) -> str:
    return str(TODAY - timedelta(days=ago))


@pytest.fixture(scope="module")
def two_engines(tmp_path_factory):
    """Ash stands at 9,000 mi. Birch ran 80,000 km, then its counter was replaced; it shows 500 km since."""
    folder = tmp_path_factory.mktemp("two")
    log = [f"Ash,{day(ago)},{miles},mi,," for ago, miles in ((1100, 0), (700, 4500), (20, 9000))]
    log += [f"Birch,{day(ago)},{km},km,," for ago, km in ((1100, 70000), (700, 76000), (80, 80000))]
    log += [f"Birch,{day(60)},0,km,0,replaced", f"Birch,{day(20)},500,km,,"]
    points = [
        f"{name}-{n},{name},driver tire,driver {n} left,tread hollow,in,0,0.3125,49 CFR 230.113(h),0.01"
        for name in ("Ash", "Birch")
        for n in (1, 2)
    ]
    readings = [
        f"{name}-{n},{day(ago)},{value}"
        for name in ("Ash", "Birch")
        for n in (1, 2)
        for ago, value in ((1000, 0.02), (700, 0.07), (400, 0.1), (100, 0.15))
    ]
    files = {
        "vehicles": "vehicle,arrangement\nAsh,0-4-0\nBirch,0-4-0\n",
        "wear_points": HEAD + "\n".join(points),
        "mileage": "vehicle,date,odometer,unit,distance,event\n" + "\n".join(log),
        "readings": "point,date,value\n" + "\n".join(readings),
    }
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text)
    store = Store(folder / "store.duckdb")
    report = add_files(store, [folder / f"{name}.csv" for name in files])
    assert report.count("held back") == 0, report.held_back["reasons"].tolist()
    run_forecast(store)
    return store.path


@pytest.fixture
def db(two_engines, tmp_path, monkeypatch):
    path = tmp_path / "two.duckdb"
    shutil.copy(two_engines, path)
    monkeypatch.setenv("MILESLEFT_DB", str(path))
    monkeypatch.delenv("MILESLEFT_ROLES", raising=False)
    return path


@pytest.fixture
def at_birch(db):
    """The page, Birch picked."""
    page = opened(AppTest.from_file(APP, default_timeout=30), "engine")
    assert page.header[0].value == "Readings of Ash"
    page.session_state["engine-vehicle"] = "Birch"
    page.query_params["reading-at"] = "Birch"  # what the widget's callback writes
    page.run()
    assert page.header[0].value == "Readings of Birch"
    return page


@pytest.mark.parametrize("kept_in_address", [True, False])
def test_the_engine_stays_when_one_looks_at_another_page_and_comes_back(at_birch, kept_in_address):
    page = at_birch
    for view in ("point", "engine"):
        page.switch_page(f"views/{view}.py")
        if kept_in_address:
            page.query_params["reading-at"] = "Birch"
        page.run()
    assert not page.exception, page.exception
    assert page.header[0].value == "Readings of Birch"


def read_at_birch(page, odometer):
    page.session_state["engine-gear-Birch"] = {"place": "0:driver-2-L"}
    page.run()
    page.number_input(key="engine-odometer-Birch").set_value(odometer).run()
    page.text_input(key="engine-value-Birch-2").set_value("0.16").run()
    return page


def test_the_odometer_is_what_the_new_counter_shows_in_its_own_unit(at_birch, db):
    page = read_at_birch(at_birch, 510.0)
    assert page.number_input(key="engine-odometer-Birch").label == "Odometer, as the instrument shows it [km]"
    assert f"Its last entry in the log: 500 km on {TODAY - timedelta(days=20):%-d %B %Y}" in said(page)
    assert "held back" not in said(page)
    assert "Expected now: 0.1" in said(page)
    widget(page.button, "Keep this reading").click().run()
    widget(page.button, "Save 1 as a batch").click().run()
    assert counts(page)["Accepted"] == "1", said(page)
    row = Store(db).read("readings").sort_values("row_id").iloc[-1]
    assert (row["point"], row["odometer_text"]) == ("Birch-2", "510 km")
    assert row["odometer"] == pytest.approx(80_510 * 0.621371, rel=1e-4)


def test_a_running_total_typed_for_the_new_counter_is_said_to_be_wrong_before_it_is_stored(at_birch):
    page = read_at_birch(at_birch, 80_510.0)
    assert "This will be held back: the odometer does not fit the mileage log: it stood at 500 km" in said(
        page
    )


def test_what_was_typed_for_one_engine_is_not_there_for_another(at_birch):
    page = read_at_birch(at_birch, 510.0)
    page.session_state["engine-vehicle"] = "Ash"
    page.query_params["reading-at"] = "Ash"
    page.session_state["engine-gear-Ash"] = {"place": "0:driver-2-L"}
    page.run()
    assert page.number_input(key="engine-odometer-Ash").value is None
    assert page.text_input(key="engine-value-Ash-2").value == ""
    assert "Ash: driver 2 left" in said(page)
