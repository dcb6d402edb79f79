"""The choice of windows and work, free of meaning: lives as arcs, jobs, depths, days.

A *unit* is a set of wear points that are always renewed together. Its renewals over the horizon are a path
from node 0 (now) through the windows 1 .. W at which it is renewed to node W + 1 (the end). An arc from u
to v is one life, begun at u and ended at v; it carries what that life costs beyond the job. A *lane* is one
way to go on with a unit (one turning policy of a tire, say): the whole path stays in one lane.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Arcs:
    """Lives that may be chosen, one an element. Shapes (a,).

    Attributes
    ----------
    lane : lane of the life; start, end : nodes, 0 <= start < end <= W + 1.
    cost : what it costs beyond the job at its end. [money]
    """

    lane: Ints
    start: Ints
    end: Ints
    cost: Floats


@dataclass(frozen=True)
class Problem:
    """One vehicle's choice; W windows, U units, J jobs, D depths.

    Attributes
    ----------
    unit_of_lane : shape (lanes,). Unit of each lane.
    arcs : lives that may be chosen; every unit must have a path through every set of windows that is allowed.
    covers : shape (pairs, 2). Job and unit: the job renews the unit, and the unit is renewed by nothing else.
    lane_jobs : shape (pairs, 2). Job and lane: jobs that a life of this lane may end with; empty when every
        unit has one lane.
    job_cost : shape (J, W), by window. [money], >= 0; job_low, job_high : shape (J, W), 0 or 1, forced and
        allowed.
    job_depth : shape (J,). Depth that the job needs, 0 .. D - 1.
    job_days : shape (J,). Days that the job adds to the window's work. [d]
    open_cost : shape (W, D). Cost of going from depth d - 1 to depth d. [money], >= 0
    open_days : shape (D,). Days of the same step. [d]
    window_days : shape (W,). Days that can be worked without losing running days. [d]
    lost_day : shape (W,). Cost of one day beyond them. [money/d], >= 0
    long_days, long_day : shape (W,). Days beyond which a day costs so much more, running into the season
        after the window. [d], [money/d], >= 0. None where days cost the same however many.
    constant : cost of every choice alike. [money]
    turnings : shape (k, 4). A job that spends metal, the job that gives it back (a new part), and how often
        the first may be done to the part in service, and to a new one.
    """

    unit_of_lane: Ints
    arcs: Arcs
    covers: Ints
    lane_jobs: Ints
    job_cost: Floats
    job_low: Floats
    job_high: Floats
    job_depth: Ints
    job_days: Floats
    open_cost: Floats
    open_days: Floats
    window_days: Floats
    lost_day: Floats
    constant: float = 0.0
    long_days: Floats | None = None
    long_day: Floats | None = None
    turnings: Ints = field(default_factory=lambda: np.empty((0, 4), dtype=np.int64))

    @property
    def n_windows(self) -> int:
        """Number of windows."""
        return int(self.job_cost.shape[1])

    @property
    def n_units(self) -> int:
        """Number of units."""
        return int(self.unit_of_lane.max()) + 1 if len(self.unit_of_lane) else 0

    @property
    def n_depths(self) -> int:
        """Number of depths."""
        return int(self.open_cost.shape[1])

    @property
    def day_steps(self) -> tuple[Floats, Floats]:
        """Days of work beyond which a day costs more, and how much more, each shape (2, W). [d], [money/d]"""
        most = np.full(self.n_windows, np.inf) if self.long_days is None else self.long_days
        more = np.zeros(self.n_windows) if self.long_day is None else self.long_day
        return np.stack([self.window_days, most]), np.stack([self.lost_day, more])

    def days_of(self, jobs: Bools, level: Ints) -> Floats:
        """Days of the work of each window, opened to a level, shape (W,). [d]"""
        opened = np.arange(self.n_depths)[None, :] < level[:, None]
        return np.asarray(self.job_days @ jobs + (opened * self.open_days).sum(axis=1))

    def lost_cost(self, days: Floats) -> float:
        """What so many days of work in each window cost beyond the window's own. [money]"""
        beyond, price = self.day_steps
        return float((np.maximum(days - beyond, 0.0) * price).sum())


