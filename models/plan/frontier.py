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

from models.plan.bound import Asked, Learned, apart, learned, priced
from models.plan.failures import Failures
from models.plan.joint import chances_added, chances_alone, season_chances
from models.plan.milp import MOST_WHOLE, choice_of, sharpened, within_gap
from models.plan.problem import Bools, Floats, Ints, Problem, Solution, life_costs
from models.plan.search import Beside, Trial, descended, first_choice, good_levels, neighbours

STEPS = (0.0, 1.0, 4.0, 16.0, 64.0)
"""Prices of a stopped season that are tried first, as multiples of what a stop costs by itself."""
HALVINGS = 2
"""Prices tried between the last that is too low and the first that is high enough."""
ROUNDS = 3
"""Turns of choosing renewals with the others as they stand, at one price."""
STEP_WORK = 1e7
"""Lives looked at in one such turn (``search.Trial.done``): twice through 20 winters of 250 parts."""
START_WORK = 3e7
"""The same where the first levels of opening are looked for without HiGHS."""
LEVELS_WORK = 1e8
"""Lives looked at for levels of opening that are good where stops are paid for by the shares of the bound."""
MOST_LEVELS = 12
"""Such levels of which a plan that keeps to the accepted chance is made."""
POLISHED = 2
"""Of these plans, those whose openings are moved on window by window."""
POLISH = 30
"""Levels whose renewals are fitted to the accepted chance for one of them; of those that turn out dearer at
the first price, ``EARLY`` count as one."""
EARLY = 4
WORTH_A_TRY = 0.003
"""Levels are tried that look dearer by no more than this share of the cost. [1]"""
FITTINGS = 7
"""Prices tried until renewals keep to the accepted chance, and by no more than ``NEAR_ENOUGH``."""
NEAR_ENOUGH = 0.0003
FITTING_STEP = 1.25
"""Factor on the price until the chance lies between two of them."""
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
    rungs += search.eased(rungs, accepted)
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


