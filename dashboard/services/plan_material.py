"""What a plan is made from: what is asked of it, and what is read from the store once."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field

import pandas as pd

from dashboard.services.invented import is_invented
from dashboard.services.shop_checks import inspections_due, tear_downs, wheel_checks
from dashboard.services.turnings import Tires, tires_of_all
from ingest import catalogue
from ingest.errors import NotPossible, StoreProblem, WrongUsage
from ingest.store import Store
from models.distribution import NOW
from models.futures.simulation import Assumptions
from models.plan.rules import Rules
from models.rack.fits import COLUMNS, where_spares_fit
from models.tires.turnings import Policy

TABLES = (
    "vehicles",
    "wear_points",
    "mileage",
    "readings",
    "work",
    "usage",
    "findings",
    "costs",
    "facts",
    "defects",
    "openings",
    "capacities",
    "lead_times",
    "trips",
    "parts",
    "fittings",
)


def usual_rules() -> Rules:
    """What a plan keeps to where nothing is stated: the engine is stopped in one season of twenty, and no
    part is likelier than one in four to be at its limit before it is renewed. Assumptions, no source."""
    return Rules(risk=0.25, stop_risk=0.05)


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
    rules: Rules = field(default_factory=usual_rules)
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

    ``tires`` holds what the turnings of each vehicle's tires are simulated from; ``invented``: of the demo;
    ``rack``: where spares may be fitted (``models.rack.fits``).
    """

    run: str
    data_version: int
    tables: Mapping[str, pd.DataFrame]
    forecast: pd.DataFrame
    distribution: pd.DataFrame
    path: pd.DataFrame
    state: pd.DataFrame
    due: pd.DataFrame
    tires: tuple[Tires, ...]
    invented: bool = False
    rack: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=COLUMNS))


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
            " make it first: `milesleft forecast`."
        )
    newest, version = str(runs["run_id"].iloc[0]), int(runs["data_version"].iloc[0])
    tables = store.read_all(*TABLES, version=version)
    forecast = store.read_run(newest, "forecast")
    distribution = store.read_run(newest, "distribution")
    said = forecast.drop_duplicates("point").set_index("point")["p_beyond_now"]
    distribution = distribution.assign(**{NOW: distribution["point"].map(said).astype("float64")})
    as_of = as_of_dates_of(forecast)
    return PlanMaterial(
        run=newest,
        data_version=version,
        tables={**tables, "findings": tear_downs(tables)},
        forecast=forecast,
        distribution=distribution,
        path=store.read_run(newest, "path"),
        state=store.read_run(newest, "state"),
        due=_inspections(tables, as_of),
        invented=is_invented(store),
        rack=rack_of(tables, spares_of_run(store, newest), distribution, forecast),
        tires=tires_of_all(tables, store, newest, sorted(set(tables["wear_points"]["vehicle"].astype(str)))),
    )


def rack_of(
    tables: Mapping[str, pd.DataFrame],
    spares: pd.DataFrame,
    distribution: pd.DataFrame,
    forecast: pd.DataFrame,
) -> pd.DataFrame:
    """Where each spare may be fitted; wheels are looked at only where parts are named."""
    if tables["parts"].empty:
        return pd.DataFrame(columns=COLUMNS)
    return where_spares_fit(tables, spares, distribution, forecast, wheel_checks(tables))


def spares_of_run(store: Store, run: str) -> pd.DataFrame:
    """Spares of a forecast; none where no part moved."""
    try:
        return store.read_run(run, "spares")
    except StoreProblem:
        return pd.DataFrame(columns=["part_no"])


def as_of_dates_of(forecast: pd.DataFrame) -> pd.Series:
    """Day from which each vehicle of a forecast is looked ahead, indexed by vehicle."""
    return forecast.dropna(subset=["as_of"]).groupby("vehicle")["as_of"].max()


def vehicles_asked(material: PlanMaterial, choices: PlanChoices) -> list[str]:
    """Vehicles that the choices name, else all with a forecast. Raises WrongUsage for an unknown one."""
    known = sorted(str(name) for name in as_of_dates_of(material.forecast).index)
    unknown = [name for name in choices.vehicles if name not in known]
    if unknown:
        raise WrongUsage(f"--vehicle {unknown[0]}: it has no forecast. Expected one of {', '.join(known)}.")
    return list(dict.fromkeys(choices.vehicles)) or known


def vehicles_planned(material: PlanMaterial, choices: PlanChoices) -> list[str]:
    """Those of the vehicles asked for that have a wear point with a forecast."""
    points = material.tables["wear_points"]
    forecast = points.loc[points["point"].isin(material.distribution["point"]), "vehicle"]
    return sorted(set(vehicles_asked(material, choices)) & set(forecast))


def asked_for(choices: PlanChoices, vehicles: Sequence[str]) -> dict[str, object]:
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


def _inspections(tables: Mapping[str, pd.DataFrame], as_of: pd.Series) -> pd.DataFrame:
    due = inspections_due(tables, as_of)
    clocks = catalogue.clocks().set_index("clock")
    intervals = {name: due["clock"].map(clocks[name]) for name in ("months", "days", "service_days")}
    return due[["vehicle", "clock", "title", "due", "state"]].assign(**intervals)
