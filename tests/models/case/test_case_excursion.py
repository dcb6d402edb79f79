"""What an excursion plan uses up: parts, entries and seats add up, and agree with the cost of a mile."""

import numpy as np
import pandas as pd
import pytest

from models.case.excursion import SUMS, Excursion, cost_of_excursions
from models.case.mile import by_component, cost_of_a_mile, cost_of_running

PLAN = [Excursion("fall", 62.0, 4, seats=200), Excursion("winter", 18.0, 10, seats=150)]


@pytest.fixture(scope="module")
def mile():
    """Three jobs of two components; lives and prices vary by future."""
    rng = np.random.default_rng(5)
    jobs = pd.DataFrame(
        {
            "vehicle": "v",
            "component": ["tire", "tire", "brass"],
            "action": "renewed",
            "points": [["t1"], ["t2"], ["b1", "b2"]],
        }
    )
    lives = rng.gamma(9.0, [[1000.0, 1100.0, 3000.0]], (2000, 3))
    return by_component(cost_of_a_mile(jobs, lives, rng.lognormal(6.0, 0.1, (2000, 3))))


def test_parts_add_up_to_the_whole_and_keep_their_wear_points(mile):
    cost = cost_of_excursions(mile, PLAN)
    parts, whole = cost.parts.iloc[:-1], cost.parts.iloc[-1]
    assert parts["mean"].sum() == pytest.approx(whole["mean"])
    assert whole["mean"] == pytest.approx(428 * mile["mean"].iloc[-1])
    assert parts["points"].tolist() == [["b1", "b2"], ["t1", "t2"]]
    # Not all wears fast together: the whole is surer than its parts taken one by one.
    assert whole["p90"] - whole["p10"] < (parts["p90"] - parts["p10"]).sum()


def test_entries_add_up_to_the_whole_also_in_their_ranges(mile):
    trips = cost_of_excursions(mile, PLAN).trips
    assert trips["name"].tolist() == ["fall", "winter", "all"]
    assert trips["miles"].tolist() == [248.0, 180.0, 428.0]
    assert trips["days"].tolist() == [4, 10, 14]
    for name in ("miles", "days", "seats", *SUMS):
        assert trips[name].iloc[:-1].sum() == pytest.approx(trips[name].iloc[-1])


def test_whole_is_what_running_so_far_costs(mile):
    whole = cost_of_excursions(mile, PLAN).whole
    run = cost_of_running(mile, 428.0)
    assert [whole[name] for name in SUMS] == pytest.approx([run.p10, run.mean, run.p90])


def test_seats_carry_the_whole_together(mile):
    whole = cost_of_excursions(mile, PLAN).whole
    assert whole["seats"] == 4 * 200 + 10 * 150
    for name in SUMS:
        assert whole[f"seat_{name}"] * whole["seats"] == pytest.approx(whole[name])


def test_no_seat_is_told_where_one_entry_does_not_say_how_many(mile):
    trips = cost_of_excursions(mile, [PLAN[0], Excursion("short", 5.0)]).trips
    assert trips["seat_mean"].notna().tolist() == [True, False, False]
