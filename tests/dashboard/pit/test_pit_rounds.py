"""What a phone is given: the round in walking order, no last or expected value that can be read."""

import json
from datetime import date

import numpy as np
import pandas as pd
import pytest

from dashboard.pit.confirmed import take_in
from dashboard.pit.due import read_after
from dashboard.pit.entries import entries_of
from dashboard.pit.rounds import round_of, vehicles
from dashboard.pit.sealed import CELLS, fits, seal
from dashboard.words.walking import walked
from ingest.errors import NotPossible
from ingest.store import Store
from ingest.verdicts.remeasure import forecasts_in_order, measure_again

TODAY = date(2023, 11, 1)


@pytest.fixture(scope="module")
def round_told(made_store):
    return round_of(Store(made_store), "Nettle", TODAY)


def test_one_walks_down_the_left_side_and_back_up_the_right():
    positions = [
        "driver 2 right",
        "driver 1 left",
        "tender 1 left",
        "driver 1 right",
        "driver 2 left",
        "bell",
    ]
    points = pd.DataFrame(
        {
            "point": list("abcdef"),
            "component": "tire",
            "position": positions,
            "quantity": "hollow",
        }
    )
    assert list(walked(points)["position"]) == [
        "driver 1 left",
        "driver 2 left",
        "tender 1 left",
        "driver 2 right",
        "driver 1 right",
        "bell",
    ]


def test_every_wear_point_is_in_the_round_once(made_store, round_told):
    points = Store(made_store).read("wear_points")["point"]
    assert sorted(each["point"] for each in round_told["points"]) == sorted(points)
    assert [each["vehicle"] for each in vehicles(Store(made_store))] == ["Nettle"]


def test_nothing_that_was_read_or_is_expected_can_be_read_in_it(made_store, round_told):
    """Each number of the round, in any unit, is none of the last readings and none of the expected values."""
    store = Store(made_store)
    readings = store.read("readings").sort_values("date")
    run = str(forecasts_in_order(store)["run_id"].iloc[-1])
    forecast = store.read_run(run, "forecast").set_index("point")
    points = store.read("wear_points").set_index("point")
    for told in round_told["points"]:
        sealed = {k: v for k, v in (told["sealed"] or {}).items() if k != "marks"}
        shown = {k: v for k, v in told.items() if k != "sealed"} | sealed
        numbers = [v for v in shown.values() if isinstance(v, float) and v]
        own = readings[readings["point"] == told["point"]]["value"]
        secret = [*(own * points.loc[told["point"], "per_base"]), forecast.loc[told["point"], "last_value"]]
        for value in filter(np.isfinite, secret):
            assert not np.isclose(numbers, value, rtol=1e-3).any(), (told["point"], value)
    text = json.dumps({k: v for k, v in round_told.items() if k != "rules"})
    for word in ("miles_p", "expected", "last_value", "USD", "cost"):
        assert word not in text


def test_a_range_that_is_sealed_answers_for_a_number_as_the_batch_is_judged(made_store, round_told):
    store = Store(made_store)
    run = str(forecasts_in_order(store)["run_id"].iloc[-1])
    path, points = store.read_run(run, "path"), store.read("wear_points")
    log = store.read("mileage")
    odometer = float(log["odometer"].iloc[-1])
    rng = np.random.default_rng(7)
    asked = [each for each in round_told["points"] if each["sealed"]]
    assert len(asked) == 6
    for told in asked:
        per = float(points.set_index("point").loc[told["point"], "per_base"])
        values = rng.uniform(-0.3, 0.8, 400)
        rows = pd.DataFrame({"point": told["point"], "date": pd.Timestamp(TODAY), "value": values / per})
        # One at a time: readings of one day would confirm each other.
        states = [
            measure_again(rows.iloc[[i]].assign(odometer=odometer), path, points)["state"].iloc[0]
            for i in range(0, 400, 8)
        ]
        here = [fits(float(values[i]), told["sealed"]) for i in range(0, 400, 8)]
        assert here == [state == "as expected" for state in states]


def test_the_seal_ends_where_the_range_ends():
    sealed = seal(0.31, 0.47, "2026-11-29 N-D1L")
    assert len(sealed["marks"]) == CELLS
    assert fits(0.3101, sealed)
    assert fits(0.4699, sealed)
    assert not fits(0.3099, sealed)
    assert not fits(0.4701, sealed)
    assert 0 <= sealed["from"] < sealed["width"]  # where a cell begins, not which


@pytest.mark.parametrize(("low", "high"), [(np.nan, np.nan), (0.2, 0.2), (0.3, 0.1)])
def test_where_nothing_is_expected_nothing_is_sealed(low, high):
    assert seal(low, high, "x") is None


def test_due_is_what_was_never_read_and_what_was_read_long_ago(made_store, round_told):
    due = {each["point"]: each["due"] for each in round_told["points"]}
    assert due["N-SPRING"] == "never read"
    assert due["N-D1L-HOLLOW"] == ""
    later = round_of(Store(made_store), "Nettle", date(2023, 9, 15 + 1).replace(year=2024))
    assert read_after() == 365
    assert {each["due"] for each in later["points"]} == {"never read", "last read 12 months ago"}


def test_a_vehicle_without_a_log_needs_its_odometer_and_one_with_a_log_as_the_batch_is_judged(pit_store):
    assert round_of(pit_store, "Nettle", TODAY)["odometer"]["needed"] is bool(needed_by_a_batch(pit_store))
    with pit_store.transaction("no log", "a test", {}) as batch:
        log = batch.stored()["mileage"]
        batch.replace("mileage", log["row_id"], log.iloc[:0])
    assert "has no mileage log" in needed_by_a_batch(pit_store)
    assert round_of(pit_store, "Nettle", TODAY)["odometer"]["needed"] is True


def needed_by_a_batch(store):
    """Why a reading without an odometer is held back, in the words of the batch; empty: it is taken."""
    sent = {"id": f"needed-{store.version():05d}", "kind": "reading", "point": "N-SPRING", "date": str(TODAY)}
    body = json.dumps({"entries": [{**sent, "value": "0.4", "unit": "in"}]}).encode()
    (told,) = take_in(store, entries_of(body, 1), "R. T.", TODAY)
    return told["reasons"]


def test_a_vehicle_that_is_none_is_said_plainly(made_store):
    with pytest.raises(NotPossible, match="Nothing is measured on a vehicle 'Ghost'"):
        round_of(Store(made_store), "Ghost", TODAY)
