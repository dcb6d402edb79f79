"""Readings far from what the forecast expected are marked, and settled by a second one."""

import numpy as np
import pandas as pd
import pytest

from ingest.verdicts.remeasure import (
    AGAIN,
    AS_EXPECTED,
    CONFIRMED,
    NOT_CONFIRMED,
    measure_again,
    news,
    unexpected,
)

POINTS = pd.DataFrame(
    {"point": ["H"], "new_value": [0.0], "condemning_limit": [8.0], "gauge_sd": [0.1], "per_base": [1.0]}
)
# Expected wear 1 mm for each 1,000 mi, with a spread of 0.2 mm (p90 - p50 = 0.2 x 1.28).
PATH = pd.DataFrame({"point": ["H", "H"], "odometer": [1000.0, 5000.0], "p50": [1.0, 5.0]}).assign(
    p10=lambda f: f["p50"] - 0.2 * 1.2815515655446004, p90=lambda f: f["p50"] + 0.2 * 1.2815515655446004
)


def readings(*rows: tuple[str, float, float]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["date", "odometer", "value"]).assign(point="H")
    frame["date"] = pd.to_datetime(frame["date"]).astype("datetime64[us]")
    return frame


def test_the_expectation_is_that_of_the_path_with_the_gauge_added():
    out = measure_again(readings(("2001-01-01", 2000, 2.1)), PATH, POINTS).iloc[0]
    assert out["expected"] == pytest.approx(2.0)
    assert out["expected_sd"] == pytest.approx(np.hypot(0.2, 0.1))
    assert out["state"] == AS_EXPECTED


def test_four_standard_deviations_off_is_marked_and_less_is_not():
    sd = np.hypot(0.2, 0.1)
    out = measure_again(
        readings(("2001-01-01", 2000, 2 + 4.1 * sd), ("2001-01-01", 2000, 2 + 3.9 * sd)), PATH, POINTS
    )
    assert out["state"].tolist()[1] == AS_EXPECTED
    assert measure_again(readings(("2001-01-01", 2000, 2 - 4.1 * sd)), PATH, POINTS)["state"].tolist() == [
        AGAIN
    ]


def test_two_that_stand_off_alike_confirm_each_other():
    out = measure_again(readings(("2001-01-01", 2000, 4.0), ("2001-02-01", 2100, 4.2)), PATH, POINTS)
    assert out["state"].tolist() == [CONFIRMED, CONFIRMED]


def test_two_that_stand_off_differently_stay_marked():
    out = measure_again(readings(("2001-01-01", 2000, 4.0), ("2001-02-01", 2100, 7.0)), PATH, POINTS)
    assert out["state"].tolist() == [AGAIN, AGAIN]


def test_a_later_one_as_expected_does_not_confirm_and_an_earlier_one_settles_nothing():
    later = measure_again(readings(("2001-01-01", 2000, 4.0), ("2001-02-01", 2100, 2.1)), PATH, POINTS)
    assert later["state"].tolist() == [NOT_CONFIRMED, AS_EXPECTED]
    earlier = measure_again(readings(("2001-02-01", 2000, 4.0), ("2001-01-01", 1900, 1.9)), PATH, POINTS)
    assert earlier["state"].tolist() == [AGAIN, AS_EXPECTED]


def test_a_coarse_gauge_does_not_let_an_expected_reading_confirm_an_odd_one():
    """2.3 mm off is 4.3 sd; a later one, 0.5 mm off, is as expected, though near enough to agree."""
    coarse = POINTS.assign(gauge_sd=0.5)
    out = measure_again(readings(("2001-01-01", 2000, 4.3), ("2001-02-01", 2000, 2.5)), PATH, coarse)
    assert out["state"].tolist() == [NOT_CONFIRMED, AS_EXPECTED]


def test_beyond_the_path_nothing_is_expected():
    out = measure_again(readings(("2001-01-01", 9000, 50.0), ("2001-01-01", 500, 50.0)), PATH, POINTS)
    assert out["state"].tolist() == [AS_EXPECTED, AS_EXPECTED]
    assert out["expected"].isna().all()


def test_each_reading_is_held_against_the_forecast_before_it(add, known, store):
    head = "point,date,value,unit,odometer\n"
    add(readings=head + "HOLLOW,2001-02-01,0.07,in,10200\n")
    assert unexpected(store).empty
    path = pd.DataFrame(
        {"point": "HOLLOW", "odometer": [10000.0, 12000.0], "p10": [0.0, 0.02], "p50": [0.01, 0.03]}
    )
    store.save_run("forecast", {}, {"path": path.assign(p90=[0.02, 0.04])})
    add(readings=head + "HOLLOW,2001-06-01,0.072,in,10800\nHOLLOW,2001-07-01,0.02,in,11000\n")
    found = unexpected(store)
    assert found["value"].tolist() == pytest.approx([0.072])
    assert found["date"].dt.strftime("%Y-%m-%d").tolist() == ["2001-06-01"]
    assert found["state"].tolist() == [NOT_CONFIRMED]
    assert found["expected"].iloc[0] == pytest.approx(0.01 + 0.02 * 800 / 2000)


