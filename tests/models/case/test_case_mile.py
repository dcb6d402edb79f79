"""The cost of a mile: price over mean life, weighted by length, and the gifts priced from it."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from models.case.cost import with_sets
from models.case.gifts import gift_units
from models.case.mile import cost_of_a_mile, length_weighted, used_share


def test_a_mile_costs_price_over_mean_life():
    """Renewal-reward: lives of 5,000 and 15,000 miles, equally likely, at $100: 100 / 10,000 a mile."""
    lives = np.tile([[5000.0], [15_000.0]], (500, 1))
    jobs = pd.DataFrame({"component": ["x"], "action": ["renewed"], "points": [["p"]], "vehicle": "v"})
    cost = cost_of_a_mile(jobs, lives, np.full(lives.shape, 100.0))
    assert cost.mean[0] == pytest.approx(0.01)
    assert cost.per_mile.mean() == pytest.approx(0.01)
    # A mile taken at random lies in the long life three times of four.
    assert (cost.per_mile < 0.01).mean() == pytest.approx(0.75, abs=0.01)


def test_long_run_cost_of_a_mile_is_what_a_long_run_costs():
    """Against a plain simulation of 4,000 renewals one after the other; its own error is about 0.5 %."""
    rng = np.random.default_rng(2)
    lives = rng.gamma(9.0, 1000.0, (4000, 1))
    price = rng.lognormal(5.0, 0.1, (4000, 1))
    jobs = pd.DataFrame({"component": ["x"], "action": ["renewed"], "points": [["p"]], "vehicle": "v"})
    spent_per_mile = price.sum() / lives.sum()
    assert cost_of_a_mile(jobs, lives, price).mean[0] == pytest.approx(spent_per_mile, rel=1e-9)
    assert (price / lives).mean() > 1.1 * spent_per_mile  # the mean of the quotients is another figure


def test_length_weighting_keeps_ranks_and_has_the_right_mean():
    rng = np.random.default_rng(4)
    lives = rng.gamma(4.0, 1000.0, (20_000, 2))
    longer = length_weighted(lives)
    assert longer.mean(axis=0) == pytest.approx((lives**2).mean(axis=0) / lives.mean(axis=0), rel=0.01)
    order = np.argsort(lives[:, 0])
    assert (np.diff(longer[order, 0]) >= 0).all()


def test_used_share_is_one_at_the_limit():
    share = used_share(np.array([3000.0, 3000.0, 0.0]), np.array([[1000.0, 0.0, 500.0]]))
    assert share.tolist() == [[0.75, 1.0, 0.0]]


def test_gifts_are_few_and_of_all_sizes():
    jobs = pd.DataFrame({"component": [f"x{i}" for i in range(9)], "action": "renewed", "vehicle": "v"})
    jobs = jobs.assign(points=[[f"p{i}"] for i in range(9)], parts=1.0)
    prices = np.tile(10.0 ** np.arange(9), (50, 1))
    gifts = gift_units(cost_of_a_mile(jobs, np.full((50, 9), 1e4), prices), jobs, prices, most=6)
    assert len(gifts) == 6
    assert gifts["price"].is_monotonic_increasing
    assert gifts["price"].iloc[-1] == pytest.approx(1e8)
    miles = gifts[gifts["kind"] == "component miles"]
    assert set(miles["component"]) <= {"x7", "x8"}  # those that a mile uses up most of


def wheel_jobs(turnings, lives):
    """Jobs of a set of two tires and its futures; ``lives``: of the new set in each future."""
    points = pd.DataFrame({"point": ["T1", "T2", "F1"], "role": ["metal", "metal", "profile"]})
    points = points.assign(turnings_left=1.0, turnings_next=3.0, turnings_next_mean=turnings)
    jobs = pd.DataFrame(
        {"points": [["F1"], ["T1", "T2", "F1"]], "machines": [True, False], "turnings_left": [1.0, np.nan]}
    ).assign(turnings_next=[3.0, np.nan], turnings_next_mean=[turnings, np.nan])
    next_life = np.tile(np.asarray(lives, float)[:, None, None], (1, 3, 1))
    return jobs, SimpleNamespace(points=points, next_life=next_life)


@pytest.mark.parametrize("turnings", [0.4, 2.6])
def test_a_set_is_turned_as_often_as_on_average_in_the_life_of_the_set(turnings):
    jobs, futures = wheel_jobs(turnings, [90_000.0, 110_000.0])
    lives = with_sets(np.ones((2, 2)), jobs, futures)
    np.testing.assert_allclose(lives[:, 1], [90_000, 110_000])
    # A mile: 1,000 for each turning, 5,000 for the set, over a mean life of 100,000.
    cost = cost_of_a_mile(jobs, lives, np.tile([1000.0, 5000.0], (2, 1)))
    np.testing.assert_allclose(cost.mean, [turnings * 0.01, 0.05])


def test_a_set_that_is_never_turned_has_no_turning_to_pay_and_one_that_never_ends_no_life():
    assert np.isnan(with_sets(np.ones((1, 2)), *wheel_jobs(0.0, [90_000.0]))[:, 0]).all()
    assert np.isnan(with_sets(np.ones((1, 2)), *wheel_jobs(2.0, [1e9]))).all()


def test_jobs_of_other_parts_keep_their_lives():
    jobs, futures = wheel_jobs(2.0, [90_000.0])
    jobs = jobs.assign(turnings_left=np.nan)
    np.testing.assert_array_equal(with_sets(np.full((1, 2), 7.0), jobs, futures), [[7.0, 7.0]])
