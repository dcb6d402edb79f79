"""What each line of a plan is worth: left out, a window later or sooner, in money and stopped seasons."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from models.plan.failures import Failures
from models.plan.problem import Bools, Floats, Ints, Problem, Solution, life_costs

MOVE_COLUMNS = [
    "risk_off", "risk_off_per_1000", "later_cost", "later_risk", "sooner_cost", "sooner_risk", "pays",
]  # fmt: skip
"""Columns of :func:`moves_of`.

risk_off : stopped seasons more without the line, to be expected over the years planned. [1]
risk_off_per_1000 : the same for each 1,000 of its price; NaN without a price.
later_cost, sooner_cost : what the plan would cost more with the line one window later, or sooner, all
    openings as they would then be. [money]; NaN where it cannot be done there.
later_risk, sooner_risk : stopped seasons more. [1]
pays : it would be dearer one window later even if both were opened as deep, stopped seasons at their price.
"""


@dataclass(frozen=True)
class _Chosen:
    """A plan as arrays that a change of one line alters in few places."""

    problem: Problem
    lives: Floats
    failures: Failures
    failing: Bools
    count: Ints

    def path_cost(self, unit: int, renewed: Bools) -> float:
        """Cost of the lives of a unit, inf where one may not be held."""
        nodes = np.concatenate([[0], np.flatnonzero(renewed) + 1, [self.problem.n_windows + 1]])
        return float(self.lives[unit, nodes[:-1], nodes[1:]].sum())

    def failing_of(self, unit: int, renewed: Bools) -> Bools:
        """Where a unit fails, renewed at other windows, shape (n, seasons)."""
        begun = np.maximum.accumulate(
            np.concatenate([[0], np.where(renewed, np.arange(len(renewed)) + 1, 0)])
        )
        season = self.failures.season[:, unit, begun]
        return np.asarray(season == np.arange(season.shape[1])[None, :])


def moves_of(problem: Problem, solution: Solution, failures: Failures, stop_price: float) -> pd.DataFrame:
    """Of each job chosen, in the order of ``np.nonzero(solution.jobs)``: columns ``MOVE_COLUMNS``.

    Parameters
    ----------
    problem, solution, failures : of one engine. stop_price : of a stopped season. [money]
    """
    failing = failures.of_plan(solution.renewed)
    lives = life_costs(problem)[_lane_of_units(problem)]
    chosen = _Chosen(problem, lives, failures, failing, failing.sum(axis=1))
    rows = []
    for job, window in zip(*np.nonzero(solution.jobs), strict=True):
        price = float(problem.job_cost[job, window])
        off = _changed(chosen, solution, int(job), int(window), None).risk
        later = _changed(chosen, solution, int(job), int(window), int(window) + 1)
        sooner = _changed(chosen, solution, int(job), int(window), int(window) - 1)
        per = 1000.0 * off / price if price > 0 else np.nan
        pays = not later.alone + stop_price * later.risk <= 0.0  # what cannot be later pays now
        rows.append((off, per, later.cost, later.risk, sooner.cost, sooner.risk, pays))
    return pd.DataFrame(rows, columns=MOVE_COLUMNS)


class _Change(NamedTuple):
    """What a change of one line costs more, without openings and days and with them; stopped seasons more."""

    alone: float
    cost: float
    risk: float


IMPOSSIBLE = _Change(np.nan, np.nan, np.nan)


def _changed(chosen: _Chosen, solution: Solution, job: int, window: int, to: int | None) -> _Change:
    """A job left out (None) or moved to another window."""
    problem = chosen.problem
    if to is not None and (
        not 0 <= to < problem.n_windows or solution.jobs[job, to] or problem.job_high[job, to] <= 0
    ):
        return IMPOSSIBLE
    jobs = solution.jobs.copy()
    jobs[job, window] = False
    if to is not None:
        jobs[job, to] = True
    alone, delta = 0.0, chosen.count.copy()
    for unit in problem.covers[problem.covers[:, 0] == job, 1]:
        by = problem.covers[problem.covers[:, 1] == unit, 0]
        renewed = jobs[by].any(axis=0)
        alone += chosen.path_cost(unit, renewed) - chosen.path_cost(unit, solution.renewed[unit])
        delta += chosen.failing_of(unit, renewed).astype(np.int64) - chosen.failing[:, unit]
    risk = float((delta > 0).sum() - (chosen.count > 0).sum()) / max(len(delta), 1)
    if to is None:
        return _Change(alone, alone, risk)
    work = float((problem.job_cost * (jobs.astype(float) - solution.jobs)).sum())
    level = (jobs * (problem.job_depth[:, None] + 1)).max(axis=0, initial=0)
    whole = _work_cost(problem, jobs, level) - _work_cost(problem, solution.jobs, solution.level)
    return _Change(alone + work, alone + whole, risk) if np.isfinite(alone) else IMPOSSIBLE


def _work_cost(problem: Problem, jobs: Bools, level: Ints) -> float:
    opened = np.arange(problem.n_depths)[None, :] < level[:, None]
    cost = float((problem.job_cost * jobs).sum() + (problem.open_cost * opened).sum())
    return cost + problem.lost_cost(problem.days_of(jobs, level))


def _lane_of_units(problem: Problem) -> Ints:
    lane = np.zeros(problem.n_units, dtype=np.int64)
    lane[problem.unit_of_lane] = np.arange(len(problem.unit_of_lane))
    return lane
