"""What two people read blind reaches the forecast; beside the gauge stands which figure is taken."""

import json
import re
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest
from pages.without_browser import opened, said
from streamlit.testing.v1 import AppTest

import dashboard
from dashboard.pit.confirmed import take_in
from dashboard.pit.entries import entries_of
from dashboard.pit.rounds import round_of
from dashboard.services.forecasting import run_forecast
from dashboard.services.one_run import task_of
from dashboard.words.gauge_words import counts_with
from ingest.verdicts.add import add_files
from models.gauges.read_twice import repeatability, sd_used

APP = str(Path(dashboard.__file__).with_name("app.py"))
FIRST = date(2023, 10, 20)
DAYS = 6
MM = 25.4


@pytest.fixture
def read_blind(pit_store, tmp_path):
    """A gauge stated at 4 thou, with which two people read one place on six days, 10 thou apart."""
    sheet = tmp_path / "gauges.csv"
    sheet.write_text("gauge,instrument,unit,repeatability,since\nG1,wheel gauge,in,0.004,2015-01-01\n")
    add_files(pit_store, [sheet])
    said = {"kind": "reading", "point": "N-D1L-HOLLOW", "unit": "in", "gauge": "G1", "odometer": "9000"}
    entries = [
        {
            **said,
            "id": f"blind-{day}-{who[0]}-entry",
            "date": str(FIRST + timedelta(day)),
            "value": value,
            "observer": who,
        }
        for day in range(DAYS)
        for who, value in (("A. Reader", "0.18"), ("B. Reader", "0.19"))
    ]
    told = take_in(
        pit_store, entries_of(json.dumps({"entries": entries}).encode(), 50), "R. T.", date(2023, 11, 1)
    )
    assert {each["verdict"] for each in told} == {"accepted"}
    return pit_store


def test_pairs_of_the_store_reach_the_forecast_and_later_ones_do_not_reach_an_earlier_day(read_blind):
    version = read_blind.version()
    told = repeatability(read_blind.read_blind())
    # Twelve readings at one figure of the odometer: one true value, eleven degrees of freedom. The mean is
    # 0.185, each is 0.005 in off: sd = sqrt(12 x 0.005^2 / 11).
    assert told["pairs"].tolist() == [11]
    assert told["sd"].iloc[0] == pytest.approx((12 * 0.005**2 / 11) ** 0.5 * MM)
    pd.testing.assert_frame_equal(task_of(read_blind, None, version).repeats, told)
    assert task_of(read_blind, pd.Timestamp(FIRST), version).repeats.empty  # one pair: too few
    assert read_blind.read_blind(until=pd.Timestamp(FIRST))["observer"].tolist() == ["A. Reader", "B. Reader"]
    assert read_blind.read_blind(version - 1).empty


def test_beside_the_gauge_stands_which_figure_is_taken_and_from_what(read_blind):
    says = {
        each["gauge"]: each["says"] for each in round_of(read_blind, "Nettle", date(2023, 11, 1))["gauges"]
    }
    used = float(sd_used(0.004, (12 * 0.005**2 / 11) ** 0.5, 11))
    assert used == pytest.approx(0.00486, abs=5e-6)  # to three decimals, as inches are shown: 0.005
    assert "counts with 0.005 in: stated 0.004 in, 11 read twice say 0.005 in" in says["G1"]


def test_where_nothing_was_read_twice_what_is_stated_counts():
    none = pd.DataFrame({"gauge": [], "pairs": [], "sd": []})
    gauge = {"gauge": "G1", "unit": "in", "repeatability": 0.004 * MM}
    assert counts_with(gauge, none) == "counts with 0.004 in, as stated"
    assert counts_with(gauge | {"repeatability": float("nan")}, none) == ""
    twice = pd.DataFrame({"gauge": ["G1"], "pairs": [12], "sd": [0.005 * MM]})
    words = counts_with(gauge | {"repeatability": float("nan")}, twice)
    assert words == "12 read twice say 0.005 in; that is set against what is stated of each wear point"


def test_the_page_of_the_wear_point_says_how_its_gauge_counts(read_blind, monkeypatch):
    monkeypatch.setenv("MILESLEFT_DB", str(read_blind.path))
    monkeypatch.delenv("MILESLEFT_ROLES", raising=False)
    run_forecast(read_blind)
    page = opened(AppTest.from_file(APP, default_timeout=60), "point", point="N-D1L-HOLLOW")
    told = said(page)
    (gauge,) = [row["says"] for row in round_of(read_blind, "Nettle", date(2023, 11, 1))["gauges"]]
    assert "11 read twice say" in gauge
    assert gauge.split("; ")[-1] in told
    assert re.search(r"takes 8 to lie within 0\.0\d+ in of what is there", told)