def test_a_second_reading_settles_it_though_a_forecast_was_made_in_between(add, known, store):
    head = "point,date,value,unit,odometer\n"
    path = pd.DataFrame(
        {"point": "HOLLOW", "odometer": [10000.0, 12000.0], "p10": [0.0, 0.02], "p50": [0.01, 0.03]}
    )
    path = path.assign(p90=[0.02, 0.04])
    store.save_run("forecast", {}, {"path": path})
    add(readings=head + "HOLLOW,2001-06-01,0.2,in,10800\n")
    assert unexpected(store)["state"].tolist() == [AGAIN]
    store.save_run("forecast", {}, {"path": path.assign(p10=0.1, p50=0.15, p90=0.2)})
    add(readings=head + "HOLLOW,2001-07-01,0.21,in,11000\n")
    found = unexpected(store)
    assert found["state"].tolist() == [CONFIRMED]
    assert found["date"].dt.strftime("%Y-%m-%d").tolist() == ["2001-06-01"]


HEAD = "point,date,value,unit,odometer\n"
EXPECTED = pd.DataFrame(  # about 0.02 in at 11,000 mi
    {"odometer": [10000.0, 12000.0], "p10": [0.0, 0.02], "p50": [0.01, 0.03], "p90": [0.02, 0.04]}
)


def forecast(store, as_of="2001-05-01", **about):
    path = pd.concat([EXPECTED.assign(point=name) for name in ("HOLLOW", "THICK")])
    return store.save_run("forecast", {"as_of": as_of, **about}, {"path": path})


def test_after_work_that_the_forecast_did_not_know_nothing_is_expected(add, known, store):
    forecast(store)
    add(work="point,date,action\nHOLLOW,2001-06-01,renewed\n")
    add(readings=HEAD + "HOLLOW,2001-05-20,0.2,in,10700\nHOLLOW,2001-06-10,0.25,in,10800\n")
    assert unexpected(store)["date"].dt.strftime("%m-%d").tolist() == ["05-20"]


def test_work_that_the_forecast_knew_is_in_its_path(add, known, store):
    add(work="point,date,action\nHOLLOW,2001-04-01,renewed\n")
    forecast(store)
    add(readings=HEAD + "HOLLOW,2001-06-10,0.25,in,10800\n")
    assert unexpected(store)["state"].tolist() == [AGAIN]


def test_a_look_back_in_time_is_not_what_was_expected_since(add, known, store):
    forecast(store)
    add(readings=HEAD + "HOLLOW,2001-05-20,0.02,in,10700\n")
    wide = EXPECTED.assign(point="HOLLOW", p10=-1.0, p90=1.0)
    store.save_run("forecast", {"as_of": "2001-02-01"}, {"path": wide})
    add(readings=HEAD + "HOLLOW,2001-06-10,0.16,in,10800\n")
    assert unexpected(store)["state"].tolist() == [AGAIN]


def test_only_the_points_asked_for(add, known, store):
    forecast(store)
    add(readings=HEAD + "HOLLOW,2001-06-10,0.25,in,10800\nTHICK,2001-06-10,3.4,in,10800\n")
    assert set(unexpected(store)["point"]) == {"HOLLOW", "THICK"}
    only = unexpected(store, points=["THICK"]).iloc[0]
    assert (only["point"], only["unit"]) == ("THICK", "in")
    assert only["value"] == pytest.approx(3.4)


def test_news_of_a_batch_are_its_own_readings_and_those_it_settles(add, known, store):
    assert news(store, 1).empty  # no forecast yet
    forecast(store)
    add(readings=HEAD + "HOLLOW,2001-06-10,0.25,in,10800\nTHICK,2001-06-10,3.4,in,10800\n")
    assert news(store, 2)[["new", "state"]].to_numpy().tolist() == [[True, AGAIN]] * 2
    add(readings=HEAD + "HOLLOW,2001-06-12,0.25,in,10810\n")
    said = news(store, 3)
    assert said[["point", "new", "state"]].to_numpy().tolist() == [
        ["HOLLOW", True, CONFIRMED],
        ["HOLLOW", False, CONFIRMED],
    ]
    add(readings=HEAD + "HOLLOW,2001-06-14,0.02,in,10820\n")
    assert news(store, 4).empty  # settled before; the new one is as expected


def test_the_state_at_a_past_version_is_that_of_then(add, known, store):
    forecast(store)
    add(readings=HEAD + "HOLLOW,2001-06-10,0.25,in,10800\n")
    add(readings=HEAD + "HOLLOW,2001-06-12,0.25,in,10810\n")
    assert unexpected(store, 2)["state"].tolist() == [AGAIN]
    assert unexpected(store, 3)["state"].tolist() == [CONFIRMED] * 2
