"""Readings at one of two engines, one with a new counter in km: each counter is its own."""

import json
import shutil
from datetime import UTC, datetime, timedelta

import pytest
from knocking.servers import serving

from dashboard.pit.confirmed import take_in
from dashboard.pit.entries import entries_of
from dashboard.pit.rounds import round_of
from dashboard.services.forecasting import run_forecast
from ingest.store import Store
from ingest.verdicts.add import add_files

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
def store(two_engines, tmp_path):
    shutil.copy(two_engines, tmp_path / "two.duckdb")
    return Store(tmp_path / "two.duckdb")


def test_the_odometer_is_what_the_new_counter_shows_in_its_own_unit(store):
    its = round_of(store, "Birch", TODAY)["odometer"]
    assert its["unit"] == "km"
    assert its["last"] == f"500 km on {TODAY - timedelta(days=20):%-d %B %Y}"
    assert its["least"] <= 500 <= 510 <= its["most"]
    assert its["most"] < 80_510  # a running total, typed for the new counter
    assert round_of(store, "Ash", TODAY)["odometer"]["unit"] == "mi"


def sent(store, odometer):
    said = {
        "id": f"two-{odometer}".replace(" ", "-"),
        "kind": "reading",
        "point": "Birch-2",
        "date": str(TODAY),
    }
    body = {"entries": [said | {"value": "0.16", "unit": "in", "odometer": odometer}]}
    return take_in(store, entries_of(json.dumps(body).encode(), 9), "a phone", TODAY)[0]


def test_a_figure_within_the_bounds_of_the_round_is_taken_and_one_outside_is_held_back(store):
    its = round_of(store, "Birch", TODAY)["odometer"]
    assert sent(store, f"{its['most'] + 20:.0f} km")["verdict"] == "held back"
    assert sent(store, "510 km")["verdict"] == "accepted"
    row = store.read("readings").sort_values("row_id").iloc[-1]
    assert (row["point"], row["odometer_text"]) == ("Birch-2", "510 km")
    assert row["odometer"] == pytest.approx(80_510 * 0.621371, rel=1e-4)


@pytest.mark.browser
def test_on_the_phone_an_odometer_is_not_taken_for_another_engine_and_a_wrong_one_is_doubted(store, phone):
    with serving(store.path) as address:
        page = phone()
        page.goto(f"{address}/pit/?vehicle=Birch")
        page.wait_for_selector("#setup-box[open]")
        page.fill("#observer", "A. Reader")
        page.fill("#odometer", "80510")
        assert "does not fit its last entry" in page.inner_text("#odometer-doubt")
        page.fill("#odometer", "510")
        assert page.inner_text("#odometer-doubt") == ""
        page.select_option("#vehicle", "Ash")
        page.wait_for_function("() => document.getElementById('odometer-label').textContent.includes('[mi]')")
        assert page.input_value("#odometer") == ""
        page.select_option("#vehicle", "Birch")
        page.wait_for_function("() => document.getElementById('odometer-label').textContent.includes('[km]')")
        page.fill("#odometer", "510")
        page.tap("#begin")
        page.wait_for_selector("#setup-box", state="hidden")
        page.goto(f"{address}/pit/?vehicle=Ash")
        page.wait_for_selector("body[data-ready]")
        page.tap("#setup")
        assert page.input_value("#odometer") == ""
        assert page.input_value("#observer") == "A. Reader"