@dataclass(frozen=True)
class Solution:
    """What was chosen.

    Attributes
    ----------
    lane : shape (U,). Lane of each unit.
    renewed : shape (U, W), bool. Windows at which each unit is renewed.
    jobs : shape (J, W), bool. Jobs done by window.
    level : shape (W,). Depths opened, 0 for none.
    lost_days : shape (W,). Days of work beyond those of the window. [d]
    objective, bound : cost of the choice and the least that any choice could cost. [money]
    """

    lane: Ints
    renewed: Bools
    jobs: Bools
    level: Ints
    lost_days: Floats
    objective: float
    bound: float

    @property
    def gap(self) -> float:
        """How far from the best the choice may be at most, as a share of its cost. [1]"""
        return max(self.objective - self.bound, 0.0) / max(abs(self.objective), 1e-9)


def life_costs(problem: Problem) -> Floats:
    """Cost of each life as a dense array, shape (lanes, W + 2, W + 2), inf where it may not be chosen.
    [money]"""
    nodes = problem.n_windows + 2
    out = np.full((len(problem.unit_of_lane), nodes, nodes), np.inf)
    out[problem.arcs.lane, problem.arcs.start, problem.arcs.end] = problem.arcs.cost
    return out


def solution_of(
    problem: Problem, jobs: Bools, lane: Ints, bound: float, lives: Floats | None = None
) -> Solution:
    """What a choice of jobs comes to.

    Parameters
    ----------
    problem : what may be chosen.
    jobs : shape (J, W). Jobs done by window.
    lane : shape (U,). Lane of each unit.
    bound : the least that any choice could cost. [money]
    lives : as :func:`life_costs` has them, where they are known already.

    Notes
    -----
    A window is opened no deeper than its work needs. The objective is inf where a unit has no such life.
    """
    level = (jobs * (problem.job_depth[:, None] + 1)).max(axis=0, initial=0)
    renewed = np.zeros((problem.n_units, problem.n_windows), bool)
    np.logical_or.at(renewed, problem.covers[:, 1], jobs[problem.covers[:, 0]])
    lost = np.maximum(problem.days_of(jobs, level) - problem.window_days, 0.0)
    chosen = Solution(lane, renewed, jobs, level, lost, 0.0, bound)
    cost = amount(problem, chosen, lives)
    return replace(chosen, objective=cost, bound=min(bound, cost))


def amount(problem: Problem, solution: Solution, lives: Floats | None = None) -> float:
    """Cost of a choice, worked out anew from what was chosen. [money] ``lives`` as :func:`life_costs` has
    them."""
    lives = life_costs(problem) if lives is None else lives
    ends = np.pad(solution.renewed, ((0, 0), (0, 1)), constant_values=True)
    unit, end = np.nonzero(ends)
    start = np.where(np.diff(unit, prepend=-1) > 0, 0, np.append(0, end[:-1] + 1))
    total = problem.constant + float(lives[solution.lane[unit], start, end + 1].sum())
    opened = np.arange(problem.n_depths)[None, :] < solution.level[:, None]
    total += float((problem.job_cost * solution.jobs).sum() + (problem.open_cost * opened).sum())
    return total + problem.lost_cost(problem.days_of(solution.jobs, solution.level))


def without_hopeless_lives(problem: Problem) -> Problem:
    """The same problem without lives that no best choice holds.

    Notes
    -----
    Only for lanes that are alone in their unit, with one job that renews nothing else and may be done at
    any window. Such a unit never pays more than it would if it opened every one of its windows by itself,
    so a life is hopeless when the cheapest path through it, with all windows open for nothing, costs more
    than that.
    """
    lanes, job = _free_lanes(problem)
    if len(lanes) == 0:
        return problem
    lives = life_costs(problem)[lanes]
    depth, days = problem.job_depth[job], problem.job_days[job]
    price = problem.job_cost[job]
    to_depth = np.cumsum(problem.open_cost, axis=1)[:, depth].T
    dearest = problem.day_steps[1].sum(axis=0)
    lost = (days + np.cumsum(problem.open_days)[depth])[:, None] * dearest[None, :]
    free = _through(lives, price)
    alone = _forward(_with_jobs(lives, price + to_depth + lost))[:, -1]
    keep = np.ones((len(problem.unit_of_lane), *lives.shape[1:]), bool)
    # A hair's breadth, so that rounding never loses the best path itself.
    keep[lanes] = free <= (alone + 1e-9 * (1 + np.abs(alone)))[:, None, None]
    kept = keep[problem.arcs.lane, problem.arcs.start, problem.arcs.end]
    old = problem.arcs
    arcs = Arcs(old.lane[kept], old.start[kept], old.end[kept], old.cost[kept])
    return replace(problem, arcs=arcs)


