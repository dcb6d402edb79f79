"""Overhaul plans from what was read: plan, contingency of each window, and back into the store."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from dashboard.services import plan_state
from dashboard.services.kept_plans import (
    approved_lines,
    changes_from_approved,
    fitted_in_force,
    newest_kept,
)
from dashboard.services.plan_material import (
    PlanChoices,
    PlanMaterial,
    as_of_dates_of,
    asked_for,
    read_plan_material,
    vehicles_asked,
    vehicles_planned,
)
from dashboard.services.states import past_points
from dashboard.services.turnings import Tires
from dashboard.words.walking import walked
from ingest import catalogue
from ingest.errors import WrongUsage
from ingest.store import Store
from models.case.contingency import contingency_of, nothing_to_pay
from models.case.money import sole_currency
from models.futures.simulation import latest_prices, simulate
from models.measure.first import measure_first
from models.plan.jobs import fits_a_spare, jobs_of, openings_of, with_fitted
from models.plan.planner import Plan, PlanInputs, Progress, futures_with_spares, make_plan
from models.plan.scope import with_values
from models.plan.what_if import CHANGE_COLUMNS
from models.rack.search import rack_search
from models.running.ahead import usage_plan
from models.running.windows import (
    by_hand,
    combine,
    lay_ups,
    vehicles_lying_open,
    winters,
    with_running,
    within,
)
from models.tires.outlook import TOLD, no_sets, turning_outlook, with_turnings, with_turnings_left
from models.tires.turnings import POLICIES
from models.trips.season import share_of_season
from models.trips.share import ENGINE_COLUMNS, GIVEN_COLUMNS

SPARE_MONTHS = 14
"""Months beyond the horizon that are simulated, so that the lay-up after it is found."""


@dataclass(frozen=True)
class PlanResult:
    """A plan, the usage that it rests on, its contingency: amounts and lines by window
    (``models.case.contingency``), what turnings leave of the tires (``models.tires.outlook``), what to
    measure first (``models.measure``), what it changes in the approved plan, and which engine is to run which
    train of the next season (``models.trips``)."""

    plan: Plan
    usage: pd.DataFrame
    amounts: pd.DataFrame
    lines: pd.DataFrame
    unpriced: pd.DataFrame
    turnings: pd.DataFrame
    measure_first: pd.DataFrame
    about: dict[str, object]
    changes: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=CHANGE_COLUMNS))
    trips: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=GIVEN_COLUMNS))
    trip_engines: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=ENGINE_COLUMNS))

    def frames(self) -> dict[str, pd.DataFrame]:
        """All frames as a run of kind ``plan`` is stored."""
        more = {
            "amounts": self.amounts,
            "amount_lines": self.lines,
            "unpriced": self.unpriced,
            "usage": self.usage,
            "turnings": self.turnings,
            "measure_first": self.measure_first,
            "changes": self.changes,
            "trips": self.trips,
            "trip_engines": self.trip_engines,
        }
        return {**self.plan.frames(), **more}


def plan_inputs(material: PlanMaterial, choices: PlanChoices) -> PlanInputs:
    """What the planner needs, by the choices; nothing is read.

    Raises
    ------
    WrongUsage : an unknown vehicle or turning policy, a window that closes before it opens.
    NotPossible : no usage ahead; see ``models.futures.simulation.simulate``. Amounts in several currencies.
    """
    vehicles = vehicles_asked(material, choices)
    if choices.turning not in POLICIES:
        raise WrongUsage(f"Turning: {choices.turning!r} was found. Expected one of {', '.join(POLICIES)}.")
    tables = material.tables
    as_of = as_of_dates_of(material.forecast).loc[vehicles]
    months = int(np.ceil(12 * choices.years)) + SPARE_MONTHS
    usage = usage_plan(tables["usage"], tables["mileage"], as_of, months)
    usage[["miles", "miles_sd", "season_sd", "service_days"]] *= choices.usage
    points, distribution, sets = turning_of(material, choices, vehicles)
    costs = tables["costs"].assign(cost=tables["costs"]["cost"] * choices.cost)
    currency_of(costs, tables["capacities"])
    open_now = vehicles_lying_open(tables["openings"], as_of)
    by_usage = winters(lay_ups(usage, as_of, lying_open=open_now), usage)
    if choices.only_stated:
        by_usage = by_usage.iloc[:0]
    windows = combine(by_usage, by_hand(choices.windows, vehicles), as_of)
    windows, ends = within(with_running(windows, usage), as_of, choices.years)
    return PlanInputs(
        simulation=simulate(
            points, distribution, usage, findings=tables["findings"], costs=costs, as_of=as_of,
            assumptions=choices.assumptions,
        ),
        distribution=distribution,
        usage=usage,
        windows=windows,
        costs=costs,
        ends=ends,
        due=material.due[material.due["vehicle"].isin(vehicles) & material.due["due"].notna()],
        unforecast=_unforecast(material, points, vehicles),
        turnings=sets,
        opening_practice=catalogue.opening_practice(),
        capacities=tables["capacities"],
        lead_times=tables["lead_times"],
        past=past_points(material.forecast, tables["wear_points"], *vehicles),
        years=choices.years,
    )  # fmt: skip


def plan_from(
    material: PlanMaterial,
    choices: PlanChoices,
    progress: Progress | None = None,
    kept: pd.DataFrame | None = None,
    approved: pd.DataFrame | None = None,
) -> PlanResult:
    """Plan and contingency by the choices; nothing is read or written. Raises as :func:`plan_inputs`, and
    where no plan is possible. ``kept``: as :func:`newest_kept` gives it; ``approved``: lines of the
    approved plan."""
    inputs = replace(plan_inputs(material, choices), kept=kept, approved=approved)
    plan = make_plan(
        inputs,
        choices.rules,
        effort=choices.effort,
        gap=choices.gap,
        strict=choices.strict,
        progress=progress,
        rack=rack_search(material.rack, inputs, choices.rules) if len(material.rack) else None,
    )
    points = with_values(plan.points, material.path, material.forecast, material.tables["wear_points"])
    plan = replace(plan, points=points)
    ahead = replace(inputs, simulation=futures_with_spares(inputs, plan.chosen))
    amounts, lines, unpriced = _contingencies(material, ahead, plan)
    assumed = plan.scope[plan.scope["price_assumed"].astype(bool)]
    unpriced_fitting = any(fits_a_spare(action) for action in assumed["action"])
    about = {**_about(material, choices, inputs), "fitting_assumed": unpriced_fitting}
    first = readings_first(material, inputs, plan)
    result = PlanResult(plan, inputs.usage, amounts, lines, unpriced, inputs.turnings, first, about)
    share = share_of_season(ahead, plan, material.tables["trips"])
    return result if share is None else replace(result, trips=share.given, trip_engines=share.engines)


def readings_first(material: PlanMaterial, inputs: PlanInputs, plan: Plan) -> pd.DataFrame:
    """Readings still to be taken, by what they save a minute (``models.measure.first``)."""
    practice = catalogue.measuring_practice()
    points = material.tables["wear_points"]
    walks = [walked(own)["point"] for _, own in points.groupby("vehicle")]
    return measure_first(
        list(plan.chosen),
        inputs.simulation,
        material.state,
        material.forecast.drop_duplicates("point").set_index("point")["last_date"],
        dict(zip(practice["access"], practice["minutes"].astype(float), strict=True)),
        plan.scope,
        plan.rules,
        {point: place for walk in walks for place, point in enumerate(walk, start=1)},
    )


def plan_and_store(
    store: Store,
    choices: PlanChoices,
    *,
    forecast: str | None = None,
    name: str = "",
    progress: Progress | None = None,
    state: str = "",
) -> tuple[str, PlanResult]:
    """Plan from a forecast run, the newest if none is given, and keep the plan under a name; its run id and
    the result. ``state``: proposed or what_if; as ``plan_state.state_of_new`` has it when empty."""
    material = read_plan_material(store, forecast)
    vehicles = vehicles_planned(material, choices)
    taken = fitted_in_force(store, beside=vehicles)["part_no"]  # a spare is fitted once
    material = replace(material, rack=material.rack[~material.rack["part_no"].isin(taken)])
    approved_now = approved_lines(store, vehicles)
    result = plan_from(material, choices, progress, newest_kept(store, material, choices), approved_now)
    approved, changes = changes_from_approved(
        store, list(result.plan.windows["vehicle"].unique()), result.plan.scope
    )
    result = replace(result, changes=changes, about={**result.about, "changes_since": approved})
    state = state or plan_state.state_of_new(result.about, plan_state.states(store))
    result = replace(result, about={**result.about, "state": state})
    return store.save_run("plan", {**result.about, "name": name}, result.frames()), result


def turning_of(
    material: PlanMaterial, choices: PlanChoices, vehicles: Sequence[str]
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """What turnings leave of the tires: wear points with their role and turnings, distribution, sets.

    The wear points of a set bear how often the tires in service, and the new ones after them, can be turned
    (``models.tires.outlook.TOLD``; NaN where that cannot be simulated) and whose scrap ends them. The
    sets are the rows of ``models.tires.outlook.Outlook.table``.
    """
    points = catalogue.classify(material.tables["wear_points"])
    points = points[points["vehicle"].isin(vehicles)].assign(**dict.fromkeys(TOLD, np.nan), scrap_of="")
    distribution, rows = material.distribution, []
    for tires in material.tires:
        if tires.vehicle not in vehicles:
            continue
        outlook = turning_outlook(
            tires.states,
            tires.assumptions,
            tires.lay_ups * choices.usage,
            material.distribution,
            policy=choices.turning,
        )
        distribution = with_turnings(distribution, tires.states, outlook)
        points = with_turnings_left(points, tires.states, outlook)
        rows.append(outlook.table)
    return points, distribution, pd.concat(rows, ignore_index=True) if rows else no_sets()


def _unforecast(material: PlanMaterial, points: pd.DataFrame, vehicles: Sequence[str]) -> pd.DataFrame:
    missing = points[~points["point"].isin(material.distribution["point"])]
    flags = material.forecast.set_index("point")["flags"]
    unforecast = missing[["vehicle", "point"]].assign(
        reason=missing["point"].map(flags).fillna("no forecast").replace("", "no forecast")
    )
    clocks = material.due[material.due["due"].isna() & material.due["vehicle"].isin(vehicles)]
    frame = clocks[["vehicle"]].assign(point="inspection: " + clocks["title"], reason=clocks["state"])
    return pd.concat([unforecast, frame], ignore_index=True)


def _contingencies(
    material: PlanMaterial, inputs: PlanInputs, plan: Plan
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Contingency of every window with priced work."""
    openings = openings_of(inputs.costs)
    jobs = jobs_of(inputs.simulation.points, inputs.costs)
    last = pd.Timestamp(inputs.simulation.months[-1])
    parts = []
    for (vehicle, _window), scope in plan.scope.groupby(["vehicle", "window"], sort=True):
        own_jobs = jobs[jobs["vehicle"] == vehicle].reset_index(drop=True)
        if not scope["job"].isin(with_fitted(own_jobs, scope)["job"]).any():
            continue
        ahead = plan.windows[(plan.windows["vehicle"] == vehicle) & (plan.windows["lines"] > 0)]
        contingency = contingency_of(
            inputs.simulation,
            own_jobs,
            openings,
            scope,
            material.tables["findings"],
            renewals=plan.renewals,
            openings_ahead=ahead,
            end=inputs.ends.get(str(vehicle), last),
        )
        if not len(contingency.lines):
            contingency = replace(contingency, amounts=contingency.amounts.iloc[:0])
        parts.append(contingency)
    frames = [(part.amounts, part.lines, part.unpriced) for part in parts]
    if not frames:
        return nothing_to_pay()
    amounts, lines, unpriced = (
        pd.concat(list(parts_of), ignore_index=True) for parts_of in zip(*frames, strict=True)
    )
    return amounts, lines, unpriced


