"""Which spares a plan fits, where and when: each at most once, over all engines and windows.

The plan without spares comes first. With its openings, and everything else in it, as they are, each spare is
tried at each place that it fits and in each window that is opened as deep as the work needs: the renewals of
that place are then a shortest path anew, the lives begun at that window those of the spare. Of what is saved
so, one place a spare and one spare a place are chosen for the greatest sum. The engines that get some are
planned anew, and keep the spares only where that plan is cheaper and no less safe than the one without.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from models.futures.spares import as_spare
from models.plan import rounding as rounded
from models.plan.chances import lives_of
from models.plan.engine import Chosen
from models.plan.failures import failures_of
from models.plan.jobs import Fitted, fitting_jobs
from models.plan.joint import season_chances
from models.plan.network import ROUNDING, network
from models.plan.planner import Again, PlanInputs
from models.plan.problem import Bools, Floats, life_costs
from models.plan.rules import Rules
from models.plan.search import shortest


def rack_search(
    rack: pd.DataFrame, inputs: PlanInputs, rules: Rules
) -> Callable[[list[Chosen], Again], list[Chosen]]:
    """What ``models.plan.planner.make_plan`` takes as its rack.

    Parameters
    ----------
    rack : as ``models.rack.fits.where_spares_fit`` gives it.
    inputs, rules : of the plan.
    """

    def changed(chosen: list[Chosen], again: Again) -> list[Chosen]:
        tried = [each for one in chosen for each in _options(rack, one, inputs, rules)]
        given = _given_out(tried)
        return [_with_spares(one, given.get(one.programme.vehicle, ()), rules, again) for one in chosen]

    return changed


def _with_spares(one: Chosen, fitted: tuple[Fitted, ...], rules: Rules, again: Again) -> Chosen:
    """The choice of an engine with spares where that is cheaper and no less safe, else as it was."""
    if not fitted:
        return one
    other = again(one.programme.vehicle, fitted)
    chance, before = (
        float(season_chances(each.programme.failures, each.solution.renewed)[1:].mean())
        for each in (other, one)
    )
    safe = rules.stop_risk is None or chance <= max(rules.stop_risk, before) + ROUNDING
    return other if safe and other.solution.objective < one.solution.objective else one


def _given_out(tried: list[tuple[str, Fitted]]) -> dict[str, tuple[Fitted, ...]]:
    """By vehicle, what is fitted: a spare at one place, a place with one spare, for the greatest sum."""
    best: dict[tuple[str, str], tuple[str, Fitted]] = {}
    for vehicle, each in sorted(tried, key=lambda pair: (pair[1].part_no, pair[1].job, pair[1].window)):
        kept = best.get((each.part_no, each.job))
        if kept is None or each.saves > kept[1].saves:
            best[each.part_no, each.job] = (vehicle, each)
    parts, jobs = (sorted({key[side] for key in best}) for side in (0, 1))
    saved = np.zeros((len(parts), len(jobs)))
    for (part, job), (_, each) in best.items():
        saved[parts.index(part), jobs.index(job)] = each.saves
    given: dict[str, tuple[Fitted, ...]] = {}
    for row, column in zip(*linear_sum_assignment(saved, maximize=True), strict=True):
        if saved[row, column] > 0:
            vehicle, each = best[parts[row], jobs[column]]
            given[vehicle] = (*given.get(vehicle, ()), each)
    return given


def _options(rack: pd.DataFrame, one: Chosen, inputs: PlanInputs, rules: Rules) -> list[tuple[str, Fitted]]:
    """Spares at places and windows of an engine where they save money, the rest of its plan as it stands."""
    vehicle, found = one.programme.vehicle, []
    own = rack[rack["vehicle"] == vehicle]
    for (part, _), rows in own.groupby(["part_no", "place"], sort=True):
        job = _job_at(one, set(rows["point"]))
        if job is None:
            continue
        left = {
            str(point): each
            for point, each in zip(rows["point"], rows["left"], strict=True)
            if each is not None
        }
        miles = rows[["miles_p05", "miles_p50"]].iloc[0]
        begun = Fitted(str(part), job, 0, left, float(miles.iloc[0]), float(miles.iloc[1]))
        saved = _saved(one, begun, inputs, rules)
        found += [
            (vehicle, replace(begun, window=int(window), saves=float(saved[window])))
            for window in np.flatnonzero(saved > 0)
        ]
    return found


def _job_at(one: Chosen, points: set[str]) -> str | None:
    """The one job whose new part the part of these wear points takes the place of; None where several jobs
    renew them, the job renews more parts than one, or the plan never does it."""
    net, problem = one.programme.net, one.programme.net.problem
    renewing = [row for row, of_job in enumerate(net.jobs["points"]) if points & set(of_job)]
    if len(renewing) != 1:
        return None
    job = net.jobs.iloc[renewing[0]]
    units = problem.covers[problem.covers[:, 0] == renewing[0], 1]
    alone = len(units) == 1 and (problem.covers[:, 1] == units[0]).sum() == 1
    whole = points <= set(job["points"]) and int(job["parts"]) == 1 and not job["machines"]
    asked = bool(problem.job_low[renewing[0]].any())
    # A spare is worth nothing on the rack: fitted where nothing is renewed, it would only seem to save.
    done = bool(one.solution.jobs[renewing[0]].any())
    return str(job["job"]) if alone and whole and done and not asked else None


def _saved(one: Chosen, spare: Fitted, inputs: PlanInputs, rules: Rules) -> Floats:
    """What the spare saves at each window, shape (W,). [money]; 0 where it cannot be fitted."""
    programme, solution, rungs = one
    problem, net = programme.net.problem, programme.net
    stop_price = next((rung.price for rung in rungs if rung.solution is solution), 0.0)
    job = int(np.flatnonzero(net.jobs["job"] == spare.job)[0])
    unit = net.unit_of_job(spare.job)
    row = net.jobs.iloc[[job]].reset_index(drop=True)
    futures, known = as_spare(inputs.simulation, inputs.distribution, row["points"].iloc[0], spare.left)
    opens, end = programme.windows["opens"].to_numpy(), inputs.ends.get(programme.vehicle)
    lives = lives_of(futures, known, programme.vehicle, opens, end)
    whole = row.assign(cost=row["price"], labor_hours=0.0)
    clocks = replace(
        programme.clocks, frame=programme.clocks.frame.iloc[:0], allowed=programme.clocks.allowed[:0]
    )
    theirs = network(
        replace(lives, new_life=_new_life(one, lives.points["point"])),
        whole, programme.openings, programme.windows, clocks, rules,
    )  # fmt: skip
    nothing = np.zeros(len(lives.points), bool)
    season = failures_of(futures, programme.vehicle, [np.arange(len(nothing))], opens, end, nothing)
    others = programme.failures.of_plan(solution.renewed)
    others[:, unit] = False
    stopped = np.asarray(others.any(axis=1), dtype=bool)
    new: Floats = life_costs(problem)[[unit]] + stop_price * _added(
        programme.failures.season[:, unit], stopped
    )
    used: Floats = life_costs(theirs.problem)[[0]] + stop_price * _added(season.season[:, 0], stopped)
    fitting = fitting_jobs(row, [spare], inputs.costs).iloc[0]
    price = float(fitting["cost"]) + rules.labor_rate * float(np.nan_to_num(fitting["labor_hours"]))
    return _by_window(one, job, new, used, rounded.money(price * rules.worth(programme.lives.years[1:-1])),
                      _lasts(one, lives.chance, unit, rules))  # fmt: skip


def _by_window(one: Chosen, job: int, new: Floats, used: Floats, price: Floats, lasts: Bools) -> Floats:
    """Savings at each window, the costs of lives of new parts and of the spare given, shape (1, W + 2,
    W + 2)."""
    problem = one.programme.net.problem
    opened = one.solution.level > problem.job_depth[job]
    able = opened & (problem.job_high[job] > 0)
    usual = np.where(able, problem.job_cost[job], np.inf)
    windows = np.flatnonzero(opened & lasts)
    n = len(windows)
    costs = np.repeat(new, n + 1, axis=0)
    prices = np.repeat(usual[None, :], n + 1, axis=0)
    for row, window in enumerate(windows):
        costs[row, window + 1] = used[0, window + 1]
        prices[row, window] = price[window]
    least = shortest(costs, prices, np.zeros(prices.shape, bool))[0]
    saved = np.zeros(len(opened))
    if np.isfinite(least[-1]):
        saved[windows] = rounded.money(np.maximum(least[-1] - least[:-1], 0.0))
    return saved


def _lasts(one: Chosen, chance: Floats, unit: int, rules: Rules) -> Bools:
    """Windows from which the spare lasts until the next within the accepted risk, shape (W,)."""
    members = one.programme.net.units[unit]
    accepted = rules.risk_of(one.programme.lives.points.iloc[members])
    at = np.arange(1, chance.shape[1] - 1)
    return np.asarray((chance[:, at, at + 1] <= accepted[:, None] + ROUNDING).all(axis=0))


def _new_life(one: Chosen, points: pd.Series) -> Floats:
    lives = one.programme.lives
    own: Floats = lives.new_life[pd.Index(lives.points["point"]).get_indexer(pd.Index(points))]
    return own


def _added(season: NDArray[np.int8], stopped: Bools) -> Floats:
    """Chance of stopped seasons that lives add where nothing else stops the engine, shape (1, W + 2, W + 2).

    Parameters
    ----------
    season : shape (n, W + 1). As ``Failures.season`` of one unit. stopped : the same shape. Seasons in which
        another part stops the engine.
    """
    seasons = season.shape[1]
    out = np.zeros((1, seasons + 1, seasons + 1))
    for start in range(seasons):
        adds = ((season[:, [start]] == np.arange(seasons)) & ~stopped).mean(axis=0)
        out[0, start, start + 1 :] = np.cumsum(adds[start:])
    return out
