"""Trains of the next season of a plan: at the same service the share found costs and risks less."""

import pandas as pd
import pytest
from fleets.planned_engines import railway

from models.plan.planner import make_plan
from models.plan.rules import Rules
from models.trips.season import season_of, share_of_season


@pytest.fixture(scope="module")
def planned():
    inputs = railway(9, 4, vehicles=("A", "B"), seed=3)
    return inputs, make_plan(inputs, Rules(risk=0.5, stop_risk=0.1))


def trains(days, vehicle):
    date = pd.date_range("2027-05-03", periods=days, freq="2D").astype("datetime64[us]")
    frame = pd.DataFrame({"date": date, "train": vehicle, "engines_able": "A;B", "vehicle": vehicle})
    return frame.assign(miles=30.0, load="", note="")


def test_the_season_lies_between_the_first_windows_and_the_second():
    windows = pd.DataFrame(
        {
            "vehicle": ["A", "A", "B", "B"], "window": [1, 2, 1, 2],
            "opens": pd.to_datetime(["2026-11-01", "2027-11-01", "2027-01-05", "2027-10-10"]),
            "closes": pd.to_datetime(["2027-04-10", "2028-04-10", "2027-04-30", "2028-04-30"]),
        }
    )  # fmt: skip
    assert season_of(windows) == (pd.Timestamp("2027-05-01"), pd.Timestamp("2027-10-09"))
    assert season_of(windows.iloc[:3]) is None
    assert season_of(windows.iloc[:0]) is None


def test_at_the_same_service_cost_and_risk_are_lower_than_as_trains_are_given_now(planned):
    inputs, plan = planned
    trips = pd.concat(
        [trains(70, "A"), trains(10, "B").assign(date=lambda f: f["date"] + pd.Timedelta(days=1))]
    )
    share = share_of_season(inputs, plan, trips)
    assert share is not None
    assert share.given["miles"].sum() == trips["miles"].sum()
    assert share.cost < share.cost_before
    assert share.engines["chance"].sum() <= share.engines["chance_before"].sum()


def test_trains_of_other_seasons_are_left_alone(planned):
    inputs, plan = planned
    later = trains(5, "A").assign(date=lambda frame: frame["date"] + pd.Timedelta(days=800))
    assert share_of_season(inputs, plan, later) is None
    assert share_of_season(inputs, plan, later.iloc[:0]) is None


def test_trains_of_an_engine_that_is_not_planned_stay_with_it(planned):
    inputs, plan = planned
    own, others = trains(20, "A"), trains(20, "C").assign(engines_able="A;C")
    share = share_of_season(inputs, plan, pd.concat([own, others]))
    assert set(share.given["train"]) == {"A"}
    nobodys = trains(20, "D").assign(vehicle="")
    for able, given in (("A;C", {"A"}), ("A;B", {"A", "D"}), ("", {"A"})):
        asked = pd.concat([own, others, nobodys.assign(engines_able=able)])
        assert set(share_of_season(inputs, plan, asked).given["train"]) == given
