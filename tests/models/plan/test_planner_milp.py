"""The choice of windows and jobs against trying every choice there is."""

import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.plan.milp import choice_of, solve
from models.plan.problem import Arcs, Problem, amount, life_costs, without_hopeless_lives
from models.plan.search import Beside, Trial, first_choice


def small_problem(seed, units, windows, depths, *, shared=0, lanes=1, forced=False):
    """A random problem that is small enough to try out; every unit can be renewed at any set of windows."""
    rng = np.random.default_rng(seed)
    nodes = windows + 2
    unit_of_lane = np.repeat(np.arange(units), lanes)
    lane, start, end = np.nonzero(np.triu(np.ones((units * lanes, nodes, nodes)), 1))
    keep = (rng.random(len(lane)) < 0.8) | (end == start + 1)
    lane, start, end = lane[keep], start[keep], end[keep]
    covers = [(u, u) for u in range(units)]
    jobs = units
    if lanes > 1:  # each lane has a job of its own, and the last may use the first one's too
        covers += [(units + u, u) for u in range(units)]
        jobs += units
    for k in range(shared):  # one job that renews two units at once, each with its own job besides
        covers += [(jobs, k), (jobs, (k + 1) % units)]
        jobs += 1
    lane_jobs = [(u, lanes * u) for u in range(units)] + [(units + u, lanes * u + 1) for u in range(units)]
    lane_jobs += [(u, lanes * u + 1) for u in range(units) if rng.random() < 0.5]
    low = np.zeros((jobs, windows))
    if forced:
        low[rng.integers(units), 0] = 1.0
    return Problem(
        unit_of_lane=unit_of_lane,
        arcs=Arcs(lane, start, end, rng.uniform(0, 100, len(lane)) * (end - start) ** 1.5),
        covers=np.array(sorted(set(covers))),
        lane_jobs=np.array(lane_jobs) if lanes > 1 else np.empty((0, 2), dtype=np.int64),
        job_cost=rng.uniform(0, 60, (jobs, windows)),
        job_low=low,
        job_high=np.ones((jobs, windows)),
        job_depth=rng.integers(0, depths, jobs),
        job_days=rng.integers(0, 8, jobs).astype(float),
        open_cost=rng.uniform(0, 80, (windows, depths)),
        open_days=rng.integers(0, 6, depths).astype(float),
        window_days=rng.integers(2, 12, windows).astype(float),
        lost_day=rng.uniform(0, 12, windows),
        constant=float(rng.uniform(0, 50)),
    )


def try_everything(problem):
    """Least cost over every set of jobs, all at once; opening deeper than a job needs never pays."""
    n_jobs, windows = problem.job_cost.shape
    numbers = np.arange(2 ** (n_jobs * windows))
    jobs = (numbers[:, None] >> np.arange(n_jobs * windows) & 1).reshape(-1, n_jobs, windows)
    units = [problem.covers[problem.covers[:, 1] == u, 0] for u in range(problem.n_units)]
    kept = (jobs >= problem.job_low).all(axis=(1, 2))
    for renewing in units:
        kept &= jobs[:, renewing].sum(axis=1).max(axis=1) <= 1
    jobs = jobs[kept]
    depth = (jobs * (problem.job_depth[:, None] + 1)).max(axis=1)
    opened = np.arange(problem.n_depths) < depth[:, :, None]
    days = problem.job_days @ jobs + (opened * problem.open_days).sum(axis=2)
    lost = np.maximum(days - problem.window_days, 0)
    cost = problem.constant + (problem.job_cost * jobs).sum(axis=(1, 2))
    cost += (problem.open_cost * opened).sum(axis=(1, 2)) + (lost * problem.lost_day).sum(axis=1)
    for unit, renewing in enumerate(units):
        cost += cheapest_lane(problem, unit, jobs[:, renewing], renewing)
    return cost.min()