def _free_lanes(problem: Problem) -> tuple[Ints, Ints]:
    """Lanes that can be looked at alone, and the one job of each."""
    units_of_job = np.bincount(problem.covers[:, 0], minlength=len(problem.job_depth))
    jobs_of_unit = np.bincount(problem.covers[:, 1], minlength=problem.n_units)
    lanes_of_unit = np.bincount(problem.unit_of_lane, minlength=problem.n_units)
    free_job = (problem.job_low == 0).all(axis=1) & (problem.job_high == 1).all(axis=1) & (units_of_job == 1)
    pairs = problem.covers[free_job[problem.covers[:, 0]]]
    pairs = pairs[(jobs_of_unit[pairs[:, 1]] == 1) & (lanes_of_unit[pairs[:, 1]] == 1)]
    lane_of_unit = np.zeros(problem.n_units, dtype=np.int64)
    lane_of_unit[problem.unit_of_lane] = np.arange(len(problem.unit_of_lane))
    return lane_of_unit[pairs[:, 1]], pairs[:, 0]


def _with_jobs(lives: Floats, price: Floats) -> Floats:
    out = lives.copy()
    out[:, :, 1:-1] += price[:, None, :]
    return out


def _forward(cost: Floats) -> Floats:
    best = np.full(cost.shape[:2], np.inf)
    best[:, 0] = 0.0
    for v in range(1, cost.shape[1]):
        best[:, v] = (best[:, :v] + cost[:, :v, v]).min(axis=1)
    return best


def _through(lives: Floats, price: Floats) -> Floats:
    """Cost of the cheapest path through each life, all windows open."""
    cost = _with_jobs(lives, price)
    ahead = np.full(cost.shape[:2], np.inf)
    ahead[:, -1] = 0.0
    for u in range(cost.shape[1] - 2, -1, -1):
        ahead[:, u] = (cost[:, u, u + 1 :] + ahead[:, u + 1 :]).min(axis=1)
    return np.asarray(_forward(cost)[:, :, None] + cost + ahead[:, None, :])


def paths_beside(lives: Floats, price: Floats, shut: Floats) -> tuple[Floats, Floats]:
    """Cheapest paths of each unit where one window is shut or open, or two that follow each other.

    Parameters
    ----------
    lives : shape (W + 2, W + 2, n). Cost of each life, the units last, side by side in memory. [money]
    price : shape (W, n). Cost of a renewal were the window open. [money]
    shut : shape (W, n). 0 where a window is open, inf where it is not.

    Returns
    -------
    Costs with the window shut (0) or open (1), shape (2, W, n), all others as they are; and with it and the
    next so, shape (2, 2, W - 1, n).
    """
    nodes, _, n = lives.shape
    paid = np.pad(price + shut, ((1, 1), (0, 0)))
    reached, ahead = np.zeros((2, nodes, n))  # cost up to a node, and from it on, without its own renewal
    before, after = np.zeros((2, nodes, n))
    before[0], after[-1] = paid[0], paid[-1]
    for v in range(1, nodes):
        reached[v] = (before[:v] + lives[:v, v]).min(axis=0)
        before[v] = reached[v] + paid[v]
    for v in range(nodes - 2, -1, -1):
        ahead[v] = (lives[v, v + 1 :] + after[v + 1 :]).min(axis=0)
        after[v] = ahead[v] + paid[v]
    into, onward = before[:, None] + lives, lives + after[None]
    for v in range(nodes - 2, -1, -1):
        np.minimum(onward[:, v], onward[:, v + 1], out=onward[:, v])
    around = before[:, None] + onward
    for v in range(1, nodes):
        np.minimum(into[v], into[v - 1], out=into[v])
        np.minimum(around[v], around[v - 1], out=around[v])
    node = np.arange(1, nodes - 1)
    passed = around[node - 1, node + 1]
    one = np.stack([passed, np.minimum(passed, reached[node] + price + ahead[node])])
    node, following = node[:-1], node[1:]
    first, second = reached[node] + price[:-1], price[1:] + ahead[following]
    none = around[node - 1, node + 2]
    by_first = np.minimum(none, first + onward[node, node + 2])
    by_second = np.minimum(none, into[node - 1, following] + second)
    by_both = np.minimum(np.minimum(by_first, by_second), first + lives[node, following] + second)
    return one, np.stack([np.stack([none, by_second]), np.stack([by_first, by_both])])
