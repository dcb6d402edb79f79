"""The overhaul plan: which lay-ups, which work, why, at what risk, for the vehicles of one forecast.

The forecast's chances and the prices go in as frames, the plan comes out as frames. A plan supports and never
replaces inspection by qualified people.
"""

import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from ingest.errors import NotPossible
from models.distribution import chance_by, now_of
from models.frequency import times_in_100
from models.futures.simulation import Simulation, quantile_matrix
from models.futures.spares import with_spares
from models.plan.engine import Chosen, EnginePlan, EngineProgramme, choose, in_one_shop, programme_of, said_of
from models.plan.network import ROUNDING
from models.plan.risk import stopped_now, waiting
from models.plan.rules import Rules
from models.plan.shop import Shop, shop_of

Progress = Callable[[str, int, float, float], None]
"""Told while the search runs: vehicle, nodes of the tree done, best cost, bound."""
Again = Callable[[EngineProgramme], Chosen]
"""The choice of a vehicle made anew, from a programme with spares."""
FITTED_COLUMNS = [
    "vehicle", "window", "label", "job", "part_no", "component", "position", "miles_p05", "miles_p50",
    "saves",
]  # fmt: skip


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
    approved : lines of the approved plan, the same columns; None for none.
    turnings : what turnings leave of the matched sets, as ``models.tires.outlook.Outlook.table`` has it; what
        binds the plan stands with the points of the simulation.
    capacities, lead_times : tables of the store; None for a shop without bounds, and where all is at hand.
    opening_practice : what opening weighs where it has no price (``ingest.catalogue.opening_practice``).
    past : wear points that count as past their limit already, whoever says so; None lets the futures say.
    years : horizon; a season that begins after it, for which the last work must last, is called so. None: no
        season is. [year]
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
    approved: pd.DataFrame | None = None
    turnings: pd.DataFrame = field(default_factory=pd.DataFrame)
    capacities: pd.DataFrame | None = None
    lead_times: pd.DataFrame | None = None
    opening_practice: pd.DataFrame | None = None
    past: frozenset[str] | None = None
    years: float | None = None


