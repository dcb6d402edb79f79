"""What a spare would save at a place in each window, by the plan without it and changes of its openings.

The openings stay, or the window is opened for the spare; of the other openings as deep the nearest before and
after may fall away or be less deep. With each of these all renewals follow as cheapest paths
(``models.plan.search.Trial``), a stopped season at the price at which the plan was chosen.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.plan import rounding as rounded
from models.plan.economics import unit_lives
from models.plan.engine import Chosen
from models.plan.jobs import DEPTHS, Fitted, fitting_jobs
from models.plan.joint import chances_added
from models.plan.network import ROUNDING, with_late
from models.plan.planner import PlanInputs
from models.plan.problem import Arcs, Bools, Floats, Ints, Problem
from models.plan.rules import Rules
from models.plan.search import Trial, descended
from models.rack.programme import Spare, lives_with, season_with, seasons_by_point, spare_at, unit_of_points

CHEAPER = 1 / 16
"""Share of the price of a stopped season at which spares are weighed too: few plans are as unsafe as is
accepted, and one with a spare may use what is left."""
SHARPENED = 3
"""Windows of a spare at a place from which openings are then changed one by one: the best by the nearest."""
WORK = 1e6
"""Lives looked at for that: 50 ms."""


class Bench:
    """What the trials of one engine share.

    Parameters
    ----------
    one : its plan without spares. inputs, rules : of the plan.
    """

    def __init__(self, one: Chosen, inputs: PlanInputs, rules: Rules) -> None:
        self.one, self.inputs, self.rules = one, inputs, rules
        programme, solution, rungs = one
        price = next((rung.price for rung in rungs if rung.solution is solution), 0.0)
        self.prices = (price, CHEAPER * price) if price else (0.0,)
        self.season = seasons_by_point(programme, inputs)
        self.unit_of = unit_of_points(programme)
        self.stopping = programme.failures.of_plan(solution.renewed)
        self.added = chances_added(programme.failures, solution.renewed)
        self.priced = {price: _priced(programme.net.problem, price, self.added) for price in self.prices}
        self.cost = {price: self._least(self.priced[price]) for price in self.prices}
        problem = programme.net.problem
        self.can = np.zeros((problem.n_units, problem.n_windows), bool)
        np.logical_or.at(self.can, problem.covers[:, 1], problem.job_high[problem.covers[:, 0]] > 0)
        self.most = rules.risk_of(programme.lives.points) + ROUNDING
        self.jobs = programme.net.jobs[programme.net.jobs["points"].map(len) > 0]

    def _least(self, problem: Problem) -> float:
        """What the plan without a spare costs, its openings changed one by one as those with it are."""
        level = self.one.solution.level
        return min(Trial(problem).weigh(level)[0], descended(problem, level, WORK)[0])

    def saved(self, tried: Fitted) -> Floats:
        """What a spare saves at its place, by price of a stopped season and by window, shape (prices, W).
        [money]; 0 where it saves nothing.

        A wheel of a set that the plan turns before would not agree with the others any more: it saves nothing
        from then on.
        """
        spare = spare_at(self.one, tried.points, tried.left, self.inputs)
        job = fitting_jobs(self.jobs, [tried], self.inputs.costs).iloc[0]
        deep = DEPTHS.index(tried.depth) + 1
        windows = np.flatnonzero(~turned_before(self.one, tried.points)).tolist()
        lives = {window: self._lives_with(spare, window) for window in windows}
        out = np.full((len(self.prices), len(self.one.solution.level)), -np.inf)
        for row, price in enumerate(self.prices):
            begin = {}
            for window in windows:
                trial = Trial(self._with_job(self._problem(lives[window], price), job, window, deep))
                levels = _levels(self.one.solution.level, window, deep)
                least, level = min((trial.weigh(each)[0], tuple(each)) for each in levels)
                out[row, window], begin[window] = self.cost[price] - least, (trial.problem, np.array(level))
            for window in np.argsort(-out[row], kind="stable")[:SHARPENED].tolist():
                if np.isfinite(out[row, window]):
                    least = descended(*begin[window], WORK)[0]
                    out[row, window] = max(out[row, window], self.cost[price] - least)
        return np.asarray(np.maximum(out, 0.0))

    def _with_job(self, problem: Problem, job: pd.Series, window: int, deep: int) -> Problem:
        """The problem with the fitting as work of a window that must be done there, a unit of its own."""
        years = self.one.programme.lives.years[1:-1]
        price = float(job["cost"]) + self.rules.labor_rate * float(np.nan_to_num(job["labor_hours"]))
        here = (np.arange(problem.n_windows) == window).astype(float)
        arcs, node, last = problem.arcs, window + 1, problem.n_windows + 1
        lane, unit, row = len(problem.unit_of_lane), problem.n_units, len(problem.job_depth)
        return replace(
            problem,
            unit_of_lane=np.append(problem.unit_of_lane, unit),
            arcs=Arcs(
                np.append(arcs.lane, [lane, lane]),
                np.append(arcs.start, [0, node]),
                np.append(arcs.end, [node, last]),
                np.append(arcs.cost, [0.0, 0.0]),
            ),
            covers=np.vstack([problem.covers, [row, unit]]),
            job_cost=np.vstack([problem.job_cost, rounded.money(price * self.rules.worth(years))]),
            job_low=np.vstack([problem.job_low, here]),
            job_high=np.vstack([problem.job_high, here]),
            job_depth=np.append(problem.job_depth, deep - 1),
            job_days=np.append(
                problem.job_days, rounded.days(np.nan_to_num(job["days_out"]) / self.rules.gangs)
            ),
        )

    def _lives_with(self, spare: Spare, window: int) -> dict[int, tuple[Floats, Floats]]:
        """Cost of the lives of each unit that a spare changes, and the stopped seasons that they add, both of
        shape (W + 2, W + 2). [money], [1]"""
        programme = self.one.programme
        net, units = programme.net, np.unique(self.unit_of[spare.rows])
        _, whole = lives_with(programme.lives, programme.lives, spare, window)
        rows = [net.units[unit] for unit in units]
        allowed, cost, _ = unit_lives(whole, rows, net.worth[units], self.most, self.rules)
        costs = with_late(allowed, cost, self.can[units], net.jobs, programme.openings, self.rules)
        season = season_with(self.season, spare, window)
        return {
            int(unit): (own, self._added(season, int(unit))) for unit, own in zip(units, costs, strict=True)
        }

    def _problem(self, lives: Mapping[int, tuple[Floats, Floats]], price: float) -> Problem:
        """The problem at a price of a stopped season with other lives of some units."""
        problem = self.priced[price]
        arcs = problem.arcs
        apart = ~np.isin(problem.unit_of_lane[arcs.lane], list(lives))
        parts = [(arcs.lane[apart], arcs.start[apart], arcs.end[apart], arcs.cost[apart])]
        for unit, (cost, added) in lives.items():
            start, end = np.nonzero(np.isfinite(cost))
            lane = np.full(len(start), np.flatnonzero(problem.unit_of_lane == unit)[0])
            parts.append((lane, start, end, (cost + rounded.money(price * added))[start, end]))
        return replace(problem, arcs=Arcs(*(np.concatenate(each) for each in zip(*parts, strict=True))))

    def _added(self, season: NDArray[np.int8], unit: int) -> Floats:
        """Chance of stopped seasons that lives of a unit add where nothing else stops the engine, shape
        (W + 2, W + 2); ``season``: by wear point."""
        others = np.delete(self.stopping, unit, axis=1).any(axis=1)
        ends = season[:, self.one.programme.net.units[unit]].min(axis=1)
        seasons = ends.shape[1]
        out = np.zeros((seasons + 1, seasons + 1))
        for start in range(seasons):
            adds = ((ends[:, [start]] == np.arange(seasons)) & ~others).mean(axis=0)
            adds[0] = 0.0  # before the first window nothing is changed
            out[start, start + 1 :] = np.cumsum(adds[start:])
        return out


def turned_before(one: Chosen, points: Collection[str]) -> Bools:
    """Windows before which a plan turns wheels of a set that are not all on the part of some wear points,
    shape (W,)."""
    jobs = one.programme.net.jobs
    of_set = [
        bool(machines) and bool(set(own) & set(points)) and not set(own) <= set(points)
        for machines, own in zip(jobs["machines"], jobs["points"], strict=True)
    ]
    turned = one.solution.jobs[np.array(of_set, dtype=bool)].any(axis=0)
    return np.concatenate([[False], np.logical_or.accumulate(turned)[:-1]])


def _levels(level: Ints, window: int, deep: int) -> Iterator[Ints]:
    """The openings with a window opened as deep as the spare needs; with one more until the next as deep, to
    which the spare lasts; with the nearest as deep, one before or after, less deep or shut."""
    opened = level.copy()
    opened[window] = max(level[window], deep)
    yield opened
    others = np.flatnonzero((level >= deep) & (np.arange(len(level)) != window))
    before, after = others[others < window][-1:], others[others > window][:1]
    for later in range(window + 1, int(after[0]) if len(after) else len(level)):
        changed = opened.copy()
        changed[later] = deep
        yield changed
    for other in (*before, *after):
        for less in range(deep):
            changed = opened.copy()
            changed[other] = less
            yield changed


def _priced(problem: Problem, price: float, chance: Floats) -> Problem:
    arcs = problem.arcs
    unit = problem.unit_of_lane[arcs.lane]
    cost = arcs.cost + rounded.money(price * chance[unit, arcs.start, arcs.end])
    return replace(problem, arcs=Arcs(arcs.lane, arcs.start, arcs.end, cost))
