"""The least that any plan costs which stops its engine no more often than is accepted.

Of one future's season all parts together may be given at most one share; shares given so
(``joint.chances_shared``) are never more than the joint chance, whatever the plan. Who is given them is
learned.

A large programme falls apart into paths, one for each unit, once the two things that units share are paid for
by each alone: the stopped season by those shares, the opening of a window by what each job adds to its price
there. Whatever the shares and prices, the cheapest paths then cost no more than any plan does. Both are
learned from what the paths do: shares go to what fails in them, prices rise where more work is done than
openings are paid for. A step takes two milliseconds for 250 parts and 20 winters, a programme of HiGHS more
than a second.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from models.plan import rounding as rounded
from models.plan.failures import Failures
from models.plan.joint import Weights, chances_shared, come_to, lives_held
from models.plan.metal import cheapest_pairs
from models.plan.milp import MOST_WHOLE, least_of
from models.plan.problem import Arcs, Bools, Floats, Ints, Problem, life_costs
from models.plan.search import Trial, descended, shortest

LESSONS = (16, 8, 8)
"""Plans that teach the shares before each programme that is solved for the bound: good ones where stops are
paid for by their shares."""
LESSON_WORK = 2.5e6
"""Lives looked at for one of them."""
OF_PROGRAMME = 10.0
"""Plans that the answer of a programme counts for among them. On six engines of 222 units each answer then
takes 0.5 to 1.5 % off the gap."""
PRICE_STEP = 0.3
"""By how much the first lesson raises the price of a stop, in logarithm, where twice the accepted happen."""
TURNS = 600
"""Steps of the paths after which the bound is told. Twice as many raise it by 0.3 %."""
LEARN = 5
"""Steps between two lessons of the shares."""
FOLLOW = 0.3
"""Weight of the newest paths in the direction of a step, the rest that of those before. [1]"""
NEAR, FAR, LAST = 0.01, 0.03, 0.003
"""Steps aim at a bound that is higher by at least and at most so much of the cost; the last ones go so far of
it. [1]"""
BEHIND = 0.5
"""They may aim higher by that share of what the best bound so far is below the cost. [1]"""


class Learned(NamedTuple):
    """A bound, and the price of a stopped season and shares of its chance learned last. [money], [money],
    [1]"""

    bound: float
    price: float
    shares: Floats


@dataclass(frozen=True)
class Asked:
    """What is bounded.

    Attributes
    ----------
    problem : without the price of a stopped season. failures : of its units.
    stops : seasons stopped that are accepted. [1] cost : of a known plan. [money]
    gap : share of the bound within which that is near enough. [1] effort : factor on the work.
    """

    problem: Problem
    failures: Failures
    stops: float
    cost: float
    gap: float
    effort: float

    def near(self, bound: float) -> bool:
        """Whether the known plan is near enough to a bound."""
        return self.cost - bound <= self.gap * abs(bound)


def learned(asked: Asked, plans: Sequence[Bools], level: Ints, price: float) -> Learned:
    """A bound of the cost of every plan with no more stopped seasons than asked.

    Parameters
    ----------
    asked : of what. plans : renewals of good plans, each shape (U, W), the best first.
    level : depths opened in the best. price : of a stopped season to begin with. [money]
    """
    weights = Weights(asked.failures)
    for k, renewed in enumerate(plans):
        weights.add(lives_held(renewed), 2.0**-k)
    if len(asked.problem.arcs.cost) > MOST_WHOLE and apart(asked.problem):
        return least_by_paths(asked, weights, price)
    return least_by_programmes(asked, weights, level, price)


def apart(problem: Problem) -> bool:
    """Whether the units of a problem share nothing but openings and days; profile and metal are one."""
    return len(problem.lane_jobs) == 0 and len(Trial(problem).shared) == 0


def priced(problem: Problem, price: float, chance: Floats) -> Problem:
    """The problem with the chance of each life, shape (U, W + 2, W + 2), at a price of a stopped season."""
    arcs = problem.arcs
    unit = problem.unit_of_lane[arcs.lane]
    cost = arcs.cost + rounded.money(price * chance[unit, arcs.start, arcs.end])
    return replace(problem, arcs=Arcs(arcs.lane, arcs.start, arcs.end, cost))


def least_by_programmes(asked: Asked, weights: Weights, level: Ints, price: float) -> Learned:
    """A bound by HiGHS, each programme with shares that good plans and the one before have taught."""
    best, done = -np.inf, 0
    for lessons in LESSONS:
        for lesson in range(done, done + lessons if price > 0 else done):
            shares = chances_shared(weights)
            _, level, renewed, _ = descended(
                priced(asked.problem, price, shares), level, LESSON_WORK * asked.effort
            )
            weights.add(lives_held(renewed))
            over = come_to(shares, renewed) / asked.stops - 1.0
            price *= math.exp(PRICE_STEP * min(over, 1.0) / math.sqrt(lesson + 1))
        done += lessons
        shares = chances_shared(weights)
        least = least_of(priced(asked.problem, price, shares), asked.gap, asked.effort)
        best = max(best, least.bound - price * asked.stops)
        if len(least.lives.unit) == 0 or price == 0 or asked.near(best):
            break
        weights.add(least.lives, OF_PROGRAMME)
    return Learned(best, price, shares)


def least_by_paths(asked: Asked, weights: Weights, price: float) -> Learned:
    """A bound by the cheapest path of each unit, where they are :func:`apart`.

    Prices are rounded as money is, so that sums of them are exact; the bound holds after each step.
    """
    parts = _Parts(asked.problem)
    turns = max(round(TURNS * asked.effort), LEARN)
    best, over = -np.inf, 0.0
    shares = chances_shared(weights)
    parts.price_lives(price, shares)
    for turn in range(turns):
        paths = parts.cheapest()
        found = paths.cost + asked.problem.constant - price * asked.stops
        best = max(best, found)
        if asked.near(best):
            break
        most = max(FAR * abs(asked.cost), BEHIND * (asked.cost - best))
        aim = min(max(asked.cost - found, NEAR * abs(asked.cost)), most)
        parts.follow(paths, aim * LAST ** (turn / turns))
        over += (come_to(shares, paths.renewed) / asked.stops - 1.0) / LEARN
        if turn % LEARN == LEARN - 1:
            weights.add(lives_held(paths.renewed))
            price *= math.exp(PRICE_STEP * min(max(over, -1.0), 1.0) / math.sqrt(turn // LEARN + 2))
            shares, over = chances_shared(weights), 0.0
            parts.price_lives(price, shares)
    return Learned(best, price, shares)


@dataclass(frozen=True)
class _Paths:
    """The cheapest paths at some prices: what they and the openings cost, renewals (U, W), jobs (J, W),
    depths opened (W, D), days of jobs beyond what the openings leave of the window (W,)."""

    cost: float
    renewed: Bools
    jobs: Floats
    opened: Floats
    days: Floats


class _Parts:
    """Units by themselves, at prices of the openings that each job pays and of days beyond a window's own."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self.trial = problem, Trial(problem)
        self.lives = life_costs(problem)
        pairs = self.trial.pairs
        self.forced = problem.job_low[np.stack([pairs.turning, pairs.renewing])] > 0
        self.able = problem.job_high > 0
        self.of_job = np.zeros(problem.job_cost.shape)
        self.of_day = np.zeros(problem.n_windows)
        self.jobs, self.days, self.begun = self.of_job, self.of_day, False  # the direction of the steps
        self.deepest = np.pad(np.cumsum(problem.open_cost, axis=1), ((0, 0), (1, 0)))
        days = np.append(0.0, np.cumsum(problem.open_days))
        beyond, day_price = problem.day_steps
        lost = np.maximum(days - beyond[:, :, None], 0.0) * day_price[:, :, None]
        self.deepest += lost.sum(axis=0)
        self.room = np.maximum(problem.window_days[:, None] - days, 0.0)
        self.room[:, 0] = 0.0

    def price_lives(self, price: float, shares: Floats) -> None:
        """Lives as they cost with their shares of a stopped season at a price."""
        lives, pairs = self.lives + rounded.money(price * shares), self.trial.pairs
        self.single = self.trial.within_forced(lives[self.trial.single])
        self.profile, self.metal = lives[pairs.profile], lives[pairs.metal]

    def cheapest(self) -> _Paths:
        """The cheapest paths and openings at the prices that are."""
        problem, trial, pairs = self.problem, self.trial, self.trial.pairs
        extra = self.of_job + problem.job_days[:, None] * self.of_day
        price = np.where(self.able, problem.job_cost + extra, np.inf)
        renewed = np.zeros((problem.n_units, problem.n_windows), bool)
        jobs = np.zeros(price.shape)
        cost, renewed[trial.single] = shortest(self.single, price[trial.job])
        jobs[trial.job] = renewed[trial.single]
        total = float(cost.sum())
        if len(pairs.profile):
            of_pair, turned, new = cheapest_pairs(
                pairs, self.profile, self.metal, price[pairs.turning], price[pairs.renewing], self.forced
            )
            total += float(of_pair.sum())
            jobs[pairs.turning], jobs[pairs.renewing] = turned, new
            renewed[pairs.profile], renewed[pairs.metal] = turned | new, new
        opening, level = self._openings()
        opened = (np.arange(problem.n_depths)[None, :] < level[:, None]).astype(np.float64)
        days = problem.job_days @ jobs - self.room[np.arange(len(level)), level]
        return _Paths(total + opening, renewed, jobs, opened, days)

    def _openings(self) -> tuple[float, Ints]:
        """What openings cost less what jobs pay for them, each window as deep as that is least; levels."""
        depth = self.problem.job_depth
        paid = np.stack([self.of_job[depth == d].sum(axis=0) for d in range(self.problem.n_depths)], axis=1)
        cost = self.deepest - self.of_day[:, None] * self.room
        cost[:, 1:] -= np.cumsum(paid, axis=1)
        level = cost.argmin(axis=1)
        return float(cost.min(axis=1).sum()), level

    def follow(self, paths: _Paths, aim: float) -> None:
        """Prices changed where work and openings, or days, disagree in the last paths, as far as would raise
        the cost by the aim were it straight."""
        jobs, days = paths.jobs - paths.opened[:, self.problem.job_depth].T, paths.days
        if self.begun:
            jobs = FOLLOW * jobs + (1.0 - FOLLOW) * self.jobs
            days = FOLLOW * days + (1.0 - FOLLOW) * self.days
        self.jobs, self.days, self.begun = jobs, days, True
        jobs = np.where((self.of_job <= 0) & (jobs < 0), 0.0, jobs)
        days = np.where((self.of_day <= 0) & (days < 0), 0.0, days)
        length = math.fsum((jobs**2).ravel()) + math.fsum(days**2)
        if length > 0:
            self.of_job = np.maximum(rounded.money(self.of_job + aim / length * jobs), 0.0)
            self.of_day = np.clip(
                rounded.money(self.of_day + aim / length * days), 0.0, self.problem.lost_day
            )