def moved_on(
    problem: Problem, failures: Failures, price: float, begin: Solution, accepted: float, effort: float = 1.0
) -> Solution | None:
    """A plan that keeps to an accepted chance, its openings moved window by window from those of a choice.

    None where that choice is not allowed in the problem, or its openings allow no such plan.
    """
    search = _Search(problem, failures, effort, 0.0)
    first = search.rung(price, begin.jobs)
    fitted = None if first is None else search.fitted(first, begin.level, accepted, np.inf)
    return None if fitted is None else search.moved_on(fitted, accepted, set()).solution


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
        self.lives = life_costs(problem)

    def at(self, price: float, known: list[Rung]) -> Rung:
        """The best plan found at a price, begun from the best of the known ones."""
        best = min(known, key=lambda rung: rung.total(price)) if known else self._first(price)
        for _ in range(ROUNDS):
            added = chances_added(self.failures, best.solution.renewed)
            _, _, _, jobs = descended(
                priced(self.problem, price, added), best.solution.level, STEP_WORK * self.effort
            )
            found = self.rung(price, jobs)
            if found is None or found.total(price) >= best.total(price) - self._step(best):
                break
            best = found
        return replace(best, price=price)

    def eased(self, rungs: list[Rung], accepted: float) -> list[Rung]:
        """A plan nearer to the accepted chance than one price for all can come; none where it is no cheaper.

        Between two prices next to each other a whole opening may fall away, and no plan lies near the
        accepted chance. With the openings of the cheapest plan that keeps to it, and of the one beyond,
        renewals alone are paid for until they just do.
        """
        within = [rung for rung in rungs if rung.chance <= accepted]
        beyond = [rung for rung in rungs if rung.chance > accepted]
        begun = [min(within, key=lambda rung: rung.solution.objective)] if within else []
        begun += [min(beyond, key=lambda rung: rung.chance)] if beyond else []
        best = _cheapest(within, accepted).solution.objective if within else np.inf
        found = [self.fitted(rung, rung.solution.level, accepted, np.inf) for rung in begun]
        cheaper = [rung for rung in found if rung is not None and rung.solution.objective < best]
        return sorted(cheaper, key=lambda rung: rung.solution.objective)[:1]

    def fitted(self, begin: Rung, level: Ints, accepted: float, most: float) -> Rung | None:
        """The cheapest plan found with some levels of opening that keeps to the accepted chance.

        Parameters
        ----------
        begin : a plan whose renewals, and price of a stop, are begun with. level : shape (W,).
        most : cost beyond which it is given up at the first price. [money]
        """
        enough = most + begin.price * accepted * (len(begin.chances) - 1)
        tried = begin
        for _ in range(2):  # the second time with the others as the levels have them
            found = self._renewals_at(begin.price, tried, level)
            if found is None or found.total(begin.price) > enough:
                return None
            tried = found
        low, high = 0.0, np.inf
        best: Rung | None = None
        for _ in range(FITTINGS):
            price = tried.price
            if tried.chance <= accepted:
                high = price
                if best is None or tried.solution.objective < best.solution.objective:
                    best = tried
            else:
                low = price
            if price == 0 or 0 <= accepted - tried.chance < NEAR_ENOUGH or high < 1.02 * low:
                break
            if low > 0 and high < np.inf:
                price = math.sqrt(low * high)
            else:
                price *= 1 / FITTING_STEP if high < np.inf else FITTING_STEP
            found = self._renewals_at(price, tried, level)
            if found is None:
                break
            tried = found
        return best

    def _renewals_at(self, price: float, begin: Rung, level: Ints) -> Rung | None:
        """The best renewals at a price with some levels of opening, the other parts as a plan has them."""
        added = chances_added(self.failures, begin.solution.renewed)
        weighed = Trial(priced(self.problem, price, added)).weigh(level)
        return self.rung(price, weighed.jobs) if np.isfinite(weighed.cost) else None

    def polished(self, chosen: Rung, taught: Learned, accepted: float) -> Rung:
        """A plan that keeps to the accepted chance and is no dearer than the chosen one, which does.

        Good levels of opening where stops are paid for by the shares of the bound are begun from, and the
        chosen ones. Of the best plans with them openings are moved on window by window, renewals fitted anew
        each time.
        """
        problem, begun, tested = priced(self.problem, taught.price, taught.shares), [chosen], set[bytes]()
        for level, weighed in good_levels(problem, chosen.solution.level, LEVELS_WORK * self.effort)[
            :MOST_LEVELS
        ]:
            begin = self.rung(taught.price, weighed.jobs)
            found = None if begin is None else self.fitted(begin, level, accepted, np.inf)
            if found is not None:
                tested.add(level.tobytes())
                begun.append(found)
        begun.sort(key=lambda rung: rung.solution.objective)
        ended = [self.moved_on(rung, accepted, tested) for rung in begun[:POLISHED]]
        return min(ended, key=lambda rung: rung.solution.objective)

    def moved_on(self, best: Rung, accepted: float, tested: set[bytes]) -> Rung:
        """A plan whose openings are moved window by window while that makes it cheaper; ``tested``: levels
        tried before, to which those tried now are added."""
        done = 0.0
        while done < POLISH * self.effort:
            better = None
            for level in self._worth_a_try(best, tested):
                tested.add(level.tobytes())
                most = (1.0 + WORTH_A_TRY) * best.solution.objective
                found = self.fitted(best, level, accepted, most)
                done += 1.0 / EARLY if found is None else 1.0
                if found is not None and found.solution.objective < best.solution.objective - self._step(
                    best
                ):
                    better = found
                if better is not None or done >= POLISH * self.effort:
                    break
            if better is None:
                break
            best = better
        return best

    def _worth_a_try(self, best: Rung, tested: set[bytes]) -> list[Ints]:
        """Levels beside those of a plan, what looks cheapest first, the other parts as the plan has them."""
        level = best.solution.level
        added = chances_added(self.failures, best.solution.renewed)
        trial = Trial(priced(self.problem, best.price, added))
        beside = Beside(trial, level, trial.weigh(level).over)
        found = []
        for window in range(len(level)):
            for first, tried in neighbours(level, window, self.problem.n_depths):
                changed = level.copy()
                changed[first : first + len(tried)] = tried
                dearer = beside.least(first, tried) - beside.now
                if dearer <= WORTH_A_TRY * best.solution.objective and changed.tobytes() not in tested:
                    found.append((dearer, changed))
        return [changed for _, changed in sorted(found, key=lambda pair: pair[0])]

    def settled(self, chosen: Rung, rungs: list[Rung], accepted: float, kept: Bools | None) -> Rung:
        """The chosen plan made cheaper, with its bound; the kept one where it is as good."""
        chosen = self._sharpened(chosen, accepted)
        taught = self._least(chosen, rungs, accepted)
        if chosen.chance <= accepted and not self._near(chosen, taught.bound):
            chosen = self.polished(chosen, taught, accepted)
        bound = taught.bound
        before = None if kept is None else self.rung(chosen.price, kept)
        if before is not None and self._stands(before, chosen, bound, accepted):
            chosen = before
        bound = min(bound, chosen.solution.objective)
        return replace(chosen, solution=replace(chosen.solution, bound=bound))

    def _sharpened(self, chosen: Rung, accepted: float) -> Rung:
        """The chosen plan as HiGHS has it, the other parts as they stand, where a search by levels leaves
        something."""
        if len(self.problem.arcs.cost) > MOST_WHOLE and apart(self.problem):
            return chosen
        added = chances_added(self.failures, chosen.solution.renewed)
        priced_so = priced(self.problem, chosen.price, added)
        sharper = sharpened(priced_so, chosen.solution.level, self.gap, self.effort)
        found = None if sharper is None else self.rung(chosen.price, sharper.jobs)
        return chosen if found is None else _cheapest([chosen, found], accepted)

    def _near(self, rung: Rung, bound: float) -> bool:
        cost = rung.solution.objective
        return cost - bound <= self.gap * abs(cost)

    def _least(self, chosen: Rung, rungs: list[Rung], accepted: float) -> Learned:
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
        cost, near = chosen.solution.objective, sorted(rungs, key=lambda rung: abs(rung.price - price))
        asked = Asked(self.problem, self.failures, most * seasons, cost, self.gap, self.effort)
        plans = [rung.solution.renewed for rung in [chosen, *near]]
        return learned(asked, plans, chosen.solution.level, price)

    def _stands(self, before: Rung, chosen: Rung, bound: float, accepted: float) -> bool:
        """Whether a kept plan is as safe as asked and the search has nothing better to say."""
        price = chosen.price
        if before.chance > max(accepted + KEPT_SLACK, chosen.chance):
            return False
        return before.total(price) <= chosen.total(price) or self._near(before, bound)

    def _first(self, price: float) -> Rung:
        """A plan to begin with: each part as if it were alone."""
        alone = priced(self.problem, price, chances_alone(self.failures))
        large = len(alone.arcs.cost) > MOST_WHOLE
        solution = None if large else within_gap(alone, self.gap, self.effort)[0]
        if solution is not None:
            found = self.rung(price, solution.jobs)
            if found is not None:
                return found
        found = self.rung(price, first_choice(alone, START_WORK * self.effort)[3])
        if found is None:
            raise NoChoice
        return found

    def rung(self, price: float, jobs: Bools) -> Rung | None:
        """A choice of jobs at a price; None where it is not allowed."""
        solution = choice_of(self.problem, jobs, -np.inf, self.lives)
        if solution is None:
            return None
        return Rung(price, solution, season_chances(self.failures, solution.renewed))

    @staticmethod
    def _step(rung: Rung) -> float:
        return 1e-6 * abs(rung.solution.objective)


class NoChoice(Exception):
    """No plan was found with the work allowed."""