def cheapest_lane(problem, unit, jobs, renewing):
    """Cost of a unit's lives in each choice, in the cheapest lane that allows all of its jobs."""
    lives, windows = life_costs(problem), problem.job_cost.shape[1]
    allowed = {tuple(pair) for pair in problem.lane_jobs.tolist()}
    patterns = [np.flatnonzero(bits) for bits in product((0, 1), repeat=windows)]
    pattern = jobs.sum(axis=1) @ 2 ** np.arange(windows)[::-1]  # in the order of the product
    best = np.full(len(jobs), np.inf)
    for row in np.flatnonzero(problem.unit_of_lane == unit):
        nodes = [np.concatenate([[0], done + 1, [windows + 1]]) for done in patterns]
        path = np.array([lives[row, path[:-1], path[1:]].sum() for path in nodes])
        barred = [place for place, job in enumerate(renewing) if allowed and (job, row) not in allowed]
        best = np.minimum(best, np.where(jobs[:, barred].any(axis=(1, 2)), np.inf, path[pattern]))
    return best


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    shape=st.sampled_from([(1, 4, 2), (2, 4, 3), (3, 3, 2), (4, 3, 3), (3, 4, 1)]),
    forced=st.booleans(),
)
def test_plan_equals_the_best_of_all_plans(seed, shape, forced):
    problem = small_problem(seed, *shape, forced=forced)
    solution = solve(problem, gap=1e-9)
    least = try_everything(problem)
    assert solution.objective == pytest.approx(least, abs=1e-6)
    assert solution.bound == pytest.approx(least, abs=1e-5 * max(1, abs(least)))
    assert amount(problem, solution) == pytest.approx(solution.objective, abs=1e-9)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6), shape=st.sampled_from([(2, 3, 2), (3, 2, 3), (2, 4, 2)]))
def test_a_job_that_renews_two_units_counts_once(seed, shape):
    problem = small_problem(seed, *shape, shared=1)
    solution = solve(problem, gap=1e-9)
    assert solution.objective == pytest.approx(try_everything(problem), abs=1e-6)
    for job, unit in problem.covers:
        assert (solution.renewed[unit] >= solution.jobs[job]).all()


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6), shape=st.sampled_from([(2, 3, 2), (1, 4, 3), (2, 2, 2)]))
def test_each_unit_keeps_to_one_lane_and_its_jobs(seed, shape):
    problem = small_problem(seed, *shape, lanes=2, shared=0)
    assert solve(problem, gap=1e-9).objective == pytest.approx(try_everything(problem), abs=1e-6)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**6), shape=st.sampled_from([(2, 4, 3), (3, 3, 2)]))
def test_lives_left_out_beforehand_are_in_no_best_plan(seed, shape):
    problem = small_problem(seed, *shape)
    reduced = without_hopeless_lives(problem)
    assert len(reduced.arcs.cost) <= len(problem.arcs.cost)
    assert try_everything(reduced) == pytest.approx(try_everything(problem), abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6), shared=st.integers(0, 1), forced=st.booleans())
def test_first_choice_is_a_choice_and_tells_its_cost(seed, shared, forced):
    problem = small_problem(seed, 3, 3, 2, shared=shared, forced=forced and not shared)
    cost, level, renewed, jobs = first_choice(problem, work=2e4)
    if not np.isfinite(cost):
        return
    assert cost + problem.constant >= try_everything(problem) - 1e-6
    assert (jobs * (problem.job_depth[:, None] + 1) <= level[None, :]).all()
    for unit in range(problem.n_units):
        its = problem.covers[problem.covers[:, 1] == unit, 0]
        assert (jobs[its].sum(axis=0) == renewed[unit]).all()


def test_weighing_levels_costs_what_the_levels_cost():
    problem = small_problem(7, 3, 4, 3)
    level = np.array([3, 0, 2, 1])
    cost, renewed, jobs = Trial(problem).weigh(level)[:3]
    lives = life_costs(problem)
    total = 0.0
    for unit, row in enumerate(renewed):
        nodes = np.concatenate([[0], np.flatnonzero(row) + 1, [5]])
        total += lives[unit, nodes[:-1], nodes[1:]].sum()
    opened = np.arange(3)[None, :] < level[:, None]
    days = problem.job_days @ jobs + (opened * problem.open_days).sum(axis=1)
    total += (problem.job_cost * jobs).sum() + (problem.open_cost * opened).sum()
    total += (np.maximum(days - problem.window_days, 0) * problem.lost_day).sum()
    assert cost == pytest.approx(total)


def beside_some_levels(seed, shared):
    """What is told of levels beside some before they are weighed, and what they weigh; no day lost."""
    problem = small_problem(seed, 4, 4, 3, shared=shared, forced=seed % 2 == 1 and not shared)
    if seed % 3 == 0:  # days enough for all the work
        problem = replace(problem, window_days=problem.window_days + 1000.0)
    rng, trial = np.random.default_rng(seed), Trial(problem)
    level = rng.integers(0, 4, 4)
    weighed = trial.weigh(level)
    beside = Beside(trial, level, weighed.over)
    for window, count in product(range(4), [1, 2, 1, 2]):
        tried = rng.integers(0, 4, count if window < 3 else 1)
        changed = level.copy()
        changed[window : window + len(tried)] = tried
        cost = trial.weigh(changed)
        yield (
            beside.least(window, tried),
            cost.cost,
            not (weighed.over > 0).any() and not (cost.over > 0).any(),
        )


