"""Readings that fall or stand still: no rate against wear, miles that the gauge bears out, and a word."""

import numpy as np
import pandas as pd
import pytest
from fleets.gauge_worlds import World, simulated

from models.forecast.run import make_forecast

LIMIT = 2.5
RUN = 10_000.0  # miles between readings
EVERY_YEAR = 365


@pytest.fixture
def forecast(tables):
    """The first of some wear points, from readings a year and 10,000 miles apart each."""

    def first(*lives, limit=LIMIT):
        names = [f"P{i}" for i in range(len(lives))]
        readings = [
            (name, EVERY_YEAR * (i + 1), value, RUN * (i + 1))
            for name, values in zip(names, lives, strict=True)
            for i, value in enumerate(values)
        ]
        made = make_forecast(tables(readings, [], points=[(name, 0.0, limit) for name in names]))
        row = made.frames["forecast"].iloc[0]
        return row, made.frames["alarms"]

    return first


def named(row, alarms):
    about = alarms[alarms["kind"] == "no wear"]
    return row["point"] in set(about["point"]) and "measure again" in row["flags"]


@pytest.mark.parametrize("values", [(0.5, 0.45, 0.4), (0.5, 0.5, 0.5)], ids=["falling", "standing still"])
def test_a_life_alone_that_shows_no_wear_has_miles_that_its_gauge_bears_out(forecast, values):
    # Before: a rate below zero, half of 200 million miles, 5 % figures of a quarter million and 8.6 million.
    row, alarms = forecast(values)
    assert row["rate_per_1000_mi"] > 0
    left, worn = LIMIT - values[-1], values[-1] / (RUN * len(values))
    # Worn evenly since it was new it has some 120,000 mi; the 5 % figure is on the careful side of that.
    assert 0.2 * left / worn < row["miles_p05"] < left / worn
    # A gauge of 0.012 of the limit (models.wear.relative.USUAL_GAUGE) leaves the slope of three readings
    # uncertain by this much; a rate of a tenth of it would be no more than chance.
    unseen = 0.012 * LIMIT / (RUN * np.sqrt(2))
    assert left / (3 * worn) < row["miles_p50"] < left / (0.1 * unseen)
    assert np.isfinite(row["miles_p95"])
    assert "straight line counts" not in row["method"]
    assert named(row, alarms)


def test_readings_below_the_new_value_do_not_promise_endless_miles(forecast):
    row, alarms = forecast((0.0, -0.03, -0.08))  # before: 240 million miles at 5 %
    assert row["rate_per_1000_mi"] > 0
    assert row["miles_p05"] < 1e6
    assert named(row, alarms)


def test_a_whole_family_that_stands_still_is_in_doubt_and_named(forecast):
    row, alarms = forecast(*[(0.5, 0.5, 0.5)] * 3)  # before: 4,450,594 mi at 5 and at 50 %
    assert row["miles_p95"] > 5 * row["miles_p05"]
    assert row["miles_p05"] < 1.5e6
    assert named(row, alarms)


def test_one_that_falls_among_sisters_that_wear_is_named_and_they_are_not(forecast):
    rates = np.array([0.2, 0.25, 0.3, 0.22])
    sisters = [tuple(rate * np.arange(1, 5) + (0.02, -0.02, 0.01, -0.01)) for rate in rates]
    row, alarms = forecast((0.5, 0.45, 0.4, 0.35), *sisters)
    assert named(row, alarms)
    assert set(alarms.loc[alarms["kind"] == "no wear", "point"]) == {"P0"}
    assert alarms.loc[alarms["kind"] == "no wear", "value"].tolist() == [0.5, 0.45, 0.4, 0.35]
    assert row["rate_per_1000_mi"] > 0


def test_a_life_that_wears_is_not_named(forecast):
    row, alarms = forecast((0.25, 0.5, 0.78))
    assert not (alarms["kind"] == "no wear").any()
    assert "straight line counts" in row["method"]
    assert row["miles_p50"] == pytest.approx((LIMIT - 0.77) / 0.026 * 1000, rel=0.1)


def test_hardly_a_part_is_named_where_nothing_is_wrong():
    # Allowed is one alarm of any kind an engine in ten years; here 12 a year.
    alarms = make_forecast(simulated(World(engines=20), 11).tables).frames["alarms"]
    assert isinstance(alarms, pd.DataFrame)
    assert (alarms["kind"] == "no wear").sum() <= 1
