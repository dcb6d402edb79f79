"""Tires in a plan: metal binds it, what turnings leave of the tires stands in its distribution."""

from itertools import product

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.catalogue import classify
from models.distribution import PROBABILITIES
from models.plan.jobs import jobs_of
from models.plan.metal import cheapest_pairs, keeps_metal, pairs_of
from models.plan.milp import solve
from models.plan.network import turnings_of
from models.plan.problem import Arcs, Problem, life_costs
from models.plan.search import first_choice
from models.tires.outlook import TOLD, Outlook, with_turnings, with_turnings_left
from models.tires.states import TireStates


def states(positions):
    empty = np.zeros((len(positions), 4))
    tires = pd.DataFrame({"vehicle": "A", "position": positions, "matched_set": "drivers", "axle": positions})
    tires["metal"] = [f"T{k + 1}" for k in range(len(positions))]
    return TireStates(tires, np.array([0, len(positions)]), *[empty] * 9)


@pytest.mark.parametrize(("left", "following"), [(0, 3), (1, 3), (2, 2)])
def test_a_plan_is_bound_by_the_turnings_that_its_jobs_have(left, following):
    names = ["point", "component", "position", "quantity", "access", "matched_set"]
    rows = [
        ("H", "tender wheel", "tender 1 left", "tread hollow", "wheels_out", "truck"),
        ("R", "tender wheel", "tender 1 left", "rim thickness", "wheels_out", "truck"),
    ]
    wheel = classify(pd.DataFrame(rows, columns=names).assign(vehicle="A"))
    wheel = wheel.assign(turnings_left=left, turnings_next=following, turnings_next_mean=following)
    jobs = jobs_of(wheel, None)
    (cut,) = np.flatnonzero(jobs["machines"].astype(bool))
    (renewal,) = np.flatnonzero(~jobs["machines"].astype(bool))
    assert turnings_of(jobs).tolist() == [[cut, renewal, left, following]]


def outlook(miles, next_miles):
    table = pd.DataFrame({"turnings_p50": [1.0], "next_turnings_p50": [3.0], "next_turnings_mean": [2.6]})
    table["matched_set"] = "drivers"
    return Outlook(table, np.full((1, 33), float(miles)), np.full((1, 33), float(next_miles)))


def test_tires_last_as_long_as_their_set_and_so_do_the_next_ones():
    own = np.linspace(50_000, 150_000, len(PROBABILITIES))
    stored = pd.DataFrame({"point": ["T1", "T2", "OTHER"], "remaining": [own] * 3, "new_life": [2 * own] * 3})
    told = with_turnings(stored, states(["driver 1 left", "driver 1 right"]), outlook(40_000, 90_000))
    for row in (0, 1):
        assert set(told["remaining"][row]) == {40_000.0}
        assert set(told["new_life"][row]) == {90_000.0}
    np.testing.assert_array_equal(told["remaining"][2], own)


def test_points_of_a_tire_bear_its_turnings_and_no_others_do():
    points = pd.DataFrame(
        {
            "point": ["T1", "F1", "D1", "J1"],
            "vehicle": "A",
            "component": ["driver tire", "driver tire", "driver tire", "driving journal"],
            "position": "driver 1 left",
            "quantity": ["thickness", "flange thickness", "diameter", "diameter"],
        }
    )
    bare = classify(points).assign(**dict.fromkeys(TOLD, np.nan))
    told = with_turnings_left(bare, states(["driver 1 left"]), outlook(1, 1))
    assert told["turnings_left"].tolist()[:2] == [1, 1]
    assert told["turnings_next"].tolist()[:2] == [3, 3]
    assert told["turnings_next_mean"].tolist()[:2] == [2.6, 2.6]
    assert told["turnings_left"].isna().tolist() == [False, False, True, True]
    assert told["scrap_of"].fillna("").astype(bool).tolist() == [True, False, False, False]


