"""Overhaul plans from what was read: plan, contingency of each window, and back into the store."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from dashboard.services import plan_state
from dashboard.services.kept_plans import newest_kept
from dashboard.services.plan_material import (
    PlanChoices,
    PlanMaterial,
    as_of_dates_of,
    asked_for,
    read_plan_material,
    vehicles_asked,
)
from ingest import catalogue
from ingest.errors import WrongUsage
from ingest.store import Store
from models.case.contingency import contingency_of, nothing_to_pay
from models.futures.simulation import simulate
from models.plan.jobs import jobs_of, openings_of
from models.plan.planner import Plan, PlanInputs, Progress, make_plan
from models.plan.scope import with_values
from models.running.ahead import usage_plan
from models.running.windows import by_hand, combine, lay_ups, within
from models.tires.outlook import TOLD, no_sets, turning_outlook, with_turnings, with_turnings_left
from models.tires.turnings import POLICIES

SPARE_MONTHS = 14
"""Months beyond the horizon that are simulated, so that the lay-up after it is found."""


@dataclass(frozen=True)
class PlanResult:
    """A plan, the usage that it rests on, its contingency: amounts and lines by window
    (``models.case.contingency``), and what turnings leave of the tires (``models.tires.outlook``)."""

    plan: Plan
    usage: pd.DataFrame
    amounts: pd.DataFrame
    lines: pd.DataFrame
    unpriced: pd.DataFrame
    turnings: pd.DataFrame
    about: dict[str, object]

    def frames(self) -> dict[str, pd.DataFrame]:
        """All frames as a run of kind ``plan`` is stored."""
        more = {
            "amounts": self.amounts,
            "amount_lines": self.lines,
            "unpriced": self.unpriced,
            "usage": self.usage,
            "turnings": self.turnings,
        }
        return {**self.plan.frames(), **more}


def plan_inputs(material: PlanMaterial, choices: PlanChoices) -> PlanInputs:
    """What the planner needs, by the choices; nothing is read.

    Raises
    ------
    WrongUsage : an unknown vehicle or turning policy, a window that closes before it opens.
    NotPossible : no usage ahead; see ``models.futures.simulation.simulate``.
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
    by_usage = lay_ups(usage, as_of)
    if choices.only_stated:
        by_usage = by_usage.iloc[:0]
    windows = combine(by_usage, by_hand(choices.windows, vehicles), as_of)
    windows, ends = within(windows, as_of, choices.years)
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
    )  # fmt: skip


def plan_from(
    material: PlanMaterial,
    choices: PlanChoices,
    progress: Progress | None = None,
    kept: pd.DataFrame | None = None,
) -> PlanResult:
    """Plan and contingency by the choices; nothing is read or written. Raises as :func:`plan_inputs`, and
    where no plan is possible. ``kept``: as :func:`newest_kept` gives it."""
    inputs = replace(plan_inputs(material, choices), kept=kept)
    plan = make_plan(
        inputs,
        choices.rules,
        effort=choices.effort,
        gap=choices.gap,
        strict=choices.strict,
        progress=progress,
    )
    points = with_values(plan.points, material.path, material.forecast, material.tables["wear_points"])
    plan = replace(plan, points=points)
    amounts, lines, unpriced = _contingencies(material, inputs, plan)
    about = _about(material, choices, inputs)
    return PlanResult(plan, inputs.usage, amounts, lines, unpriced, inputs.turnings, about)


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
    result = plan_from(material, choices, progress, newest_kept(store, material, choices))
    state = state or plan_state.state_of_new(result.about, plan_state.states(store))
    result = replace(result, about={**result.about, "state": state})
    return store.save_run("plan", {**result.about, "name": name}, result.frames()), result


def turning_of(
    material: PlanMaterial, choices: PlanChoices, vehicles: Sequence[str]
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """What turnings leave of the tires: wear points with their role and turnings, distribution, sets.

    The wear points of a set bear how often the tires in service, and the new ones after them, can be turned
    (``models.tires.outlook.TOLD``); NaN where that cannot be simulated. The sets are the rows of
    ``models.tires.outlook.Outlook.table``.
    """
    points = catalogue.classify(material.tables["wear_points"])
    points = points[points["vehicle"].isin(vehicles)].assign(**dict.fromkeys(TOLD, np.nan))
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
        if not scope["job"].isin(own_jobs["job"]).any():
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


def _about(material: PlanMaterial, choices: PlanChoices, inputs: PlanInputs) -> dict[str, object]:
    as_of = as_of_dates_of(material.forecast).loc[list(inputs.simulation.vehicles)]
    return {
        "forecast": material.run,
        "data_version": material.data_version,
        "invented": material.invented,
        "as_of": f"{as_of.max():%Y-%m-%d}",
        **asked_for(choices, inputs.simulation.vehicles),
    }
