"""What a reading would save: the plan's choice of a part's renewal, made with the reading and without it.

In each future the part now in service ends in a season, and each window at which it could be renewed has a
cost
in that future: the job, the opening, the lives after it, a stop if the part ends before. Without a reading
one
window is chosen for all futures; a reading tells futures apart, as well as it tells the miles that are left.
"""

from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.special import ndtri

from models.plan.engine import Chosen
from models.plan.failures import PRICED_DRAWS
from models.plan.problem import Floats, Ints, life_costs
from models.plan.rules import Rules

SIGNALS = 10
"""Groups into which a reading is taken to sort the futures. A finer one changes no order of the list
(tested)."""


class _Part(NamedTuple):
    """Costs of one unit by node of its next renewal: fixed, shape (V,), and by future, shape (n, V).
    [money]"""

    nodes: Ints
    cost: Floats
    failed: Floats
    planned: int


def told_by_reading(state: pd.DataFrame) -> pd.Series:
    """Share of the spread of a part's remaining miles that one more reading would take away, by point. [1]

    Parameters
    ----------
    state : frame of a forecast run: point, level, level_var, rate, rate_var, level_rate_cov, tau, sigma,
    limit.

    Notes
    -----
    Remaining miles are (limit - level) / rate, taken as a straight line about the present state; the reading
    sees the level with the noise sigma and teaches the rate through their covariance. What wear does by
    chance on the way (tau, variance per mile) no reading tells.
    """
    rate = np.maximum(state["rate"].to_numpy(float), 1e-12)
    ahead = np.maximum(state["limit"].to_numpy(float) - state["level"].to_numpy(float), 0.0) / rate
    level_var, rate_var = state["level_var"].to_numpy(float), state["rate_var"].to_numpy(float)
    both = state["level_rate_cov"].to_numpy(float)
    of_level, of_rate = -1.0 / rate, -ahead / rate
    seen = of_level * level_var + of_rate * both
    noise = level_var + state["sigma"].to_numpy(float) ** 2
    told = np.divide(seen**2, noise, out=np.zeros_like(seen), where=noise > 0)
    spread = of_level**2 * level_var + 2 * of_level * of_rate * both + of_rate**2 * rate_var
    whole = spread + state["tau"].to_numpy(float) ** 2 * ahead / rate**2
    share = np.divide(told, whole, out=np.zeros_like(told), where=whole > 0)
    return pd.Series(np.clip(share, 0.0, 1.0), index=state["point"].to_numpy())


def savings(chosen: Chosen, remaining: Floats, told: pd.Series, rules: Rules) -> pd.Series:
    """What a reading of each wear point of one engine would save, by point. [money], >= 0

    Parameters
    ----------
    chosen : the plan of the engine.
    remaining : shape (n, p). Miles that the parts in service have left in each future, in the order of the
        programme's wear points. [mi]
    told : as :func:`told_by_reading` gives it; 0 for a wear point without an entry.
    rules : of the plan.
    """
    points = chosen.programme.lives.points["point"]
    out = pd.Series(0.0, index=points.to_numpy())
    for unit, members in enumerate(chosen.programme.net.units):
        part = _part(chosen, unit, rules) if len(members) else None
        if part is None:
            continue
        for row in members:
            name = str(points.iloc[row])
            share = float(told.get(name, 0.0))
            if share > 0:
                out[name] = _saved(part, _signal(remaining[:PRICED_DRAWS, row], share, int(row)), rules)
    return out


def _part(chosen: Chosen, unit: int, rules: Rules) -> _Part | None:
    """Costs of a unit's next renewal at each node; None where it cannot be renewed."""
    programme, solution, rungs = chosen
    problem, failures = programme.net.problem, programme.failures
    stop_price = next((rung.price for rung in rungs if rung.solution is solution), 0.0)
    jobs = problem.covers[problem.covers[:, 1] == unit, 0]
    if len(jobs) == 0:
        return None
    renewing = _renewal_price(chosen, jobs)
    tail = _tails(chosen, unit, renewing, stop_price)
    last = problem.n_windows + 1
    nodes = np.append(np.flatnonzero(np.isfinite(renewing)) + 1, last)
    fixed = np.where(nodes < last, renewing[np.minimum(nodes, last - 1) - 1] + tail[nodes], 0.0)
    fixed[-1] = _kept_at_end(chosen, unit, rules)
    season = failures.season[:, unit, 0].astype(np.int64)
    failed = (season[:, None] < nodes[None, :]).astype(np.float64)
    cost = fixed[None, :] + (rules.stop + stop_price) * failed
    renewed = np.flatnonzero(solution.renewed[unit]) + 1
    first = renewed[0] if len(renewed) else last
    place = np.flatnonzero(nodes == first)
    return _Part(nodes, cost, failed, int(place[0])) if len(place) else None