def tire_problem(seed, windows, left, following, *, pins=1, forced=False):
    """Profile (unit 0) and metal (unit 1) of a tire, turned (job 0) or new (job 1), and pins beside it."""
    rng = np.random.default_rng(seed)
    units, nodes = 2 + pins, windows + 2
    lane, start, end = np.nonzero(np.triu(np.ones((units, nodes, nodes)), 1))
    cost = rng.uniform(0, 100, len(lane)) * (end - start) ** 1.5
    low = np.zeros((units, windows))
    if forced:
        low[rng.integers(2), 0] = 1.0
        if low[0, 0] and not left:
            low[0, 0] = 0.0
    return Problem(
        unit_of_lane=np.arange(units),
        arcs=Arcs(lane, start, end, cost),
        covers=np.array([(0, 0), (1, 0), (1, 1), *((k, k) for k in range(2, units))]),
        lane_jobs=np.empty((0, 2), dtype=np.int64),
        job_cost=np.concatenate(
            [rng.uniform(0, 20, (1, windows)), rng.uniform(30, 90, (units - 1, windows))]
        ),
        job_low=low,
        job_high=np.ones((units, windows)),
        job_depth=rng.integers(0, 2, units),
        job_days=rng.integers(0, 8, units).astype(float),
        open_cost=rng.uniform(0, 80, (windows, 2)),
        open_days=rng.integers(0, 6, 2).astype(float),
        window_days=rng.integers(2, 12, windows).astype(float),
        lost_day=rng.uniform(0, 12, windows),
        turnings=np.array([(0, 1, left, following)]),
    )


def costs_of_all(problem):
    """Every choice of jobs that keeps to the metal, and its cost."""
    lives, windows = life_costs(problem), problem.n_windows
    units = [problem.covers[problem.covers[:, 1] == u, 0] for u in range(problem.n_units)]
    for bits in product((0, 1), repeat=problem.job_cost.size):
        jobs = np.array(bits).reshape(problem.job_cost.shape)
        if (jobs[0] + jobs[1] > 1).any() or (jobs < problem.job_low).any():
            continue
        if not keeps_metal(problem, jobs.astype(bool)):
            continue
        level = (jobs * (problem.job_depth[:, None] + 1)).max(axis=0)
        opened = np.arange(problem.n_depths) < level[:, None]
        days = problem.job_days @ jobs + (opened * problem.open_days).sum(axis=1)
        lost = np.maximum(days - problem.window_days, 0)
        cost = np.where(jobs, problem.job_cost, 0.0).sum() + (problem.open_cost * opened).sum()
        cost += (lost * problem.lost_day).sum()
        for unit, renewing in enumerate(units):
            done = np.flatnonzero(jobs[renewing].sum(axis=0))
            path = np.concatenate([[0], done + 1, [windows + 1]])
            cost += lives[unit, path[:-1], path[1:]].sum()
        yield jobs, cost


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    metal=st.sampled_from([(0, 0), (0, 1), (1, 1), (0, 2), (1, 2), (2, 2)]),
    forced=st.booleans(),
)
def test_a_plan_within_the_metal_is_the_best_of_all_such_plans(seed, metal, forced):
    problem = tire_problem(seed, 4, *metal, pins=0, forced=forced)
    least = min(cost for _, cost in costs_of_all(problem))
    solution = solve(problem, gap=1e-9)
    assert keeps_metal(problem, solution.jobs)
    assert solution.objective == pytest.approx(least, abs=1e-6)
    cost, _, renewed, jobs = first_choice(problem, work=2e4)
    assert keeps_metal(problem, jobs)
    assert cost >= least - 1e-6
    assert (jobs[:2].sum(axis=0) == renewed[0]).all()


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), left=st.integers(0, 2), more=st.integers(0, 2), forced=st.booleans())
def test_profile_and_metal_together_are_the_cheapest(seed, left, more, forced):
    problem = tire_problem(seed, 5, left, left + more, pins=0, forced=forced)
    shut = (np.random.default_rng(seed).random(5) < 0.3) & (problem.job_low.sum(axis=0) == 0)
    price = np.where(shut, np.inf, problem.job_cost)
    low, lives = problem.job_low[:, None] > 0, life_costs(problem)
    cost, turned, new = cheapest_pairs(
        pairs_of(problem), lives[:1], lives[1:], price[:1], price[1:], np.stack([low[0], low[1]])
    )
    free = {"job_cost": price, "open_cost": np.zeros((5, 2)), "lost_day": np.zeros(5)}
    least = min(whole for _, whole in costs_of_all(Problem(**vars(problem) | free)))
    assert cost[0] == pytest.approx(least, abs=1e-6)
    assert keeps_metal(problem, np.stack([turned[0], new[0]]))


def test_a_plan_of_before_that_spends_more_metal_than_there_is_does_not_stand():
    problem = tire_problem(3, 4, 1, 1)
    greedy = np.zeros((3, 4), bool)
    greedy[0, [0, 2]] = True
    assert not keeps_metal(problem, greedy)
    assert keeps_metal(problem, solve(problem, kept=greedy, gap=1.0).jobs)
    greedy[1, 1] = True  # a new tire between the two
    assert keeps_metal(problem, greedy)
