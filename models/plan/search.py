"""A good choice to begin with: levels of opening are tried window by window, the rest follows exactly.

Once it is settled how deep each window opens, a unit's best renewals are a shortest path, found for all
units at once. What the levels beside them would cost is told for all of them in one go (:class:`Beside`);
only those that look cheaper are weighed. Nothing rests on the result being the best.
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.plan.metal import cheapest_pairs, pairs_of
from models.plan.problem import Bools, Floats, Ints, Problem, life_costs, paths_beside

WORK = 2.5e8
"""Lives looked at before the search stops where it is: about five seconds where two search at once."""
BESIDE = 0.4
"""Share of that work where it begins with the levels of a choice that is near the bound already. For the
engines of ``test_planner_speed.py`` it then finds no less than all of it from anywhere: plans 0.17 and 0.23 %
cheaper than the solver alone."""


class Weighed(NamedTuple):
    """What levels of opening cost with good renewals for them: cost, renewals, shape (U, W), jobs, shape (J,
    W), and days beyond each step, shape (2, W), where days are taken as free. [money], [d]"""

    cost: float
    renewed: Bools
    jobs: Bools
    over: Floats


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
        self.tired: dict[bytes, tuple[Floats, Bools, Bools]] = {}
        self.of_others: dict[bytes, float] = {}
        self.held = self.within_forced(self.single_lives)
        self.beside = np.ascontiguousarray(np.moveaxis(self.held, 0, 2))

    def within_forced(self, lives: Floats) -> Floats:
        """Lives of the single units without those that run past a window at which their job is forced."""
        forced = np.pad(self.problem.job_low[self.job] > 0, ((0, 0), (1, 1)))
        before = np.cumsum(forced, axis=1)
        passed = before[:, None, :] - forced[:, None, :] - before[:, :, None] > 0
        return np.where(passed, np.inf, lives)

    @property
    def lives(self) -> int:
        """Lives looked at when levels are weighed once."""
        return self.problem.n_units * (self.problem.n_windows + 1) * (self.problem.n_windows + 2) // 2

    def weigh(self, level: Ints) -> Weighed:
        """Cost of the levels with good renewals for them.

        Days are first taken as free, then as lost in full at windows that overflowed: the better of the two
        counts.
        """
        free = self._with_day_price(level, np.zeros(len(level)))
        if not (free.over > 0).any() or not np.isfinite(free.cost):
            return free
        dear = self._with_day_price(level, self.day_prices(free.over).sum(axis=0))
        return free if free.cost <= dear.cost else dear._replace(over=free.over)

    def day_prices(self, over: Floats) -> Floats:
        """Prices of a day at the windows that overflow a step, shape (2, W). [money/d]"""
        return np.asarray(np.where(over > 0, self.problem.day_steps[1], 0.0))

    def price(self, level: Ints, day_price: Floats) -> Floats:
        """What each job costs at each window with its days, shape (J, W), inf where it cannot be done."""
        problem = self.problem
        open_for = (problem.job_depth[:, None] < level[None, :]) & (problem.job_high > 0)
        return np.where(open_for, problem.job_cost + problem.job_days[:, None] * day_price[None, :], np.inf)

    def _with_day_price(self, level: Ints, day_price: Floats) -> Weighed:
        problem = self.problem
        self.done += self.lives
        price = self.price(level, day_price)
        renewed = np.zeros((problem.n_units, problem.n_windows), bool)
        jobs = np.zeros(problem.job_cost.shape, bool)
        cost, renewed[self.single] = shortest(self.held, price[self.job])
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
        extra = float(((problem.job_days @ jobs) * day_price).sum())
        return Weighed(total - extra, renewed, jobs, lost)

    def others_least(self, level: Ints, day_price: Floats) -> float:
        """The least that the units cost which are no single ones."""
        if len(self.shared) == 0 and len(self.pairs.profile) == 0:
            return 0.0
        price = self.price(level, day_price)
        key = price.tobytes()
        if key not in self.of_others:
            least = float(self._of_tires(price)[0].sum()) if len(self.pairs.profile) else 0.0
            if len(self.shared):
                of_row = np.full((len(self.shared), self.problem.n_windows), np.inf)
                np.minimum.at(of_row, self.free_row, price[self.free_job])
                settled = np.where(np.isfinite(price[self.settled_job]), 0.0, np.inf)
                np.minimum.at(of_row, self.settled_row, settled)
                least += float(shortest(self.shared_lives, of_row)[0].sum())
            self.of_others[key] = least
        return self.of_others[key]

    def _of_tires(self, price: Floats) -> tuple[Floats, Bools, Bools]:
        """Cheapest profiles and metal at prices of jobs: cost, turnings, renewals; looked for once."""
        pairs = self.pairs
        both = price[np.stack([pairs.turning, pairs.renewing])]
        key = both.tobytes()
        if key not in self.tired:
            forced = self.problem.job_low[np.stack([pairs.turning, pairs.renewing])] > 0
            self.tired[key] = cheapest_pairs(
                pairs, self.profile_lives, self.metal_lives, both[0], both[1], forced
            )
        return self.tired[key]

    def _tires(self, price: Floats, jobs: Bools, renewed: Bools) -> float:
        """Cost of profiles and their metal; writes their jobs and renewals."""
        cost, turned, new = self._of_tires(price)
        jobs[self.pairs.turning], jobs[self.pairs.renewing] = turned, new
        renewed[self.pairs.profile], renewed[self.pairs.metal] = turned | new, new
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


def shortest(lives: Floats, price: Floats, forced: Bools | None = None) -> tuple[Floats, Bools]:
    """Cheapest path of each unit.

    Parameters
    ----------
    lives : shape (n, W + 2, W + 2). Cost of each life, inf where there is none. [money]
    price : shape (n, W). Cost of the renewal at each window, inf where it cannot be done. [money]
    forced : shape (n, W). Windows at which the unit must be renewed; none when not given.

    Returns
    -------
    Cost, shape (n,), inf where there is no path; windows of renewal, shape (n, W).
    """
    n, nodes = len(lives), lives.shape[1]
    best = np.full((n, nodes), np.inf)
    best[:, 0] = 0.0
    origin = np.zeros((n, nodes), dtype=np.int64)
    row, last = np.arange(n), np.zeros(n, dtype=np.int64)
    forced = None if forced is None or not forced.any() else forced
    for v in range(1, nodes):
        through = best[:, :v] + lives[:, :v, v]
        if forced is not None:  # no life may run past a window at which the unit must be renewed
            through = np.where(np.arange(v)[None, :] >= last[:, None], through, np.inf)
        origin[:, v] = through.argmin(axis=1)
        best[:, v] = through[row, origin[:, v]]
        if v < nodes - 1:
            best[:, v] += price[:, v - 1]
            last = last if forced is None else np.where(forced[:, v - 1], v, last)
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
    best_level = np.full(problem.n_windows, problem.n_depths) if begin is None else begin
    best = trial.weigh(best_level)
    for level, weighed in _descents(trial, best_level, best, work):
        if weighed.cost < best.cost - 1e-9 * abs(best.cost):
            best_level, best = level, weighed
    return best.cost, best_level, best.renewed, best.jobs


def good_levels(problem: Problem, begin: Ints, work: float) -> list[tuple[Ints, Weighed]]:
    """Levels that no change of one window makes cheaper, as many as are met with that work, the cheapest
    first; parameters as :func:`first_choice` takes them."""
    trial = Trial(problem)
    met = {
        level.tobytes(): (level, weighed)
        for level, weighed in _descents(trial, begin, trial.weigh(begin), work)
    }
    return sorted((each for each in met.values() if np.isfinite(each[1].cost)), key=lambda each: each[1].cost)


def _descents(trial: Trial, level: Ints, weighed: Weighed, work: float) -> Iterator[tuple[Ints, Weighed]]:
    """Where descents end, the first from the levels given, the others from shaken ones of the best so far."""
    rng = np.random.default_rng(0)
    best, best_level, stale = weighed, level, 0
    while trial.done < work and stale <= 3 * len(level):
        level, weighed = _descend(trial, level, weighed, rng, work)
        yield level, weighed
        if weighed.cost < best.cost - 1e-9 * abs(best.cost):
            best, best_level, stale = weighed, level, 0
        else:
            stale += 1
        level = _shaken(best_level, trial.problem.n_depths, rng)
        weighed = trial.weigh(level)


def descended(problem: Problem, begin: Ints, work: float) -> tuple[float, Ints, Bools, Bools]:
    """The nearest levels below those of a choice; as :func:`first_choice`, without looking anywhere else."""
    trial = Trial(problem)
    level, found = _descend(trial, begin, trial.weigh(begin), np.random.default_rng(0), work)
    return found.cost, level, found.renewed, found.jobs


def _descend(
    trial: Trial, level: Ints, weighed: Weighed, rng: np.random.Generator, work: float
) -> tuple[Ints, Weighed]:
    better, beside = True, None
    while better and trial.done < work:
        better = False
        for window in rng.permutation(len(level)):
            for first, tried in neighbours(level, int(window), trial.problem.n_depths):
                enough = weighed.cost - 1e-9 * abs(weighed.cost)
                beside = Beside(trial, level, weighed.over) if beside is None else beside
                if beside.least(first, tried) >= beside.now - 1e-9 * abs(weighed.cost):
                    continue
                changed = level.copy()
                changed[first : first + len(tried)] = tried
                new = trial.weigh(changed)
                if new.cost < enough:
                    level, weighed, better, beside = changed, new, True, None
            if trial.done >= work:
                break
    return level, weighed


def neighbours(level: Ints, window: int, depths: int) -> list[tuple[int, Ints]]:
    """Levels of a window, and of it and the next, that may be tried: the window, its level and the next's."""
    out = [(window, np.array([other])) for other in range(depths + 1) if other != level[window]]
    if window + 1 < len(level) and level[window] != level[window + 1]:
        out.append((window, level[[window + 1, window]]))
    return out


