"""Cost against the risk of the engine: plans at several prices of a stopped season, the cheapest accepted.

The accepted figure is a bound on the mean chance of a season, over all futures at once, so that it cannot be
added up part by part. It is paid for instead: each season in which the engine must stop costs a price beyond
what the stop itself costs, and the price is raised until the plan keeps to the figure. For one price the best
renewals of each part are found with the other parts as they stand (``joint.chances_added``), in turn until
nothing gets cheaper; shares of the same chance that add up to no more than it (``joint.chances_shared``) give
the bound.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from models.plan import rounding as rounded
from models.plan.failures import Failures
from models.plan.joint import (
    chances_added,
    chances_alone,
    chances_shared,
    come_to,
    failing_in,
    season_chances,
)
from models.plan.metal import keeps_metal
from models.plan.milp import MOST_WHOLE, choice_of, least_of, sharpened, within_gap
from models.plan.problem import Arcs, Bools, Floats, Problem, Solution
from models.plan.search import Trial, descended, first_choice

STEPS = (0.0, 1.0, 4.0, 16.0, 64.0)
"""Prices of a stopped season that are tried first, as multiples of what a stop costs by itself."""
HALVINGS = 2
"""Prices tried between the last that is too low and the first that is high enough."""
ROUNDS = 3
"""Turns of choosing renewals with the others as they stand, at one price."""
EASINGS = 6
"""Prices tried for renewals alone, with the openings as a plan next to the accepted figure has them."""
STEP_WORK = 1e7
"""Lives looked at in one such turn (``search.Trial.done``): twice through 20 winters of 250 parts."""
START_WORK = 2e8
"""The same where the first levels of opening are looked for without HiGHS."""
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
KEPT_SLACK = 0.005
"""A kept plan stands while its chance is no more than this above the accepted one. [1]"""


@dataclass(frozen=True)
class Rung:
    """A plan at one price of a stopped season.

    Attributes
    ----------
    price : of a stopped season, beyond what a stop costs by itself. [money]
    solution : the choice; its objective without that price.
    chances : shape (seasons,). Chance of each season that the engine must stop. [1]
    """

    price: float
    solution: Solution
    chances: Floats

    @property
    def chance(self) -> float:
        """Mean chance of the seasons that a plan can change. [1]"""
        return math.fsum(self.chances[1:]) / max(len(self.chances) - 1, 1)

    def total(self, price: float) -> float:
        """Cost with a stopped season at a price. [money]"""
        return self.solution.objective + price * math.fsum(self.chances[1:])


@dataclass(frozen=True)
class Frontier:
    """Plans of one vehicle, dearest stops last, and the one chosen; no plan that keeps to the accepted chance
    costs less than its bound."""

    rungs: list[Rung]
    chosen: Rung


def frontier_of(
    problem: Problem,
    failures: Failures,
    accepted: float,
    unit_price: float,
    *,
    effort: float = 1.0,
    gap: float = 0.005,
    kept: Bools | None = None,
) -> Frontier:
    """Cheapest plan whose mean chance of a stopped season is accepted, with cheaper and safer ones.

    Parameters
    ----------
    problem : what may be chosen, without the price of a stopped season.
    failures : of the units of the problem. accepted : chance of a season that is accepted. [1]
    unit_price : what a stop costs by itself, the measure of the prices tried. [money], > 0
    effort, gap, kept : as ``milp.solve`` takes them.

    Notes
    -----
    Where no price reaches the accepted chance the safest plan found is chosen. All ends by counts.
    """
    search = _Search(problem, failures, effort, gap)
    rungs: list[Rung] = []
    for step in STEPS:
        rungs.append(search.at(step * unit_price, rungs))
        if rungs[-1].chance <= accepted:
            break
    for _ in range(HALVINGS if len(rungs) > 1 and rungs[-1].chance <= accepted else 0):
        enough = next(k for k, rung in enumerate(rungs) if rung.chance <= accepted)
        low, high = (rung.price for rung in rungs[enough - 1 : enough + 1])
        between = np.sqrt(max(low, unit_price / 4.0) * high)
        rungs.insert(enough, search.at(float(between), rungs))
    rungs += search.eased(rungs, accepted, STEPS[-1] * unit_price)
    chosen = _cheapest(rungs, accepted)
    chosen = search.settled(chosen, rungs, accepted, kept)
    return Frontier(sorted(rungs, key=lambda rung: rung.price), chosen)


def at_price(
    problem: Problem, failures: Failures, price: float, begin: Solution, effort: float = 1.0
) -> Solution | None:
    """A plan of a problem at one price of a stopped season, begun from a choice of the same jobs.

    None where that choice is not allowed in the problem.
    """
    search = _Search(problem, failures, effort, 0.0)
    first = search.rung(price, begin.jobs)
    return None if first is None else search.at(price, [first]).solution


def _cheapest(rungs: list[Rung], accepted: float) -> Rung:
    within = [rung for rung in rungs if rung.chance <= accepted]
    if within:
        return min(within, key=lambda rung: rung.solution.objective)
    return min(rungs, key=lambda rung: (rung.chance, rung.solution.objective))


class _Search:
    """What the prices of one vehicle share: the problem, its failures, the work that may be done.

    Levels of opening are tried with all lives that may be held: a life that is hopeless where its windows can
    be opened for it (``problem.without_hopeless_lives``) may be the only one left where they are not.
    """

    def __init__(self, problem: Problem, failures: Failures, effort: float, gap: float) -> None:
        self.problem, self.failures = problem, failures
        self.effort, self.gap = effort, gap

    def at(self, price: float, known: list[Rung]) -> Rung:
        """The best plan found at a price, begun from the best of the known ones."""
        best = min(known, key=lambda rung: rung.total(price)) if known else self._first(price)
        for _ in range(ROUNDS):
            added = chances_added(self.failures, best.solution.renewed)
            _, _, _, jobs = descended(
                self._priced(price, added), best.solution.level, STEP_WORK * self.effort
            )
            found = self.rung(price, jobs)
            if found is None or found.total(price) >= best.total(price) - self._step(best):
                break
            best = found
        return replace(best, price=price)

    def eased(self, rungs: list[Rung], accepted: float, dearest: float) -> list[Rung]:
        """A plan nearer to the accepted chance than one price for all can come; none where it is no cheaper.

        Between two prices next to each other a whole opening may fall away, and no plan lies near the
        accepted chance. With the openings of the cheapest plan that keeps to it, and of the one beyond,
        renewals alone are paid for until they just do.
        """
        within = [rung for rung in rungs if rung.chance <= accepted]
        beyond = [rung for rung in rungs if rung.chance > accepted]
        begun = [min(within, key=lambda rung: rung.solution.objective)] if within else []
        begun += [min(beyond, key=lambda rung: rung.chance)] if beyond else []
        found = []
        for begin in begun:
            low, high = (0.0, begin.price) if begin.chance <= accepted else (begin.price, dearest)
            for _ in range(EASINGS if high > low else 0):
                price = float(np.sqrt(max(low, high / 256.0) * high))
                tried = self._renewals_at(price, begin)
                if tried.chance <= accepted:
                    high = price
                    found.append(tried)
                else:
                    low = price
        best = _cheapest(within, accepted).solution.objective if within else np.inf
        found = [rung for rung in found if rung.solution.objective < best]
        return sorted(found, key=lambda rung: rung.solution.objective)[:1]

    def _renewals_at(self, price: float, begin: Rung) -> Rung:
        """The best renewals found at a price, with the openings of a plan."""
        best = begin
        for _ in range(ROUNDS):
            added = chances_added(self.failures, best.solution.renewed)
            _, _, jobs = Trial(self._priced(price, added)).weigh(begin.solution.level)
            found = self.rung(price, jobs)
            if found is None or found.total(price) >= best.total(price) - self._step(best):
                break
            best = found
        return replace(best, price=price)

    def settled(self, chosen: Rung, rungs: list[Rung], accepted: float, kept: Bools | None) -> Rung:
        """The chosen plan sharpened by HiGHS, with its bound; the kept one where it is as good."""
        price = chosen.price
        added = chances_added(self.failures, chosen.solution.renewed)
        sharper = sharpened(self._priced(price, added), chosen.solution.level, self.gap, self.effort)
        found = None if sharper is None else self.rung(price, sharper.jobs)
        if found is not None and _cheapest([chosen, found], accepted) is found:
            chosen = found
        bound = self._least(chosen, rungs, accepted)
        before = None if kept is None else self.rung(price, kept)
        if before is not None and self._stands(before, chosen, bound, accepted):
            chosen = before
        bound = min(bound, chosen.solution.objective)
        return replace(chosen, solution=replace(chosen.solution, bound=bound))

    def _least(self, chosen: Rung, rungs: list[Rung], accepted: float) -> float:
        """The least that any plan costs which keeps to the accepted chance, or is as safe as the chosen one.

        Stops are paid for at the rate at which plans on both sides of the accepted chance trade them; what
        the accepted ones come to is then taken off again.
        """
        seasons, most = len(chosen.chances) - 1, max(accepted, chosen.chance)
        price, least = chosen.price, np.inf
        for within in [chosen, *(rung for rung in rungs if rung.chance <= most)]:
            for beyond in (rung for rung in rungs if rung.chance > most):
                rate = (within.solution.objective - beyond.solution.objective) / (
                    beyond.chance - within.chance
                )
                at_most = within.solution.objective - rate * (most - within.chance)
                if rate >= 0 and at_most < least:
                    price, least = rate / seasons, at_most
        stops = most * seasons
        return self._bound(replace(chosen, price=price), rungs, stops)

    def _stands(self, before: Rung, chosen: Rung, bound: float, accepted: float) -> bool:
        """Whether a kept plan is as safe as asked and the search has nothing better to say."""
        price = chosen.price
        if before.chance > max(accepted + KEPT_SLACK, chosen.chance):
            return False
        cost = before.solution.objective
        return before.total(price) <= chosen.total(price) or cost - bound <= self.gap * abs(cost)

    def _first(self, price: float) -> Rung:
        """A plan to begin with: each part as if it were alone."""
        priced = self._priced(price, chances_alone(self.failures))
        large = len(priced.arcs.cost) > MOST_WHOLE
        solution = None if large else within_gap(priced, self.gap, self.effort)[0]
        if solution is not None:
            found = self.rung(price, solution.jobs)
            if found is not None:
                return found
        found = self.rung(price, first_choice(priced, START_WORK * self.effort)[3])
        if found is None:
            raise NoChoice
        return found

    def _bound(self, chosen: Rung, rungs: list[Rung], stops: float) -> float:
        """The least that any plan costs with no more stopped seasons, a price beside the chosen one's."""
        near = sorted(rungs, key=lambda rung: abs(rung.price - chosen.price))
        plans = [chosen.solution.renewed, *(rung.solution.renewed for rung in near)]
        weight = np.zeros((self.failures.count, len(plans[0]), self.failures.n_seasons))
        for k, renewed in enumerate(plans):
            weight += 2.0**-k * self.failures.of_plan(renewed)
        cost, best = chosen.solution.objective, -np.inf
        price, level, done = chosen.price, chosen.solution.level, 0
        for lessons in LESSONS:
            for lesson in range(done, done + lessons if price > 0 else done):
                shares = chances_shared(self.failures, weight)
                _, level, renewed, _ = descended(
                    self._priced(price, shares), level, LESSON_WORK * self.effort
                )
                weight += self.failures.of_plan(renewed)
                over = come_to(shares, renewed) / stops - 1.0
                price *= math.exp(PRICE_STEP * min(over, 1.0) / math.sqrt(lesson + 1))
            done += lessons
            shares = chances_shared(self.failures, weight)
            least = least_of(self._priced(price, shares), self.gap, self.effort)
            best = max(best, least.bound - price * stops)
            if len(least.unit) == 0 or price == 0 or cost - best <= self.gap * abs(best):
                break
            weight += OF_PROGRAMME * failing_in(self.failures, least)
        return best

    def _priced(self, price: float, chance: Floats) -> Problem:
        arcs = self.problem.arcs
        unit = self.problem.unit_of_lane[arcs.lane]
        cost = arcs.cost + rounded.money(price * chance[unit, arcs.start, arcs.end])
        return replace(self.problem, arcs=Arcs(arcs.lane, arcs.start, arcs.end, cost))

    def rung(self, price: float, jobs: Bools) -> Rung | None:
        """A choice of jobs at a price; None where it is not allowed."""
        if not keeps_metal(self.problem, jobs):
            return None
        solution = choice_of(self.problem, jobs, -np.inf)
        if solution is None:
            return None
        return Rung(price, solution, season_chances(self.failures, solution.renewed))

    @staticmethod
    def _step(rung: Rung) -> float:
        return 1e-6 * abs(rung.solution.objective)


class NoChoice(Exception):
    """No plan was found with the work allowed."""
