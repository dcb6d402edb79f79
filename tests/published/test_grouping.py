"""Grouping work under a shared opening cost: the published dynamic lot-size example, as a plan.

Source: H. M. Wagner and T. M. Whitin, *Dynamic version of the economic lot size model*, Management Science 5
(1958) 89-96, table 1: twelve periods, demands 69 29 36 61 61 26 34 67 45 67 79 56, set-up costs 85 102 102
101 98 114 105 86 119 110 98 114, holding cost 1 a unit and period; least cost 864 (as reprinted and
recomputed in several public programs, read there).

The demand of a period is a job that must be done by then; doing it a period sooner throws away what holding
it costs; a set-up is the opening of the machine. So the plan's choice is the paper's.
"""

import numpy as np
import pytest

from models.plan.milp import solve
from models.plan.problem import Arcs, Problem

DEMAND = np.array([69, 29, 36, 61, 61, 26, 34, 67, 45, 67, 79, 56], dtype=float)
SET_UP = np.array([85, 102, 102, 101, 98, 114, 105, 86, 119, 110, 98, 114], dtype=float)
LEAST = 864.0


def lot_size_problem(demand, set_up):
    n = len(demand)
    unit, window = np.nonzero(np.tri(n, dtype=bool))  # job of period t at any window s <= t
    held = demand[unit] * (unit - window)
    zeros = np.zeros(len(unit), dtype=np.int64)
    arcs = Arcs(
        lane=np.concatenate([unit, unit]),
        start=np.concatenate([zeros, window + 1]),
        end=np.concatenate([window + 1, np.full(len(unit), n + 1)]),
        cost=np.concatenate([held, np.zeros(len(unit))]),
    )
    rows = np.arange(n)
    return Problem(
        unit_of_lane=rows,
        arcs=arcs,
        covers=np.stack([rows, rows], axis=1),
        lane_jobs=np.empty((0, 2), dtype=np.int64),
        job_cost=np.zeros((n, n)),
        job_low=np.zeros((n, n)),
        job_high=np.ones((n, n)),
        job_depth=np.zeros(n, dtype=np.int64),
        job_days=np.zeros(n),
        open_cost=set_up[:, None],
        open_days=np.zeros(1),
        window_days=np.full(n, 100.0),
        lost_day=np.zeros(n),
    )


def test_least_cost_of_the_twelve_period_example():
    solution = solve(lot_size_problem(DEMAND, SET_UP))
    assert solution.objective == pytest.approx(LEAST, abs=1e-6)
    assert solution.bound == pytest.approx(LEAST, abs=1e-3)
    assert (np.flatnonzero(solution.level) + 1).tolist() == [1, 3, 5, 8, 10, 11]


@pytest.mark.parametrize("periods", range(1, 13))
def test_each_shorter_horizon_equals_the_papers_recursion(periods):
    # The paper's own recursion: f(t) = min over s of f(s - 1) + set-up s + what is held from s on.
    best = [0.0]
    for t in range(periods):
        costs = []
        for s in range(t + 1):
            held = sum(DEMAND[k] * (k - s) for k in range(s, t + 1))
            costs.append(best[s] + SET_UP[s] + held)
        best.append(min(costs))
    solution = solve(lot_size_problem(DEMAND[:periods], SET_UP[:periods]))
    assert solution.objective == pytest.approx(best[periods], abs=1e-6)
