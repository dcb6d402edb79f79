"""An alarm stands wherever people look: flags, JSON, printed forecast, first page, measure again, ``add``."""

import json
import shutil
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner
from pages.without_browser import opened, said
from streamlit.testing.v1 import AppTest

import dashboard
from dashboard.cli import main
from ingest.store import Store


def run(store, *arguments):
    done = CliRunner().invoke(main, [arguments[0], "--db", str(store), *map(str, arguments[1:])])
    assert done.exit_code == 0, done.output
    return done.output


@pytest.fixture(scope="module")
def forecast(demo_store, tmp_path_factory):
    """A copy of the demo's store, forecast anew; what that said as JSON and in print."""
    store = tmp_path_factory.mktemp("alarms") / "demo.duckdb"
    shutil.copy(demo_store, store)
    printed = run(store, "forecast")
    return store, json.loads(run(store, "forecast", "--json")), printed


@pytest.fixture
def pages(forecast, monkeypatch):
    monkeypatch.setenv("MILESLEFT_DB", str(forecast[0]))
    monkeypatch.delenv("MILESLEFT_ROLES", raising=False)
    return AppTest.from_file(Path(dashboard.__file__).with_name("app.py"), default_timeout=120)


def test_every_alarm_is_a_flag_of_its_points_and_names_its_readings(forecast):
    store, made, _ = forecast
    flags = {row["point"]: row["flags"] for row in made["forecast"]}
    readings = Store(store).read("readings")
    known = set(zip(readings["point"], readings["date"], strict=True))
    assert len(made["alarms"]) > 5
    for alarm in made["alarms"]:
        assert set(alarm) == {"kind", "vehicle", "points", "since", "words", "settled", "readings"}
        assert alarm["kind"] in alarm["words"]
        assert alarm["readings"], alarm
        for point in alarm["points"]:
            assert alarm["words"] in flags[point]
        for read in alarm["readings"]:
            assert (read["point"], pd.Timestamp(read["date"])) in known


def test_open_alarms_are_printed_and_stand_on_both_pages(forecast, pages):
    _, made, printed = forecast
    waiting = [alarm for alarm in made["alarms"] if not alarm["settled"]]
    counted = "1 alarm" if len(waiting) == 1 else f"{len(waiting)} alarms"
    assert 0 < len(waiting) <= 8
    after = printed.partition("\nAlarms:\n")[2]
    assert all(alarm["words"] in after for alarm in waiting)
    for address in ({"view": "first"}, {"view": "batch", "part": "again"}):
        page = opened(pages, **address)
        assert f"{counted} of this forecast." in said(page)
        shown = pd.concat([table.value for table in page.dataframe])
        assert {alarm["words"] for alarm in made["alarms"]} <= set(shown["What"])


def test_alarms_of_one_vehicle_alone_where_one_is_asked_for(forecast, pages):
    store, made, _ = forecast
    own = json.loads(run(store, "forecast", "--json", "--vehicle", "Hobnail"))["alarms"]
    assert own == [alarm for alarm in made["alarms"] if alarm["vehicle"] == "Hobnail"]
    waiting = sum(not alarm["settled"] for alarm in own)
    assert f"{waiting} alarm" in said(opened(pages, "first", vehicle="Hobnail"))


def test_add_names_the_alarms_of_the_points_that_were_read(forecast, tmp_path):
    store, made, _ = forecast
    alarm = next(alarm for alarm in made["alarms"] if not alarm["settled"])
    last = alarm["readings"][0]
    file = tmp_path / "readings.csv"
    file.write_text(f"point,date,value,unit\n{last['point']},2026-11-20,{last['value']},{last['unit']}\n")
    changed = tmp_path / "changed.duckdb"
    shutil.copy(store, changed)
    assert f"{alarm['vehicle']}, {last['point']}: {alarm['words']}" in run(changed, "add", file)
