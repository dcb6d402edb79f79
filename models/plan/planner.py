"""The overhaul plan: which lay-ups, which work, why, at what risk, for the vehicles of one forecast.

The forecast's chances and the prices go in as frames, the plan comes out as frames. A plan supports and never
replaces inspection by qualified people.
"""

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from ingest.errors import NotPossible
from models.futures.simulation import Simulation
from models.plan.chances import lives_of
from models.plan.clocks import ClockLives, clock_lives
from models.plan.economics import cheapest_ages
from models.plan.jobs import jobs_of, openings_of
from models.plan.kept import jobs_kept
from models.plan.milp import solve
from models.plan.network import network
from models.plan.reasons import percent
from models.plan.risk import AT_LIMIT, at_limit, waiting
from models.plan.rules import Rules
from models.plan.scope import Scope, scope_of
from models.running.ahead import usage_ahead

Progress = Callable[[str, int, float, float], None]
"""Told while the search runs: vehicle, nodes of the tree done, best cost, bound."""


@dataclass(frozen=True)
class PlanInputs:
    """What a plan is made from.

    Attributes
    ----------
    simulation : the futures of the vehicles to be planned.
    distribution : frame of the forecast run: point, remaining, new_life.
    usage : as ``calendar.usage_plan`` gives it.
    windows : as ``windows.combine`` gives them.
    costs : table of the store.
    ends : by vehicle, the day up to which every part must last: best the opening of the first window that is
        not planned any more. The end of the usage for a vehicle without an entry.
    due : due dates of inspections: vehicle and the columns of ``plan.clocks.COLUMNS``; None for none.
    unforecast : point, component, position, reason: wear points that no plan can place.
    kept : lines of a plan made before by the same choices: vehicle, job, closes (last day of its window);
        None for none.
    turnings : what turnings leave of the matched sets, as ``models.tires.outlook.Outlook.table`` has it; what
        binds the plan stands with the points of the simulation.
    """

    simulation: Simulation
    distribution: pd.DataFrame
    usage: pd.DataFrame
    windows: pd.DataFrame
    costs: pd.DataFrame
    ends: Mapping[str, pd.Timestamp] = field(default_factory=dict)
    due: pd.DataFrame | None = None
    unforecast: pd.DataFrame = field(
        default_factory=lambda: pd.DataFrame({"vehicle": [], "point": [], "reason": []})
    )
    kept: pd.DataFrame | None = None
    turnings: pd.DataFrame = field(default_factory=pd.DataFrame)


@dataclass(frozen=True)
class Plan:
    """A plan for all vehicles; frames by vehicle and window, ready to be stored and shown.

    Attributes
    ----------
    windows, scope, points, late : as ``plan.scope`` describes them; points with ``cheapest_age`` too:
        miles at which renewing costs least per mile (``plan.economics``), inf where running to the limit
        does. [mi]
    risk : vehicle, month, without_work, with_plan [1]; carriers : the wear points that carry it.
    at_limit : vehicle, point, chance: wear points more likely than not at their limit now.
    not_planned : vehicle, point, reason: wear points without a forecast; examine them at each opening.
    totals : vehicle, what, amount [money, today's prices, not discounted]: jobs, opening, lost days, thrown
        away, and objective, bound, gap of the search.
    """

    windows: pd.DataFrame
    scope: pd.DataFrame
    points: pd.DataFrame
    late: pd.DataFrame
    risk: pd.DataFrame
    carriers: pd.DataFrame
    at_limit: pd.DataFrame
    not_planned: pd.DataFrame
    totals: pd.DataFrame
    rules: Rules

    def frames(self) -> dict[str, pd.DataFrame]:
        """All frames by name, as a run is stored."""
        names = (
            "windows",
            "scope",
            "points",
            "late",
            "risk",
            "carriers",
            "at_limit",
            "not_planned",
            "totals",
        )
        return {name: getattr(self, name) for name in names}

    @property
    def renewals(self) -> dict[str, list[pd.Timestamp]]:
        """Days on which each wear point is renewed."""
        return renewals_of(self.points, self.windows)


