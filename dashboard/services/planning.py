"""Overhaul plans from the store and back: reads the forecast, plans, reckons the contingency, keeps the
run."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from dashboard.services.shop_checks import inspections_due, lay_up_miles, tear_downs, vehicle_tires
from ingest import catalogue
from ingest.errors import NotPossible, WrongUsage
from ingest.store import Store
from models.case.contingency import contingency_of
from models.futures.simulation import Assumptions, simulate
from models.plan.jobs import jobs_of, openings_of
from models.plan.planner import Plan, PlanInputs, Progress, make_plan
from models.plan.rules import Rules
from models.plan.tires import with_turnings
from models.plan.values import with_values
from models.plan.what_if import against_done, compare_plans
from models.running.ahead import usage_plan
from models.running.windows import by_hand, combine, lay_ups, within
from models.tires.states import TireStates, TurningAssumptions
from models.tires.turnings import POLICIES, Policy, simulate_turnings

TABLES = ("vehicles", "wear_points", "mileage", "readings", "work", "usage", "findings", "costs")
SPARE_MONTHS = 14
"""Months beyond the horizon that are simulated, so that the lay-up after it is found."""
TURNING_PATHS = 2000


@dataclass(frozen=True)
class PlanChoices:
    """What is asked of a plan.

    Attributes
    ----------
    vehicles : those planned; all with a forecast when empty.
    years : horizon. [year]
    windows : first and last days of windows stated by hand, for all the vehicles.
    only_stated : lay-ups that the usage shows are left out.
    rules : risk, prices of trade-offs, jobs asked for now.
    usage : factor on all planned miles. cost : factor on all listed prices. [1]
    turning : turning policy of the tires, one of ``models.tires.turnings.POLICIES``.
    assumptions : of the simulation.
    effort, gap : of the search, see ``planner.make_plan``. strict : see there.
    """

    vehicles: tuple[str, ...] = ()
    years: float = 10.0
    windows: tuple[tuple[pd.Timestamp, pd.Timestamp], ...] = ()
    only_stated: bool = False
    rules: Rules = field(default_factory=Rules)
    usage: float = 1.0
    cost: float = 1.0
    turning: Policy = "early at lay-ups"
    assumptions: Assumptions = field(default_factory=Assumptions)
    effort: float = 1.0
    gap: float = 0.005
    strict: bool = False


@dataclass(frozen=True)
class PlanMaterial:
    """What is read from the store once; choices are then turned without reading again.

    ``tires`` holds what the turnings of each vehicle's tires are simulated from.
    """

    run: str
    data_version: int
    tables: Mapping[str, pd.DataFrame]
    forecast: pd.DataFrame
    distribution: pd.DataFrame
    path: pd.DataFrame
    due: pd.DataFrame
    tires: tuple["Tires", ...]


@dataclass(frozen=True)
class Tires:
    """Tires of one vehicle: their states, what a turning takes, miles to each lay-up, their thickness
    points."""

    states: TireStates
    assumptions: TurningAssumptions
    lay_ups: NDArray[np.float64]
    thickness: pd.DataFrame


@dataclass(frozen=True)
class PlanResult:
    """A plan with its contingency: amounts and lines by window (``models.case.contingency``), and the usage
    it
    rests on."""

    plan: Plan
    usage: pd.DataFrame
    amounts: pd.DataFrame
    lines: pd.DataFrame
    unpriced: pd.DataFrame
    about: dict[str, object]

    def frames(self) -> dict[str, pd.DataFrame]:
        """All frames as a run of kind ``plan`` is stored."""
        more = {
            "amounts": self.amounts,
            "amount_lines": self.lines,
            "unpriced": self.unpriced,
            "usage": self.usage,
        }
        return {**self.plan.frames(), **more}


def read_plan_material(store: Store, run: str | None = None) -> PlanMaterial:
    """Read the newest forecast, or a given one, and the tables as they were for it.

    Raises
    ------
    NotPossible : there is no such forecast.
    """
    runs = store.runs("forecast")
    if run is not None:
        runs = runs[runs["run_id"] == run]
    if runs.empty:
        raise NotPossible(
            f"Store {store.path}: it holds no forecast{f' {run}' if run else ''}. A plan is made from one;"
            " run `milesleft forecast` first."
        )
    newest, version = str(runs["run_id"].iloc[0]), int(runs["data_version"].iloc[0])
    tables = store.read_all(*TABLES, version=version)
    forecast = store.read_run(newest, "forecast")
    distribution = store.read_run(newest, "distribution")
    as_of = _as_of(forecast)
    return PlanMaterial(
        run=newest,
        data_version=version,
        tables={**tables, "findings": tear_downs(tables["findings"])},
        forecast=forecast,
        distribution=distribution,
        path=store.read_run(newest, "path"),
        due=_inspections(tables, as_of),
        tires=_tires(store, newest, tables),
    )


def plan_inputs(material: PlanMaterial, choices: PlanChoices) -> PlanInputs:
    """What the planner needs, by the choices; nothing is read.

    Raises
    ------
    WrongUsage : an unknown vehicle or turning policy, a window that closes before it opens.
    NotPossible : no usage ahead; see ``models.futures.simulation.simulate``.
    """
    vehicles = _vehicles(material, choices)
    if choices.turning not in POLICIES:
        raise WrongUsage(f"Turning: {choices.turning!r} was found. Expected one of {', '.join(POLICIES)}.")
    tables = material.tables
    as_of = _as_of(material.forecast).loc[vehicles]
    months = int(np.ceil(12 * choices.years)) + SPARE_MONTHS
    usage = usage_plan(tables["usage"], tables["mileage"], as_of, months)
    usage[["miles", "miles_sd", "service_days"]] *= choices.usage
    points = tables["wear_points"]
    points = points[points["vehicle"].isin(vehicles)]
    distribution = _turned(material, choices.turning)
    costs = tables["costs"].assign(cost=tables["costs"]["cost"] * choices.cost)
    found = lay_ups(usage, as_of)
    if choices.only_stated:
        found = found.iloc[:0]
    windows = combine(found, by_hand(choices.windows, vehicles), as_of)
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
    return PlanResult(plan, inputs.usage, amounts, lines, unpriced, _about(material, choices, inputs))


def plan_and_store(
    store: Store, choices: PlanChoices, *, name: str = "", progress: Progress | None = None
) -> tuple[str, PlanResult]:
    """Plan from the newest forecast and keep the plan under a name; its run id and the result."""
    return plan_material_and_store(store, read_plan_material(store), choices, name=name, progress=progress)


def plan_material_and_store(
    store: Store,
    material: PlanMaterial,
    choices: PlanChoices,
    *,
    name: str = "",
    progress: Progress | None = None,
) -> tuple[str, PlanResult]:
    """The same from what has been read."""
    result = plan_from(material, choices, progress, newest_kept(store, material, choices))
    about = {**result.about, "name": name}
    return store.save_run("plan", about, result.frames()), result


def newest_kept(store: Store, material: PlanMaterial, choices: PlanChoices) -> pd.DataFrame | None:
    """Lines of the newest kept plan that was asked for by the same choices, None where there is none.

    A plan asked for otherwise, somebody's what-if, is never taken. The forecast may be another: that is how a
    plan lasts from one forecast to the next.
    """
    wanted = json.loads(json.dumps(_asked(choices, _planned(material, choices)), default=str))
    for row in store.runs("plan").itertuples():
        about = _parsed(row.about)
        if isinstance(about, dict) and {name: about.get(name) for name in wanted} == wanted:
            return store.read_run(str(row.run_id), "scope")
    return None


def kept_plans(store: Store) -> pd.DataFrame:
    """Plans kept, newest first: run_id, name, made_at, data_version, as_of, about."""
    runs = store.runs("plan")
    names = [
        str(about.get("name", "")) if isinstance(about, dict) else "" for about in map(_parsed, runs["about"])
    ]
    runs.insert(1, "name", names)
    return runs


def find_plan(store: Store, wanted: str) -> str:
    """Run id of a plan by its name or id; of several with one name the newest.

    Raises
    ------
    WrongUsage : there is no such plan.
    """
    runs = kept_plans(store)
    found = runs[(runs["run_id"] == wanted) | (runs["name"] == wanted)]
    if found.empty:
        names = [name for name in dict.fromkeys(runs["name"]) if name]
        known = ", ".join(names[:20]) or "none with a name yet"
        raise WrongUsage(
            f"Plan {wanted!r}: the store holds no such plan. Expected a run id or one of: {known}."
        )
    return str(found["run_id"].iloc[0])


def compare_kept(store: Store, first: str, second: str) -> pd.DataFrame:
    """Two kept plans side by side, by name or run id."""
    frames = {
        wanted: {
            part: store.read_run(find_plan(store, wanted), part)
            for part in ("windows", "scope", "late", "risk")
        }
        for wanted in (first, second)
    }
    return compare_plans(frames)


def plan_against_done(store: Store, wanted: str) -> pd.DataFrame:
    """A kept plan against the work that the store now has on record."""
    scope = store.read_run(find_plan(store, wanted), "scope")
    tables = store.read_all("work", "wear_points", "mileage")
    return against_done(scope, tables["work"], tables["wear_points"], tables["mileage"]["date"].max())


def _parsed(about: object) -> object:
    return json.loads(about) if isinstance(about, str) else about


def _as_of(forecast: pd.DataFrame) -> pd.Series:
    return forecast.dropna(subset=["as_of"]).groupby("vehicle")["as_of"].max()


def _vehicles(material: PlanMaterial, choices: PlanChoices) -> list[str]:
    known = sorted(str(name) for name in _as_of(material.forecast).index)
    unknown = [name for name in choices.vehicles if name not in known]
    if unknown:
        raise WrongUsage(f"--vehicle {unknown[0]}: it has no forecast. Expected one of {', '.join(known)}.")
    return list(dict.fromkeys(choices.vehicles)) or known


def _planned(material: PlanMaterial, choices: PlanChoices) -> list[str]:
    """Those of the vehicles that have a wear point with a forecast."""
    points = material.tables["wear_points"]
    forecast = points.loc[points["point"].isin(material.distribution["point"]), "vehicle"]
    return sorted(set(_vehicles(material, choices)) & set(forecast))


def _tires(store: Store, run: str, tables: Mapping[str, pd.DataFrame]) -> tuple[Tires, ...]:
    points = catalogue.classify(tables["wear_points"])
    thickness = points[(points["measure"] == "thickness") & points["matched_set"].fillna("").ne("")]
    classes = tables["vehicles"].set_index("vehicle")["class"]
    out = []
    for vehicle, mine in thickness.groupby("vehicle"):
        taken = catalogue.assumptions("turning", str(classes.get(vehicle, "") or ""))
        every = tables["wear_points"][tables["wear_points"]["vehicle"] == vehicle]
        try:
            states = vehicle_tires(every, store, run)
        except NotPossible:
            continue  # none of its tires can be simulated: their forecast stands
        ahead = lay_up_miles(tables, str(vehicle))
        out.append(Tires(states, TurningAssumptions.of(taken), ahead, mine))
    return tuple(out)


def _turned(material: PlanMaterial, policy: Policy) -> pd.DataFrame:
    """The distribution with the tires' life cut short by their turnings."""
    distribution = material.distribution
    for tires in material.tires:
        paths = simulate_turnings(
            tires.states, tires.assumptions, tires.lay_ups, policy=policy, paths=TURNING_PATHS
        )
        distribution = with_turnings(distribution, tires.thickness, tires.states, paths)
    return distribution