@pytest.mark.parametrize("shared", [0, 1])
def test_levels_beside_others_cost_no_less_than_is_told_of_them_before(shared):
    told = np.array([each for seed in range(12) for each in beside_some_levels(seed, shared)])
    least, cost, free = told[:, 0], told[:, 1], told[:, 2] == 1
    assert np.isfinite(cost).sum() > 50
    assert (least <= cost + 1e-9).all()
    if not shared:  # where no day is lost nothing is left out
        same = free & np.isfinite(cost)
        assert same.sum() > 5
        np.testing.assert_allclose(least[same], cost[same])
        assert (np.isinf(least) == np.isinf(cost)).all()


def test_progress_is_told_and_the_gap_is_the_distance_to_the_bound():
    told = []
    problem = small_problem(3, 12, 8, 3)
    solution = solve(problem, progress=lambda *state: told.append(state))
    assert told
    assert solution.gap == pytest.approx(
        max(solution.objective - solution.bound, 0) / abs(solution.objective), abs=1e-12
    )


def same_solution(one, other):
    for name in ("lane", "renewed", "jobs", "level", "lost_days"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    assert (one.objective, one.bound) == (other.objective, other.bound)


def test_own_search_ends_by_its_work_and_not_by_the_clock(monkeypatch):
    problem = small_problem(11, 12, 8, 3)
    quick = first_choice(problem, work=2e5)
    weigh, done = Trial.weigh, []

    def slow(self, level):
        time.sleep(0.002)
        done.append(self)
        return weigh(self, level)

    monkeypatch.setattr(Trial, "weigh", slow)
    slowed = first_choice(problem, work=2e5)
    assert 2e5 <= done[-1].done < 3e5
    assert quick[0] == slowed[0]
    for one, other in zip(quick[1:], slowed[1:], strict=True):
        np.testing.assert_array_equal(one, other)
    assert first_choice(problem, work=1.0)[0] > quick[0]  # the work did end it: with less of it less is found


def test_search_is_the_same_however_slow_it_is():
    problem = small_problem(3, 16, 10, 3)
    same_solution(solve(problem), solve(problem, progress=lambda *_: time.sleep(0.3)))


def test_two_problems_searched_at_once_have_the_answers_of_one_at_a_time():
    problems = [small_problem(seed, 14, 9, 3) for seed in (5, 6, 7, 8)]
    alone = [solve(problem) for problem in problems]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(solve, problems))
    for one, other in zip(alone, together, strict=True):
        same_solution(one, other)


def test_a_programme_too_large_for_highs_is_searched_all_the_same():
    problem = small_problem(4, 6, 6, 2)
    solution = solve(problem, effort=1e-4)  # ten lives at most go to HiGHS
    assert not np.isfinite(solution.bound)
    assert solve(problem).objective <= solution.objective < np.inf


def other_choice(problem):
    """Jobs of a choice that is allowed and not the best one: every unit renewed at every window."""
    return np.ones(problem.job_cost.shape, bool)


def test_a_kept_choice_stands_while_the_search_would_be_content_with_it():
    problem = small_problem(2, 3, 4, 2)
    best, kept = solve(problem, gap=1e-9), other_choice(problem)
    assert (best.jobs != kept).any()
    same_solution(solve(problem, gap=1e-9, kept=kept), best)
    stands = solve(problem, gap=0.9999, kept=kept)
    np.testing.assert_array_equal(stands.jobs, kept)
    assert stands.objective == pytest.approx(amount(problem, stands))
    assert 1e-9 < stands.gap <= 0.9999
    same_solution(solve(problem, gap=1e-9, kept=best.jobs), best)


def test_a_kept_choice_that_is_not_allowed_any_more_is_left_out():
    problem = small_problem(2, 3, 4, 2, forced=True)
    best = solve(problem, gap=0.9999)
    none = np.zeros(problem.job_cost.shape, bool)  # without the job that is forced
    same_solution(solve(problem, gap=0.9999, kept=none), best)
    shared = small_problem(2, 2, 3, 2, shared=1)
    twice = np.ones(shared.job_cost.shape, bool)  # two jobs on one unit at one window
    same_solution(solve(shared, gap=0.9999, kept=twice), solve(shared, gap=0.9999))
    arcs = problem.arcs
    long = replace(
        problem,
        job_low=none * 0.0,
        arcs=Arcs(*(each[arcs.end - arcs.start < 3] for each in vars(arcs).values())),
    )
    assert choice_of(long, none, 0.0) is None  # no life runs so long
    same_solution(solve(long, gap=0.9999, kept=none), solve(long, gap=0.9999))