def make_plan(
    inputs: PlanInputs,
    rules: Rules | None = None,
    *,
    effort: float = 1.0,
    gap: float = 0.005,
    strict: bool = False,
    progress: Progress | None = None,
) -> Plan:
    """Choose windows and work for every vehicle of the inputs.

    Parameters
    ----------
    inputs : forecast, usage, windows, prices.
    rules : what the plan keeps to and what its trade-offs cost.
    effort : factor on the work after which the search of a vehicle ends with the best found. [1], > 0
    gap : relative gap to the bound at which the search of a vehicle may end. [1]
    strict : raise where a wear point cannot be kept within the accepted risk, instead of planning it as early
        as a window allows and saying so in ``late``.
    progress : called with the state of the search; may be called from other threads.

    Raises
    ------
    NotPossible : a vehicle has no window in the horizon; with ``strict``, which wear point and which window
        leave no plan.

    Notes
    -----
    The same inputs give the same plan, whatever the order of their rows and whatever else the machine does:
    the search ends by work done, its figures are rounded (``plan.rounding``), ties are broken by name. A
    kept plan stands as long as the search would be content with it, so that readings which change little
    change no work already ordered.
    """
    keep = rules or Rules()
    vehicles = inputs.simulation.vehicles
    _need_windows(inputs, vehicles)

    def plan_vehicle(vehicle: str) -> tuple[Scope, pd.DataFrame]:
        tell = None if progress is None else (lambda n, best, bound: progress(vehicle, n, best, bound))
        return _plan_one(inputs, vehicle, keep, effort, gap, tell)

    plan = _together(inputs, _two_at_a_time(plan_vehicle, vehicles), keep)
    if strict:
        _refuse_late(plan)
    return plan


def _two_at_a_time(
    plan_vehicle: Callable[[str], tuple[Scope, pd.DataFrame]], vehicles: tuple[str, ...]
) -> list[tuple[Scope, pd.DataFrame]]:
    """What each vehicle's search gives, in order; HiGHS lets go of the interpreter, so two run at once.

    Of several failures the first vehicle's is raised, not the first by the clock.
    """
    parts: dict[str, tuple[Scope, pd.DataFrame]] = {}
    failures: dict[str, BaseException] = {}

    def search(vehicle: str) -> None:
        try:
            parts[vehicle] = plan_vehicle(vehicle)
        except BaseException as error:  # raised again in the caller's thread
            failures[vehicle] = error

    threads = [threading.Thread(target=search, args=(vehicle,)) for vehicle in vehicles]
    for first in range(0, len(threads), 2):
        for thread in threads[first : first + 2]:
            thread.start()
        for thread in threads[first : first + 2]:
            thread.join()
    for vehicle in vehicles:
        if vehicle in failures:
            raise failures[vehicle]
    return [parts[vehicle] for vehicle in vehicles]


def renewals_of(points: pd.DataFrame, windows: pd.DataFrame) -> dict[str, list[pd.Timestamp]]:
    """Days on which each wear point of a plan is renewed: the opening days of its windows."""
    opens = windows.set_index(["vehicle", "window"])["opens"]
    days = (
        opens.loc[pd.MultiIndex.from_frame(points[["vehicle", "window"]])] if len(points) else opens.iloc[:0]
    )
    out: dict[str, list[pd.Timestamp]] = {}
    for name, day in sorted(zip(points["point"], days, strict=True)):
        out.setdefault(name, []).append(day)
    return out