def _inspections(tables: Mapping[str, pd.DataFrame], as_of: pd.Series) -> pd.DataFrame:
    due = inspections_due(tables, as_of)
    every = catalogue.clocks().set_index("clock")
    intervals = {name: due["clock"].map(every[name]) for name in ("months", "days", "service_days")}
    return due[["vehicle", "clock", "title", "due", "state"]].assign(**intervals)


def _unforecast(material: PlanMaterial, points: pd.DataFrame, vehicles: Sequence[str]) -> pd.DataFrame:
    missing = points[~points["point"].isin(material.distribution["point"])]
    flags = material.forecast.set_index("point")["flags"]
    told = missing[["vehicle", "point"]].assign(
        reason=missing["point"].map(flags).fillna("no forecast").replace("", "no forecast")
    )
    clocks = material.due[material.due["due"].isna() & material.due["vehicle"].isin(vehicles)]
    frame = clocks[["vehicle"]].assign(point="inspection: " + clocks["title"], reason=clocks["state"])
    return pd.concat([told, frame], ignore_index=True)


def _contingencies(
    material: PlanMaterial, inputs: PlanInputs, plan: Plan
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Contingency of every window with priced work."""
    openings = openings_of(inputs.costs)
    jobs = jobs_of(inputs.simulation.points, inputs.costs)
    last = pd.Timestamp(inputs.simulation.months[-1])
    parts = []
    for (vehicle, _window), scope in plan.scope.groupby(["vehicle", "window"], sort=True):
        mine = jobs[jobs["vehicle"] == vehicle].reset_index(drop=True)
        if not scope["job"].isin(mine["job"]).any():
            continue
        ahead = plan.windows[(plan.windows["vehicle"] == vehicle) & (plan.windows["lines"] > 0)]
        one = contingency_of(
            inputs.simulation,
            mine,
            openings,
            scope,
            material.tables["findings"],
            renewals=plan.renewals,
            openings_ahead=ahead,
            end=inputs.ends.get(str(vehicle), last),
        )
        parts.append(one if len(one.lines) else replace(one, amounts=one.amounts.iloc[:0]))
    frames = [(part.amounts, part.lines, part.unpriced) for part in parts]
    if not frames:
        return pd.DataFrame(), pd.DataFrame(), pd.DataFrame()
    amounts, lines, unpriced = (
        pd.concat(list(each), ignore_index=True) for each in zip(*frames, strict=True)
    )
    return amounts, lines, unpriced


def _about(material: PlanMaterial, choices: PlanChoices, inputs: PlanInputs) -> dict[str, object]:
    as_of = _as_of(material.forecast).loc[list(inputs.simulation.vehicles)]
    return {
        "forecast": material.run,
        "data_version": material.data_version,
        "as_of": f"{as_of.max():%Y-%m-%d}",
        **_asked(choices, inputs.simulation.vehicles),
    }


def _asked(choices: PlanChoices, vehicles: Sequence[str]) -> dict[str, object]:
    """All that a plan was asked for: two plans alike in it are the same plan at two times."""
    stated = [f"{opens:%Y-%m-%d}:{closes:%Y-%m-%d}" for opens, closes in choices.windows]
    return {
        "vehicles": list(vehicles),
        "years": choices.years,
        "windows": stated,
        "only_stated": choices.only_stated,
        "usage": choices.usage,
        "cost": choices.cost,
        "turning": choices.turning,
        "rules": asdict(choices.rules),
        "assumptions": asdict(choices.assumptions),
        "effort": choices.effort,
        "gap": choices.gap,
    }