def openings_weighed(inputs: PlanInputs) -> list[dict[str, object]]:
    """Depths of opening without a price, and what they weigh: depth, share_of_part, labor_hours, days_out,
    source."""
    priced = openings_of(inputs.costs)["priced"]
    practice = inputs.opening_practice
    if practice is None:
        return []
    return [
        {str(name): value for name, value in row.items()}
        for row in practice[~practice["depth"].map(priced)].to_dict("records")
    ]


def currency_of(costs: pd.DataFrame, capacities: pd.DataFrame | None, **more: pd.Series) -> str:
    """The currency of a plan: of its prices in force, of the shop's money, and of ``more`` amounts by table.

    Raises
    ------
    NotPossible : they name several, which a plan would add up as if they were one.
    """
    prices = latest_prices(costs)
    amounts = {"costs": prices.set_index(prices["component"] + ", " + prices["action"])["currency"]}
    if capacities is not None:
        money = capacities[capacities["resource"] == "money"]
        month = money["month"].dt.strftime(" %Y-%m").fillna("")
        amounts["capacities"] = money.set_index("money" + month)["currency"]
    return sole_currency(amounts | more, "A plan")


def taken_in_plan(tires: Sequence[Tires], vehicles: Sequence[str]) -> list[dict[str, object]]:
    """What a plan takes a turning to need: meaning, value, unit, source, and of: the vehicles for which it is
    taken so, comma between."""
    of: dict[tuple[object, ...], list[str]] = {}
    for each in tires:
        if each.vehicle in vehicles:
            for row in each.taken[["meaning", "value", "unit", "source"]].itertuples(index=False, name=None):
                of.setdefault(row, []).append(each.vehicle)
    return [
        {
            "meaning": meaning,
            "value": float(str(value)),
            "unit": unit,
            "source": source,
            "of": ", ".join(names),
        }
        for (meaning, value, unit, source), names in of.items()
    ]


def _about(material: PlanMaterial, choices: PlanChoices, inputs: PlanInputs) -> dict[str, object]:
    as_of = as_of_dates_of(material.forecast).loc[list(inputs.simulation.vehicles)]
    return {
        "forecast": material.run,
        "data_version": material.data_version,
        "invented": material.invented,
        "as_of": f"{as_of.max():%Y-%m-%d}",
        "currency": currency_of(inputs.costs, inputs.capacities),
        "openings_weighed": openings_weighed(inputs),
        "turning_taken": taken_in_plan(material.tires, inputs.simulation.vehicles),
        **asked_for(choices, inputs.simulation.vehicles),
    }
