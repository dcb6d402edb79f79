"""A good choice to begin with: levels of opening are tried window by window, the rest follows exactly.

Once it is settled how deep each window opens, a unit's best renewals are a shortest path, found for all
units at once. The result starts the mixed-integer search; nothing rests on it being the best.
"""

import numpy as np
from numpy.typing import NDArray

from models.plan.metal import cheapest_pairs, pairs_of
from models.plan.problem import Bools, Floats, Ints, Problem, life_costs

WORK = 2.5e8
"""Lives looked at before the search stops where it is: about five seconds where two search at once."""
BESIDE = 0.4
"""Share of that work where it begins with the levels of a choice that is near the bound already. For the
engines of ``test_planner_speed.py`` it then finds no less than all of it from anywhere: plans 0.17 and 0.23 %
cheaper than the solver alone."""


class Trial:
    """What is needed again and again to weigh one set of levels; see :func:`first_choice`.

    ``done`` counts the lives that were looked at: the work of the search, whatever the clock says.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.done = 0
        lives = life_costs(problem)
        jobs_of_unit = np.bincount(problem.covers[:, 1], minlength=problem.n_units)
        lanes = _first_lanes(problem)
        self.pairs = pairs_of(problem)
        in_pair = np.zeros(problem.n_units, bool)
        in_pair[np.concatenate([self.pairs.profile, self.pairs.metal])] = True
        self.profile_lives, self.metal_lives = (
            lives[lanes[self.pairs.profile]],
            lives[lanes[self.pairs.metal]],
        )
        self.single = np.flatnonzero((jobs_of_unit == 1) & ~in_pair)
        self.shared = np.flatnonzero((jobs_of_unit > 1) & ~in_pair)
        self.single_lives, self.shared_lives = lives[lanes[self.single]], lives[lanes[self.shared]]
        job = np.zeros(problem.n_units, dtype=np.int64)
        job[problem.covers[:, 1]] = problem.covers[:, 0]
        self.job = job[self.single]
        # Units with several jobs: those that a single unit has settled are taken as they come, the others
        # chosen.
        row = np.full(problem.n_units, -1)
        row[self.shared] = np.arange(len(self.shared))
        pairs = problem.covers[row[problem.covers[:, 1]] >= 0]
        settled = np.isin(pairs[:, 0], self.job)
        self.settled_job, self.settled_row = pairs[settled, 0], row[pairs[settled, 1]]
        alone = np.bincount(problem.covers[:, 0], minlength=len(problem.job_depth))[pairs[:, 0]] == 1
        free = ~settled & alone  # a job that two such units would have to agree on is left to the programme
        self.free_job, self.free_row = pairs[free, 0], row[pairs[free, 1]]

    def weigh(self, level: Ints) -> tuple[float, Bools, Bools]:
        """Cost of the levels with good renewals for them, renewals, jobs.

        Days are first taken as free, then as lost in full at windows that overflowed: the better of the two
        counts.
        """
        free = self._with_day_price(level, np.zeros(len(level)))
        over = free[3] > 0
        if not over.any() or not np.isfinite(free[0]):
            return free[:3]
        dear = self._with_day_price(level, (over * self.problem.day_steps[1]).sum(axis=0))
        return min(free, dear, key=lambda weighed: weighed[0])[:3]

    def _with_day_price(self, level: Ints, day_price: Floats) -> tuple[float, Bools, Bools, Floats]:
        problem = self.problem
        self.done += problem.n_units * (problem.n_windows + 1) * (problem.n_windows + 2) // 2
        open_for = (problem.job_depth[:, None] < level[None, :]) & (problem.job_high > 0)
        extra = problem.job_days[:, None] * day_price[None, :]
        price = np.where(open_for, problem.job_cost + extra, np.inf)
        renewed = np.zeros((problem.n_units, problem.n_windows), bool)
        jobs = np.zeros(problem.job_cost.shape, bool)
        forced = problem.job_low[self.job] > 0
        cost, renewed[self.single] = shortest(self.single_lives, price[self.job], forced)
        jobs[self.job] = renewed[self.single]
        total = float(cost.sum())
        if len(self.shared):
            part, renewed[self.shared] = self._shared(price, jobs)
            total += part
        if len(self.pairs.profile):
            total += self._tires(price, jobs, renewed)
        opened = np.arange(problem.n_depths)[None, :] < level[:, None]
        days = problem.days_of(jobs, level)
        lost = np.maximum(days - problem.day_steps[0], 0.0)
        total += float((problem.open_cost * opened).sum()) + problem.lost_cost(days)
        return total - float((extra * jobs).sum()), renewed, jobs, lost

    def _tires(self, price: Floats, jobs: Bools, renewed: Bools) -> float:
        """Cost of profiles and their metal; writes their jobs and renewals."""
        pairs = self.pairs
        forced = self.problem.job_low[np.stack([pairs.turning, pairs.renewing])] > 0
        cost, turned, new = cheapest_pairs(
            pairs,
            self.profile_lives,
            self.metal_lives,
            price[pairs.turning],
            price[pairs.renewing],
            forced,
        )
        jobs[pairs.turning], jobs[pairs.renewing] = turned, new
        renewed[pairs.profile], renewed[pairs.metal] = turned | new, new
        return float(cost.sum())

    def _shared(self, price: Floats, jobs: Bools) -> tuple[float, Bools]:
        """Renewals of the units with several jobs; writes the jobs that they choose into ``jobs``."""
        shape = (len(self.shared), self.problem.n_windows)
        done = np.zeros(shape, bool)
        np.logical_or.at(done, self.settled_row, jobs[self.settled_job])
        must = done.copy()
        np.logical_or.at(must, self.free_row, self.problem.job_low[self.free_job] > 0)
        least = np.full(shape, np.inf)
        np.minimum.at(least, self.free_row, price[self.free_job])
        cost, renewed = shortest(self.shared_lives, np.where(done, 0.0, least), must)
        own = renewed & ~done
        cheapest = price[self.free_job] <= least[self.free_row]
        taken = np.zeros(shape, bool)
        for job, row, best in zip(self.free_job, self.free_row, cheapest, strict=True):
            chosen = own[row] & best & ~taken[row]
            jobs[job] |= chosen
            taken[row] |= chosen
        return float(cost.sum()), renewed


def shortest(lives: Floats, price: Floats, forced: Bools) -> tuple[Floats, Bools]:
    """Cheapest path of each unit.

    Parameters
    ----------
    lives : shape (n, W + 2, W + 2). Cost of each life, inf where there is none. [money]
    price : shape (n, W). Cost of the renewal at each window, inf where it cannot be done. [money]
    forced : shape (n, W). Windows at which the unit must be renewed.

    Returns
    -------
    Cost, shape (n,), inf where there is no path; windows of renewal, shape (n, W).
    """
    n, nodes = len(lives), lives.shape[1]
    best = np.full((n, nodes), np.inf)
    best[:, 0] = 0.0
    origin = np.zeros((n, nodes), dtype=np.int64)
    row, last = np.arange(n), np.zeros(n, dtype=np.int64)
    any_forced = bool(forced.any())
    for v in range(1, nodes):
        through = best[:, :v] + lives[:, :v, v]
        if any_forced:  # no life may run past a window at which the unit must be renewed
            through = np.where(np.arange(v)[None, :] >= last[:, None], through, np.inf)
        origin[:, v] = through.argmin(axis=1)
        best[:, v] = through[row, origin[:, v]]
        if v < nodes - 1:
            best[:, v] += price[:, v - 1]
            last = np.where(forced[:, v - 1], v, last)
    renewed = np.zeros((n, nodes - 2), bool)
    node = np.full(n, nodes - 1)
    while (node := origin[row, node]).any():
        renewed[row[node > 0], node[node > 0] - 1] = True
    return best[:, -1], renewed


def first_choice(
    problem: Problem, work: float = WORK, begin: Ints | None = None
) -> tuple[float, Ints, Bools, Bools]:
    """Levels of opening that no change of one window, or swap of two neighbours, makes cheaper.

    Parameters
    ----------
    problem : what may be chosen.
    work : lives looked at (``Trial.done``) after which the search stops where it is; the descent under way is
        broken off. At least one set of levels is weighed.
    begin : shape (W,). Levels to begin with; every window as deep as it goes when not given.

    Returns
    -------
    Cost (inf when no choice was found), levels, shape (W,), renewals, shape (U, W), jobs, shape (J, W). None
    is looked for where lanes have rules of their own.
    """
    if len(problem.lane_jobs):
        none = np.zeros((problem.n_units, problem.n_windows), bool)
        return (
            np.inf,
            np.zeros(problem.n_windows, dtype=np.int64),
            none,
            np.zeros(problem.job_cost.shape, bool),
        )
    trial = Trial(problem)
    depths, windows = problem.n_depths, problem.n_windows
    rng = np.random.default_rng(0)
    best_level = np.full(windows, depths) if begin is None else begin
    best = trial.weigh(best_level)[0]
    level, cost, stale = best_level, best, 0
    while trial.done < work:
        level, cost = _descend(trial, level, cost, rng, work)
        if cost < best - 1e-9 * abs(best):
            best, best_level, stale = cost, level, 0
        else:
            stale += 1
            if stale > 3 * windows:
                break
        level = _shaken(best_level, depths, rng)
        cost = trial.weigh(level)[0]
    total, renewed, jobs = trial.weigh(best_level)
    return total, best_level, renewed, jobs


def descended(problem: Problem, begin: Ints, work: float) -> tuple[float, Ints, Bools, Bools]:
    """The nearest levels below those of a choice; as :func:`first_choice`, without looking anywhere else."""
    trial = Trial(problem)
    cost, *_ = trial.weigh(begin)
    level, _ = _descend(trial, begin, cost, np.random.default_rng(0), work)
    total, renewed, jobs = trial.weigh(level)
    return total, level, renewed, jobs


def _descend(
    trial: Trial, level: Ints, cost: float, rng: np.random.Generator, work: float
) -> tuple[Ints, float]:
    better = True
    while better and trial.done < work:
        better = False
        for window in rng.permutation(len(level)):
            for tried in _neighbours(level, int(window), trial.problem.n_depths):
                weighed = trial.weigh(tried)[0]
                if weighed < cost - 1e-9 * abs(cost):
                    level, cost, better = tried, weighed, True
            if trial.done >= work:
                break
    return level, cost


def _neighbours(level: Ints, window: int, depths: int) -> list[Ints]:
    out = []
    for other in range(depths + 1):
        if other != level[window]:
            changed = level.copy()
            changed[window] = other
            out.append(changed)
    if window + 1 < len(level) and level[window] != level[window + 1]:
        swapped = level.copy()
        swapped[[window, window + 1]] = level[[window + 1, window]]
        out.append(swapped)
    return out


def _shaken(level: Ints, depths: int, rng: np.random.Generator) -> Ints:
    shaken = level.copy()
    several = rng.integers(0, len(level), size=min(3, len(level)))
    shaken[several] = rng.integers(0, depths + 1, size=len(several))
    return shaken


def _first_lanes(problem: Problem) -> NDArray[np.int64]:
    first = np.full(problem.n_units, -1, dtype=np.int64)
    first[problem.unit_of_lane[::-1]] = np.arange(len(problem.unit_of_lane))[::-1]
    return first