class Beside:
    """The least that levels can cost which differ from some at one window, or at two that follow each other.

    Where the levels overflow, a day costs what it costs there, and one that is not needed gives as much back;
    elsewhere the days of work are free. So it is never more than what :meth:`Trial.weigh` says of the changed
    levels; by what it is more than ``now``, the same of the levels themselves, they look dearer.
    """

    def __init__(self, trial: Trial, level: Ints, over: Floats) -> None:
        self.trial, self.level = trial, level
        self.way = _Way(trial, level, trial.day_prices(over))
        trial.done += 3 * trial.lives
        self.now = self.least(0, level[:1])

    def least(self, window: int, tried: Ints) -> float:
        """The least cost with the levels tried, one or two, at a window and the next."""
        level = self.level.copy()
        level[window : window + len(tried)] = tried
        way = self.way
        return way.singles(window, tried) + way.opening(level) + self.trial.others_least(level, way.day_price)


class _Way:
    """One way to take the days: a price for those beyond each step, shape (2, W). [money/d]"""

    def __init__(self, trial: Trial, level: Ints, dear: Floats) -> None:
        problem = trial.problem
        self.day_price = dear.sum(axis=0)
        beyond = problem.day_steps[0]
        self.spared = float((dear * np.where(dear > 0, beyond, 0.0)).sum())
        depth = problem.job_depth[trial.job]
        deepest = np.full(len(level), problem.n_depths)
        shut = np.where(depth[None, :] < level[:, None], 0.0, np.inf)
        price = trial.price(deepest, self.day_price)[trial.job].T
        one, two = paths_beside(trial.beside, np.ascontiguousarray(price), shut)
        self.one, self.two = _by_depth(one, depth, problem.n_depths), _by_depth(two, depth, problem.n_depths)
        cost = np.pad(np.cumsum(problem.open_cost, axis=1), ((0, 0), (1, 0)))
        days = np.append(0.0, np.cumsum(problem.open_days))
        lost = (np.maximum(days - beyond[:, :, None], 0.0) * problem.day_steps[1][:, :, None]).sum(axis=0)
        self.opened = cost + np.where(self.day_price[:, None] > 0, self.day_price[:, None] * days, lost)

    def singles(self, window: int, tried: Ints) -> float:
        depths = np.arange(self.one.shape[-1])
        opened = (tried[:, None] > depths).astype(np.int64)
        table = self.one if len(tried) == 1 else self.two
        return float(table[(*opened, window, depths)].sum())

    def opening(self, level: Ints) -> float:
        return float(self.opened[np.arange(len(level)), level].sum()) - self.spared


def _by_depth(of_units: Floats, depth: Ints, depths: int) -> Floats:
    """Sums over the units of each depth, the last axis."""
    return np.stack([of_units[..., depth == d].sum(axis=-1) for d in range(depths)], axis=-1)


def _shaken(level: Ints, depths: int, rng: np.random.Generator) -> Ints:
    shaken = level.copy()
    several = rng.integers(0, len(level), size=min(3, len(level)))
    shaken[several] = rng.integers(0, depths + 1, size=len(several))
    return shaken


def _first_lanes(problem: Problem) -> NDArray[np.int64]:
    first = np.full(problem.n_units, -1, dtype=np.int64)
    first[problem.unit_of_lane[::-1]] = np.arange(len(problem.unit_of_lane))[::-1]
    return first