def _renewal_price(chosen: Chosen, jobs: Ints) -> Floats:
    """Cheapest renewal at each window, with the opening that the plan does not make there anyway, shape
    (W,)."""
    problem, solution = chosen.programme.net.problem, chosen.solution
    to_depth = np.cumsum(problem.open_cost, axis=1)
    open_for = np.where(solution.level > 0, to_depth[np.arange(problem.n_windows), solution.level - 1], 0.0)
    needed = to_depth[:, problem.job_depth[jobs]].T
    price = problem.job_cost[jobs] + np.maximum(needed - open_for[None, :], 0.0)
    return np.asarray(np.where(problem.job_high[jobs] > 0, price, np.inf).min(axis=0))


def _tails(chosen: Chosen, unit: int, renewing: Floats, stop_price: float) -> Floats:
    """Least cost of the lives after a renewal at each node, shape (W + 2,)."""
    problem, failures = chosen.programme.net.problem, chosen.programme.failures
    lane = int(np.flatnonzero(problem.unit_of_lane == unit)[0])
    lives = life_costs(problem)[lane]
    last = problem.n_windows + 1
    tail = np.zeros(last + 1)
    for node in range(last - 1, 0, -1):
        ends = np.arange(node + 1, last + 1)
        stopped = (failures.season[:, unit, node, None].astype(np.int64) < ends[None, :]).mean(axis=0)
        job = np.append(renewing[node:], 0.0)
        tail[node] = float(np.min(lives[node, ends] + stop_price * stopped + job + tail[ends]))
    return tail


def _kept_at_end(chosen: Chosen, unit: int, rules: Rules) -> float:
    """What the part in service is worth at the end of the years planned, as a cost. [money]"""
    programme = chosen.programme
    rows = programme.net.units[unit]
    share = np.clip(programme.lives.unused[rows, 0, -1] / programme.lives.new_life[rows], 0.0, 1.0).min()
    worth = float(rules.worth(programme.lives.years[[-1]])[0])
    return -rules.value_kept * float(programme.net.worth[unit]) * worth * float(share)


def _signal(remaining: Floats, share: float, salt: int) -> Ints:
    """Group of each future by what a reading would show of it: 0 .. SIGNALS - 1."""
    n = len(remaining)
    noise = np.random.default_rng([20260501, salt]).permutation(n)
    rank = np.empty(n)
    rank[np.lexsort((noise, remaining))] = np.arange(n)
    score = np.sqrt(share) * ndtri((rank + 0.5) / n) + np.sqrt(1.0 - share) * ndtri((noise + 0.5) / n)
    order = np.empty(n, dtype=np.int64)
    order[np.argsort(score, kind="stable")] = np.arange(n)
    return order * SIGNALS // n


def _saved(part: _Part, signal: Ints, rules: Rules) -> float:
    """Cost as planned less cost with the window chosen by the signal, half of the futures choosing for the
    other half."""
    half = np.arange(len(signal)) % 2 == 0
    total = 0.0
    for choosing, judged in ((half, ~half), (~half, half)):
        for group in range(SIGNALS):
            own, other = choosing & (signal == group), judged & (signal == group)
            if not own.any() or not other.any():
                continue
            chance = part.failed[own].mean(axis=0)
            bearable = chance <= max(rules.risk, float(chance.min()))
            cost = np.where(bearable, part.cost[own].mean(axis=0), np.inf)
            best = int(np.argmin(cost))
            total += float((part.cost[other, part.planned] - part.cost[other, best]).sum())
    return max(total / len(signal), 0.0)
