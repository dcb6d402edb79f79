"""Parts that leave their own past are named, quiet ones are not; last readings beyond it are believed
together."""

import pandas as pd
import pytest
from fleets.gauge_worlds import World, simulated

from models.forecast.run import make_forecast

SINCE = pd.Timestamp("2018-09-01")


def kinds(tables):
    alarms = make_forecast(tables).frames["alarms"]
    return alarms.drop_duplicates(["kind", "vehicle", "since", "words"])


@pytest.fixture(scope="module")
def quiet():
    return kinds(simulated(World(engines=20), 11).tables)


@pytest.fixture(scope="module")
def faster():
    """The first part of the first kind of every engine loses 0.35 of its allowance more a year from a day
    on."""
    tables = simulated(World(engines=8), 2).tables
    readings, points = tables["readings"], tables["wear_points"].set_index("point")
    for point in (f"E{engine:03d}-K0-0" for engine in range(8)):
        rows = (readings["point"] == point) & (readings["date"] >= SINCE)
        years = (readings.loc[rows, "date"] - SINCE).dt.days / 365.25
        allowance = points.loc[point, "new_value"] - points.loc[point, "condemning_limit"]
        readings.loc[rows, "value"] -= 0.35 * allowance * years
    return make_forecast(tables).frames


def test_no_alarm_in_240_engine_years_of_quiet_wear(quiet):
    # Allowed is one an engine in ten years.
    assert len(quiet) <= 2


def test_parts_that_wear_faster_are_named_and_no_others(faster):
    alarms = faster["alarms"]
    named = alarms[(alarms["kind"] == "faster since") & alarms["words"].str.contains("this part|own past")]
    assert named["point"].nunique() >= 2  # others have too few readings since, or were renewed
    assert named["point"].str.endswith("K0-0").all()
    flags = faster["forecast"].set_index("point")["flags"]
    assert all(words in flags[point] for point, words in zip(named["point"], named["words"], strict=True))
    assert not named[["point", "words"]].drop_duplicates()["point"].duplicated().any()


def test_their_last_readings_are_not_set_aside_as_wild(faster):
    named = set(faster["alarms"].query("kind == 'faster since'")["point"])
    checks = faster["reading_check"]
    last = checks[checks["point"].isin(named)].sort_values("date").groupby("point", observed=True).tail(1)
    assert (last["weight"] > 0.5).mean() >= 0.75


def test_two_readings_entered_at_each_others_place_are_one_alarm():
    tables = simulated(World(engines=6), 2).tables
    readings = tables["readings"]
    one, other = "E001-K1-0", "E001-K1-1"
    day = pd.Timestamp("2020-03-17")
    rows = [readings.index[(readings["point"] == p) & (readings["date"] == day)][0] for p in (one, other)]
    readings.loc[rows, "value"] = readings.loc[rows[::-1], "value"].to_numpy()
    alarms = make_forecast(tables).frames["alarms"]
    swapped = alarms[alarms["kind"] == "swapped"]
    assert set(swapped["point"]) == {one, other}
    assert swapped["words"].str.contains("swapped between two places").all()
    assert not alarms.loc[alarms["kind"] == "odd reading", "point"].isin([one, other]).any()