@dataclass(frozen=True)
class Plan:
    """A plan for all vehicles; frames by vehicle and window, ready to be stored and shown.

    Attributes
    ----------
    windows, scope, points, late : as ``plan.scope`` describes them; points with ``cheapest_age`` too:
        miles at which renewing costs least per mile (``plan.economics``), inf where running to the limit
        does. [mi]
    risk : vehicle, month, without_work, with_plan [1]; carriers : the wear points that carry it.
    at_limit : vehicle, point, chance: wear points that count as past their limit already, with the chance
        [1] that the forecast gives it; NaN without one.
    not_planned : vehicle, point, reason: wear points without a forecast; examine them at each opening.
    engine_risk : vehicle, season (1, 2, ...: after the window of that number), label, begins, ends,
        without_work, with_plan [1]: chance that the engine must be taken out of service in that season.
    frontier : vehicle, stop_price, chance (mean of its seasons), stops (of them), money (jobs, openings and
        lost days at today's prices), openings, chosen: plans at several prices of a stopped season,
        the one that stops most often first, without those that cost no less than one that stops more seldom.
    chosen : what was chosen for each engine, with the programme that it was chosen from; no frame.
    shop : resource, month, available, used, over: what all engines together take of the shop.
    fitted : ``FITTED_COLUMNS``: parts of the rack that are fitted instead of new ones, the miles left in
        each, what the plan costs less with it. [mi], [money]
    totals : vehicle, what, amount [money, today's prices, not discounted]: jobs, opening, lost days, thrown
        away, and objective, bound, gap of the search.
    """

    windows: pd.DataFrame
    scope: pd.DataFrame
    points: pd.DataFrame
    late: pd.DataFrame
    risk: pd.DataFrame
    engine_risk: pd.DataFrame
    frontier: pd.DataFrame
    carriers: pd.DataFrame
    at_limit: pd.DataFrame
    not_planned: pd.DataFrame
    shop: pd.DataFrame
    totals: pd.DataFrame
    rules: Rules
    fitted: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=FITTED_COLUMNS))
    chosen: tuple[Chosen, ...] = ()

    def frames(self) -> dict[str, pd.DataFrame]:
        """All frames by name, as a run is stored."""
        names = (
            "windows",
            "scope",
            "points",
            "late",
            "risk",
            "engine_risk",
            "frontier",
            "carriers",
            "at_limit",
            "not_planned",
            "shop",
            "totals",
            "fitted",
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
    rack: Callable[[list[Chosen], Again], list[Chosen]] | None = None,
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
    rack : changes what was chosen where a spare is cheaper than a new part (``models.rack.search``).

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

    def choose_in(programme: EngineProgramme) -> Chosen:
        tell = None if progress is None else (lambda *done: progress(programme.vehicle, *done))
        return Chosen(programme, *choose(programme, inputs.kept, keep, effort, gap, tell, inputs.approved))

    chosen = _two_at_a_time(lambda vehicle: choose_in(programme_of(inputs, vehicle, keep)), vehicles)
    fitted = chosen if rack is None else rack(chosen, choose_in)
    bounds = shop_of(inputs.capacities, inputs.simulation.months)
    plan = _told(inputs, *_shared(chosen, fitted, bounds, keep, effort), keep)
    if strict:
        _refuse(plan)
    return plan


def _shared(
    chosen: list[Chosen], fitted: list[Chosen], shop: Shop, rules: Rules, effort: float
) -> tuple[list[Chosen], pd.DataFrame]:
    """What was chosen, in one shop (``plan.engine.in_one_shop``): with spares where it is cheaper there too,
    and is no more over what there is than without them."""
    own = in_one_shop(chosen, shop, rules, effort)
    if all(one is other for one, other in zip(chosen, fitted, strict=True)):
        return own
    other = in_one_shop(fitted, shop, rules, effort)
    cost, cheaper = (sum(each.solution.objective for each in found) for found, _ in (own, other))
    over, less = (float(frame["over"].sum()) for _, frame in (own, other))
    return other if cheaper < cost and less <= over + ROUNDING else own


def _told(inputs: PlanInputs, chosen: list[Chosen], shop: pd.DataFrame, rules: Rules) -> Plan:
    parts = [said_of(inputs, *each, rules) for each in chosen]
    ahead = replace(inputs, simulation=futures_with_spares(inputs, chosen))
    return replace(_together(ahead, parts, shop, rules), fitted=_fitted(chosen), chosen=tuple(chosen))


def _refuse(plan: Plan) -> None:
    _refuse_late(plan)
    _refuse_stopped(plan)


def futures_with_spares(inputs: PlanInputs, chosen: Iterable[Chosen]) -> Simulation:
    """The futures of the inputs with the spares that are fitted among the next parts."""
    fitted = []
    for programme, solution, _ in chosen:
        unit_of = {int(row): unit for unit, rows in enumerate(programme.net.units) for row in rows}
        row_of = pd.Index(programme.lives.points["point"])
        for each in programme.fitted:
            for point, left in each.left.items():
                before = solution.renewed[unit_of[int(row_of.get_loc(point))], : each.window].sum()
                fitted.append((point, int(before) + 1, left))
    return with_spares(inputs.simulation, inputs.distribution, fitted)


def _fitted(chosen: Iterable[Chosen]) -> pd.DataFrame:
    """Frame ``fitted`` of :class:`Plan`."""
    rows = []
    for programme, _, _ in chosen:
        for each in programme.fitted:
            window, fits = programme.windows.iloc[each.window], programme.net.jobs
            job = fits.loc[fits["spare"] == each.part_no, "job"].iloc[0]
            about = (programme.vehicle, int(window["window"]), window["label"], job, each.part_no)
            rows.append((*about, each.component, each.position, each.miles_p05, each.miles_p50, each.saves))
    return pd.DataFrame(rows, columns=FITTED_COLUMNS)


def _two_at_a_time(choose_for: Callable[[str], Chosen], vehicles: tuple[str, ...]) -> list[Chosen]:
    """What each vehicle's search gives, in order; HiGHS lets go of the interpreter, so two run at once.

    Of several failures the first vehicle's is raised, not the first by the clock.
    """
    parts: dict[str, Chosen] = {}
    failures: dict[str, BaseException] = {}

    def search(vehicle: str) -> None:
        try:
            parts[vehicle] = choose_for(vehicle)
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


def _need_windows(inputs: PlanInputs, vehicles: tuple[str, ...]) -> None:
    without = sorted(set(vehicles) - set(inputs.windows["vehicle"]))
    if without:
        raise NotPossible(
            f"Planner: no lay-up of {', '.join(without)} was found in the usage ahead. Expected a stretch of"
            " three weeks or more without running; state a window with --window DATE:DATE."
        )


def _together(inputs: PlanInputs, parts: list[EnginePlan], shop: pd.DataFrame, rules: Rules) -> Plan:
    def stack(name: str) -> pd.DataFrame:
        frames: list[pd.DataFrame] = [getattr(part.scope, name) for part in parts]
        return pd.concat(frames, ignore_index=True)

    points, windows = stack("points"), stack("windows")
    risk, carriers = waiting(inputs.simulation, renewals_of(points, windows), inputs.ends, inputs.past)
    return Plan(
        windows=windows,
        scope=stack("lines"),
        points=points,
        late=stack("late"),
        risk=risk,
        carriers=carriers,
        at_limit=_at_limit(inputs),
        not_planned=inputs.unforecast.sort_values(["vehicle", "point"], ignore_index=True),
        totals=pd.concat([part.totals for part in parts], ignore_index=True),
        shop=shop,
        engine_risk=pd.concat([part.engine_risk for part in parts], ignore_index=True),
        frontier=pd.concat([part.frontier for part in parts], ignore_index=True),
        rules=rules,
    )


def _at_limit(inputs: PlanInputs) -> pd.DataFrame:
    """Frame ``at_limit`` of :class:`Plan`."""
    points = inputs.simulation.points
    known = inputs.distribution.set_index("point").loc[points["point"]]
    chance = chance_by(quantile_matrix(known["remaining"]), np.zeros(1), now_of(known))[:, 0]
    forecast = points[["vehicle", "point"]].assign(chance=chance)
    forecast = forecast[stopped_now(inputs.simulation, inputs.past)]
    without = inputs.unforecast[inputs.unforecast["point"].isin(inputs.past or ())]
    found = [forecast, without[["vehicle", "point"]].assign(chance=np.nan)]
    return pd.concat([part for part in found if len(part)] or found[:1], ignore_index=True)


def _refuse_late(plan: Plan) -> None:
    if len(plan.late) == 0:
        return
    late = [
        f"{row['point']}: {times_in_100(row['chance'])} by {row['label']}, {100 * row['accepted']:g} accepted"
        for row in plan.late.to_dict("records")
    ]
    more = f"; and {len(late) - 5} more" if len(late) > 5 else ""
    raise NotPossible(
        "Planner: no plan keeps every wear point within the accepted risk. Found "
        + "; ".join(late[:5])
        + more
        + ". Expected a window before that; state one with --window DATE:DATE, run less, or accept more risk."
    )


def _refuse_stopped(plan: Plan) -> None:
    """Fail where an engine is stopped more often than is accepted."""
    if plan.rules.stop_risk is None or plan.engine_risk.empty:
        return
    ahead = plan.engine_risk[plan.engine_risk["season"] > 0]
    over = ahead.groupby("vehicle")["with_plan"].mean()
    over = over[over > plan.rules.stop_risk + ROUNDING]
    if len(over):
        said = "; ".join(
            f"{name} stopped in {times_in_100(chance)} of its seasons" for name, chance in over.items()
        )
        raise NotPossible(
            "Planner: no plan keeps every wear point within the accepted risk, that it stops its engine in a"
            f" season ({times_in_100(plan.rules.stop_risk)}). Found {said}. Expected a window before that;"
            " state one with --window DATE:DATE, run less, or accept more risk."
        )
