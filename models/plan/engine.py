"""The plan of one engine: its programme, the choice, and what is said of it."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from ingest.errors import NotPossible
from models.plan import rounding as rounded
from models.plan.chances import Lives, lives_of, node_days
from models.plan.clocks import ClockLives, clock_lives
from models.plan.economics import cheapest_ages
from models.plan.failures import Failures, failures_of
from models.plan.frontier import Frontier, NoChoice, Rung, at_price, frontier_of, moved_on
from models.plan.jobs import Fitted, is_spare, jobs_of, openings_of
from models.plan.joint import season_chances
from models.plan.milp import choice_of, solve
from models.plan.moves import moves_of
from models.plan.network import NO_PRICE, ROUNDING, Network, network, of_new_parts
from models.plan.problem import Bools, Floats, Problem, Solution, amount
from models.plan.risk import stopped_now
from models.plan.rules import Rules
from models.plan.scope import Scope, running_days_lost, scope_of
from models.plan.shop import (
    TURNS,
    Shop,
    Uses,
    all_others_out,
    dearer,
    had_by,
    season_taken,
    shop_frame,
    uses_of,
)
from models.plan.what_if import jobs_approved, jobs_kept
from models.running.ahead import usage_ahead
from models.running.windows import label_of_days, span_of

if TYPE_CHECKING:
    from models.plan.planner import PlanInputs

STAY = 0.05
"""Share of its price by which work weighs less where the approved plan has it. Practice, no source. [1]"""

Told = Callable[[int, float, float], None]

FRONTIER_COLUMNS = ["vehicle", "stop_price", "chance", "stops", "money", "openings", "chosen"]
AFTER_YEARS = " (after the years planned)"
"""Said of the season for which the work of the last window must last, where it begins after the horizon."""
RISK_COLUMNS = ["vehicle", "season", "label", "begins", "ends", "without_work", "with_plan"]


@dataclass(frozen=True)
class EngineProgramme:
    """What is known before anything is chosen.

    Attributes
    ----------
    lives : of the wear points; those begun where a spare is fitted are the spare's. ``net`` holds the part
        that came off and the spare after it as one life.
    fitted : spares that it fits. unfitted : failures without them; None where there are none.
    """

    vehicle: str
    windows: pd.DataFrame
    lives: Lives
    clocks: ClockLives
    openings: pd.DataFrame
    net: Network
    failures: Failures
    uses: Uses
    fitted: tuple[Fitted, ...] = ()
    unfitted: Failures | None = None


class Chosen(NamedTuple):
    """What is chosen for one engine, and the plans that it was chosen among."""

    programme: EngineProgramme
    solution: Solution
    rungs: list[Rung]


@dataclass(frozen=True)
class EnginePlan:
    """What is chosen for one engine: its scope, and frames as ``planner.Plan`` describes them."""

    scope: Scope
    totals: pd.DataFrame
    engine_risk: pd.DataFrame
    frontier: pd.DataFrame


def programme_of(inputs: "PlanInputs", vehicle: str, rules: Rules) -> EngineProgramme:
    """The programme of a vehicle of the inputs, without spares."""
    simulation = inputs.simulation
    windows = inputs.windows[inputs.windows["vehicle"] == vehicle].sort_values("window", ignore_index=True)
    end = inputs.ends.get(vehicle)
    opens = windows["opens"].to_numpy()
    lives = lives_of(simulation, inputs.distribution, vehicle, opens, end)
    clocks = _clocks(inputs, vehicle, windows)
    openings = openings_of(inputs.costs, inputs.opening_practice)
    jobs = jobs_of(lives.points, inputs.costs)
    as_of = pd.Timestamp(simulation.as_of[simulation.vehicles.index(vehicle)])
    had = had_by(inputs.lead_times, jobs, as_of)
    net = network(lives, jobs, openings, windows, clocks, rules, had)
    ignored = stopped_now(simulation, inputs.past)[(simulation.points["vehicle"] == vehicle).to_numpy()]
    failures = failures_of(simulation, vehicle, net.units, opens, end, ignored)
    uses = uses_of(net.problem, net.jobs, openings)
    return EngineProgramme(vehicle, windows, lives, clocks, openings, net, failures, uses)


def choose(
    programme: EngineProgramme,
    kept: pd.DataFrame | None,
    rules: Rules,
    effort: float,
    gap: float,
    tell: Told | None,
    approved: pd.DataFrame | None = None,
) -> tuple[Solution, list[Rung]]:
    """The choice for one engine, and the plans that it was chosen among.

    Work weighs a little less where the approved plan has it, so that it is moved only where that pays;
    what the plan costs is told without it.

    Raises
    ------
    NotPossible : no choice was found with that work.
    """
    problem, windows = programme.net.problem, programme.windows
    before = jobs_kept(kept, programme.vehicle, programme.net.jobs, windows)
    if rules.stop_risk is None:
        return solve(problem, effort=effort, gap=gap, kept=before, progress=tell), []
    try:
        found = frontier_of(
            _staying(problem, jobs_approved(approved, programme.vehicle, programme.net.jobs, windows)),
            programme.failures, rules.stop_risk, stop_measure(programme.net, rules),
            effort=effort, gap=gap, kept=before,
        )  # fmt: skip
    except NoChoice:
        raise NotPossible(
            f"Planner: no plan of {programme.vehicle} was found with the effort {effort:g}. Expected one;"
            " allow more with --effort, plan fewer --years, or one vehicle at a time with --vehicle."
        ) from None
    found = _told_whole(found, problem)
    if tell is not None:
        tell(len(found.rungs), found.chosen.solution.objective, found.chosen.solution.bound)
    return found.chosen.solution, _with_chosen(found)


def within_room(chosen: Chosen, room: Floats, serves: Bools, rules: Rules, effort: float) -> Solution:
    """The choice changed until it takes no more than there is, or as little more as was found.

    Parameters
    ----------
    chosen : what was chosen for the engine when the shop was not asked.
    room : shape (4, W). What each window may use of the shop.
    serves : shape (W,). Windows after which it must be in service, as every other engine is in the shop.
    """
    programme, solution, rungs = chosen
    problem = serving(programme.net.problem, serves)
    stop_price = next((rung.price for rung in rungs if rung.solution is solution), 0.0)

    def excess_of(found: Solution) -> float:
        use = programme.uses.of(found.jobs, found.level)
        late = serves & (problem.days_of(found.jobs, found.level) > problem.day_steps[0][1])
        return float((np.maximum(use - room, 0.0) / np.maximum(use, 1.0)).sum()) + float(late.sum())

    price, priced = np.zeros_like(room), problem
    best, least = solution, np.inf
    for turn in range(TURNS + 1):
        excess = excess_of(solution)
        if excess < least - ROUNDING:
            best, least = solution, excess
        if excess == 0 or turn == TURNS:
            break
        use = programme.uses.of(solution.jobs, solution.level)
        money = float((problem.job_cost * solution.jobs).sum()) + 1.0
        price = dearer(price, np.maximum(use - room, 0.0), use, money)
        priced = programme.uses.priced(problem, price)
        found = at_price(priced, programme.failures, stop_price, solution, effort)
        if found is None:
            break
        solution = found
    if best is chosen.solution:
        return best
    if rules.stop_risk is not None and least == 0:
        moved = moved_on(priced, programme.failures, stop_price, best, rules.stop_risk, effort)
        best = moved if moved is not None and excess_of(moved) == 0 else best
    told = choice_of(programme.net.problem, best.jobs, chosen.solution.bound)
    return best if told is None else told


def in_one_shop(
    chosen: list[Chosen], shop: Shop, rules: Rules, effort: float
) -> tuple[list[Chosen], pd.DataFrame]:
    """What was chosen for each engine, changed until all of it can be done in one shop.

    Engines take their turn, twice: each keeps to what the others leave. One engine at least stays in service
    in the season. Also the frame ``shop`` of the plan.
    """
    taken = [np.zeros_like(shop.available) for _ in chosen]
    changed, asked = list(chosen), [b""] * len(chosen)
    for _ in range(2 if shop.bounded else 1):
        for k, (programme, solution, rungs) in enumerate(chosen):
            others = np.sum([own for j, own in enumerate(taken) if j != k], axis=0, initial=0.0)
            others = others if np.ndim(others) else np.zeros_like(shop.available)
            spans = {other.programme.vehicle: _in_shop(other) for j, other in enumerate(changed) if j != k}
            serves = all_others_out(programme.windows, spans)
            room = shop.room(programme.windows, others)
            if asked[k] == room.tobytes() + serves.tobytes():
                continue  # the second turn leaves it what the first did
            asked[k] = room.tobytes() + serves.tobytes()
            found = within_room(chosen[k], room, serves, rules, effort)
            changed[k] = Chosen(programme, found, rungs_with(rungs, solution, found, programme))
            use = programme.uses.of(found.jobs, found.level)
            taken[k] = shop.spread(programme.windows, use, others) if shop.bounded else taken[k]
    return changed, shop_frame(shop, np.sum(taken, axis=0))


def _in_shop(chosen: Chosen) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    problem, solution = chosen.programme.net.problem, chosen.solution
    return season_taken(chosen.programme.windows, problem.days_of(solution.jobs, solution.level))


def rungs_with(
    rungs: list[Rung], solution: Solution, found: Solution, programme: EngineProgramme
) -> list[Rung]:
    """The plans of the frontier, with the changed one in the place of the one chosen."""
    if found is solution:
        return rungs
    chances = season_chances(programme.failures, found.renewed)
    return [Rung(rung.price, found, chances) if rung.solution is solution else rung for rung in rungs]


def serving(problem: Problem, serves: Bools) -> Problem:
    """The problem with work that reaches into the season dearer than anything, after some windows."""
    if not serves.any() or problem.long_day is None:
        return problem
    dearest = 10.0 * (
        float(problem.job_cost.max(initial=0.0)) + float(problem.lost_day.max(initial=0.0)) + 1.0
    )
    return replace(problem, long_day=np.where(serves, dearest, problem.long_day))


def _staying(problem: Problem, approved: Bools) -> Problem:
    """The problem with the work of the approved plan a little cheaper in its windows."""
    if not approved.any():
        return problem
    return replace(problem, job_cost=rounded.money(problem.job_cost * np.where(approved, 1.0 - STAY, 1.0)))


def _told_whole(found: Frontier, problem: Problem) -> Frontier:
    """The same plans at what they cost; a bound of less than that stays one."""
    rungs = []
    for rung in [*found.rungs, found.chosen]:
        solution = rung.solution
        cost = amount(problem, solution)
        if cost != solution.objective:
            solution = replace(solution, objective=cost, bound=min(solution.bound, cost))
        rungs.append(replace(rung, solution=solution))
    return Frontier(rungs[:-1], rungs[-1])


def stop_measure(net: Network, rules: Rules) -> float:
    """Measure of the prices of a stopped season: what a stop costs, or a job where it is free. [money]"""
    price = of_new_parts(net.jobs)["price"].to_numpy(float)
    return max(rules.stop, float(np.median(price)) if len(price) else NO_PRICE, 1.0)


def _with_chosen(found: Frontier) -> list[Rung]:
    """The rungs with the chosen plan in the place of the one that it was sharpened from."""
    others = [rung for rung in found.rungs if rung.price != found.chosen.price]
    return sorted([*others, found.chosen], key=lambda rung: rung.price)


def said_of(
    inputs: "PlanInputs", programme: EngineProgramme, solution: Solution, rungs: list[Rung], rules: Rules
) -> EnginePlan:
    """What is said of a choice."""
    stop_price = next((rung.price for rung in rungs if rung.solution is solution), 0.0)
    net, windows = programme.net, programme.windows
    moves = moves_of(net.problem, solution, programme.failures, stop_price)
    moves = _with_unfitted(moves, programme, solution)
    scope = scope_of(
        net, solution, programme.lives, programme.clocks, windows, programme.openings, rules, moves
    )
    age = cheapest_ages(inputs.distribution, of_new_parts(net.jobs), rules)
    scope = replace(scope, points=scope.points.assign(cheapest_age=scope.points["point"].map(age)))
    money = {
        "jobs": float(scope.lines["cost"].sum()),
        "opening": float(scope.windows["opening_cost"].sum()),
        "lost_days": float((scope.windows["lost_days"] * rules.lost_day).sum()),
        "thrown_away": float(scope.lines["unused_value"].sum()),
        "objective": solution.objective,
        "bound": solution.bound,
        "gap": solution.gap,
    }
    totals = pd.DataFrame({"vehicle": programme.vehicle, "what": list(money), "amount": list(money.values())})
    risk = _engine_risk(inputs, programme, solution)
    return EnginePlan(scope, totals, risk, _frontier_frame(programme, rungs, solution, rules))


def _with_unfitted(moves: pd.DataFrame, programme: EngineProgramme, solution: Solution) -> pd.DataFrame:
    """What lines are worth, with the stops that the spares avoid beside the lines that fit them."""
    fits = is_spare(programme.net.jobs)[np.nonzero(solution.jobs)[0]]
    if programme.unfitted is None or not fits.any():
        return moves
    with_it, without = (
        float(season_chances(each, solution.renewed)[1:].sum())
        for each in (programme.failures, programme.unfitted)
    )
    return moves.assign(risk_off=moves["risk_off"].where(~fits, (without - with_it) / fits.sum()))


def _engine_risk(inputs: "PlanInputs", programme: EngineProgramme, solution: Solution) -> pd.DataFrame:
    windows = programme.windows
    days = node_days(
        inputs.simulation, programme.vehicle, windows["opens"].to_numpy(), inputs.ends.get(programme.vehicle)
    )
    as_of = pd.Timestamp(days[0])
    begins = [as_of + pd.Timedelta(days=1), *(windows["closes"] + pd.Timedelta(days=1))]
    ends = [pd.Timestamp(day) - pd.Timedelta(days=1) for day in days[1:]]
    frame = pd.DataFrame(
        {"vehicle": programme.vehicle, "season": range(len(ends)), "begins": begins, "ends": ends}
    )
    frame["ends"] = frame[["begins", "ends"]].max(axis=1)
    frame["label"] = [label_of_days(a, b) for a, b in zip(frame["begins"], frame["ends"], strict=True)]
    if inputs.years is not None:
        frame.loc[frame["begins"] > as_of + span_of(inputs.years), "label"] += AFTER_YEARS
    nothing = np.zeros_like(solution.renewed)
    frame["without_work"] = season_chances(programme.failures, nothing)
    frame["with_plan"] = season_chances(programme.failures, solution.renewed)
    runs = (frame["season"] > 0) | (frame["without_work"] > 0)  # before the first window nothing may be run
    return frame.loc[runs, RISK_COLUMNS].reset_index(drop=True)


def _frontier_frame(
    programme: EngineProgramme, rungs: list[Rung], solution: Solution, rules: Rules
) -> pd.DataFrame:
    rows = [
        (
            programme.vehicle,
            rung.price,
            rung.chance,
            float(rung.chances[1:].sum()),
            _money(programme, rung.solution, rules),
            int((rung.solution.level > 1).sum()),
            rung.solution is solution,
        )
        for rung in sorted(rungs, key=lambda rung: (-rung.chance, rung.solution is solution))
    ]
    table = pd.DataFrame(rows, columns=FRONTIER_COLUMNS)
    safer = table["money"][::-1].cummin().shift()[::-1]  # cheapest of what stops more seldom
    return table[table["chosen"] | ~(table["money"] >= safer)].reset_index(drop=True)


def _money(programme: EngineProgramme, solution: Solution, rules: Rules) -> float:
    """Listed prices of jobs and openings, and days lost, of a choice. [money, today's]"""
    jobs = float((programme.net.jobs["cost"].fillna(0.0).to_numpy()[:, None] * solution.jobs).sum())
    cost = programme.openings["cost"].to_numpy(float)
    opening = float(np.append(0.0, cost)[solution.level].sum())
    problem: Problem = programme.net.problem
    lost = running_days_lost(problem.days_of(solution.jobs, solution.level), programme.windows)
    return jobs + opening + float(lost.sum()) * rules.lost_day


def _clocks(inputs: "PlanInputs", vehicle: str, windows: pd.DataFrame) -> ClockLives:
    simulation = inputs.simulation
    end = inputs.ends.get(vehicle, pd.Timestamp(simulation.months[-1]) + pd.offsets.MonthBegin())
    as_of = pd.Timestamp(simulation.as_of[simulation.vehicles.index(vehicle)])
    due = None if inputs.due is None else inputs.due[inputs.due["vehicle"] == vehicle]
    ahead = usage_ahead(inputs.usage[inputs.usage["vehicle"] == vehicle], as_of)
    days = [as_of, *windows["opens"], end]
    day_number = np.array([(pd.Timestamp(day) - pd.Timestamp(0)).days for day in days], dtype=float)
    return clock_lives(due, windows, np.interp(day_number, ahead.edge_day[0], ahead.service_days[0]), end)
