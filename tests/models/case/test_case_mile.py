"""The cost of a mile: price over mean life, weighted by length, and the gifts priced from it."""

import numpy as np
import pandas as pd
import pytest

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