def _plan_one(
    inputs: PlanInputs,
    vehicle: str,
    rules: Rules,
    effort: float,
    gap: float,
    progress: Callable[[int, float, float], None] | None,
) -> tuple[Scope, pd.DataFrame]:
    simulation = inputs.simulation
    windows = inputs.windows[inputs.windows["vehicle"] == vehicle].sort_values("window", ignore_index=True)
    end = inputs.ends.get(vehicle)
    lives = lives_of(simulation, inputs.distribution, vehicle, windows["opens"].to_numpy(), end)
    clocks = _clocks(inputs, vehicle, windows)
    openings = openings_of(inputs.costs)
    jobs = jobs_of(lives.points, inputs.costs)
    net = network(lives, jobs, openings, windows, clocks, rules)
    before = jobs_kept(inputs.kept, vehicle, net.jobs, windows)
    solution = solve(net.problem, effort=effort, gap=gap, kept=before, progress=progress)
    scope = scope_of(net, solution, lives, clocks, windows, openings, rules)
    age = cheapest_ages(inputs.distribution, net.jobs, rules)
    scope = replace(scope, points=scope.points.assign(cheapest_age=scope.points["point"].map(age)))
    lost = float((scope.windows["lost_days"] * rules.lost_day).sum())
    money = {
        "jobs": float(scope.lines["cost"].sum()),
        "opening": float(scope.windows["opening_cost"].sum()),
        "lost_days": lost,
        "thrown_away": float(scope.lines["unused_value"].sum()),
        "objective": solution.objective,
        "bound": solution.bound,
        "gap": solution.gap,
    }
    totals = pd.DataFrame({"vehicle": vehicle, "what": list(money), "amount": list(money.values())})
    return scope, totals


def _clocks(inputs: PlanInputs, vehicle: str, windows: pd.DataFrame) -> ClockLives:
    simulation = inputs.simulation
    end = inputs.ends.get(vehicle, pd.Timestamp(simulation.months[-1]) + pd.offsets.MonthBegin())
    as_of = pd.Timestamp(simulation.as_of[simulation.vehicles.index(vehicle)])
    due = None if inputs.due is None else inputs.due[inputs.due["vehicle"] == vehicle]
    ahead = usage_ahead(inputs.usage[inputs.usage["vehicle"] == vehicle], as_of)
    days = [as_of, *windows["opens"], end]
    day_number = np.array([(pd.Timestamp(day) - pd.Timestamp(0)).days for day in days], dtype=float)
    return clock_lives(due, windows, np.interp(day_number, ahead.edge_day[0], ahead.service_days[0]), end)


def _need_windows(inputs: PlanInputs, vehicles: tuple[str, ...]) -> None:
    without = sorted(set(vehicles) - set(inputs.windows["vehicle"]))
    if without:
        raise NotPossible(
            f"Planner: no lay-up of {', '.join(without)} was found in the usage ahead. Expected a stretch of"
            " three weeks or more without running; state a window with --window DATE:DATE."
        )


def _together(inputs: PlanInputs, parts: list[tuple[Scope, pd.DataFrame]], rules: Rules) -> Plan:
    def stack(name: str) -> pd.DataFrame:
        frames: list[pd.DataFrame] = [getattr(scope, name) for scope, _ in parts]
        return pd.concat(frames, ignore_index=True)

    points, windows = stack("points"), stack("windows")
    risk, carriers = waiting(inputs.simulation, renewals_of(points, windows), inputs.ends)
    chance = at_limit(inputs.simulation)
    reached = chance[chance > AT_LIMIT].rename("chance").rename_axis("point").reset_index()
    vehicle = inputs.simulation.points.set_index("point")["vehicle"]
    return Plan(
        windows=windows,
        scope=stack("lines"),
        points=points,
        late=stack("late"),
        risk=risk,
        carriers=carriers,
        at_limit=reached.assign(vehicle=reached["point"].map(vehicle))[["vehicle", "point", "chance"]],
        not_planned=inputs.unforecast.sort_values(["vehicle", "point"], ignore_index=True),
        totals=pd.concat([totals for _, totals in parts], ignore_index=True),
        rules=rules,
    )


def _refuse_late(plan: Plan) -> None:
    if len(plan.late) == 0:
        return
    late = [
        f"{row.point}: {percent(row.chance)} by {row.label}, {percent(row.accepted)} accepted"  # type: ignore[arg-type]
        for row in plan.late.itertuples()
    ]
    more = f"; and {len(late) - 5} more" if len(late) > 5 else ""
    raise NotPossible(
        "Planner: no plan keeps every wear point within the accepted risk. Found "
        + "; ".join(late[:5])
        + more
        + ". Expected a window before that; state one with --window DATE:DATE, run less, or accept more risk."
    )
