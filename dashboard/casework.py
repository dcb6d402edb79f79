"""The fundraising case from the store and back: reads the forecast, simulates, builds, keeps the run."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

import pandas as pd

from dashboard.brief_numbers import numbers
from dashboard.brief_settings import Settings, window_day
from ingest.errors import NotPossible, WrongUsage
from ingest.store import Store
from models.calendar import usage_plan
from models.case import Case
from models.case_build import build_case
from models.case_inputs import CaseChoices, CaseInputs
from models.case_money import in_one_currency
from models.case_scope import first_window_with_work
from models.planner_jobs import jobs_of, openings_of
from models.planner_scope import LINE_COLUMNS
from models.simulation import Assumptions, Simulation, simulate
from models.windows import by_hand, combine, lay_ups

MONTHS = 12 * 14
"""Months simulated: windows of ten years, and three seasons of waiting after the last. [month]"""
WEAR_TABLES = ("vehicles", "wear_points", "mileage", "readings", "usage", "findings")
DRAWS = 2000


@dataclass(frozen=True)
class Material:
    """What is read from the store once; the fundraiser's choices then need no further reading.

    ``run`` is the forecast run; wear tables are as they were for it, ``funds`` and ``costs`` as they are now.
    ``plan`` holds the lines of the newest plan made from the same data, none where there is no such plan.
    """

    run: str
    run_version: int
    data_version: int
    tables: Mapping[str, pd.DataFrame]
    costs: pd.DataFrame
    funds: pd.DataFrame
    forecast: pd.DataFrame
    distribution: pd.DataFrame
    state: pd.DataFrame
    plan: pd.DataFrame


def read_material(store: Store, run: str | None = None) -> Material:
    """Read the newest forecast (or a given one) and the tables beside it.

    Raises
    ------
    NotPossible : there is no forecast.
    """
    runs = store.runs("forecast")
    if run is not None:
        runs = runs[runs["run_id"] == run]
    if runs.empty:
        raise NotPossible(
            f"Store {store.path}: it holds no forecast{f' {run}' if run else ''}. The case is made from "
            "one; run `milesleft forecast` first."
        )
    row = runs.iloc[0]
    version = int(row["data_version"])
    now = store.read_all("costs", "funds")
    return Material(
        run=str(row["run_id"]),
        run_version=version,
        data_version=store.version(),
        tables=store.read_all(*WEAR_TABLES, version=version),
        costs=now["costs"],
        funds=now["funds"],
        forecast=store.read_run(str(row["run_id"]), "forecast"),
        distribution=store.read_run(str(row["run_id"]), "distribution"),
        state=store.read_run(str(row["run_id"]), "state"),
        plan=_plan_lines(store, version),
    )


def _plan_lines(store: Store, version: int) -> pd.DataFrame:
    """Lines of the newest plan of a data version; an older plan speaks of other wear, and is left out."""
    plans = store.runs("plan")
    plans = plans[plans["data_version"] == version]
    if plans.empty:
        return pd.DataFrame(columns=LINE_COLUMNS)
    return store.read_run(str(plans["run_id"].iloc[0]), "scope")


def case_of(material: Material, settings: Settings) -> Case:
    """The case by the settings; nothing is read or written. Raises as :func:`prepare` and :func:`turned`."""
    return turned(prepare(material, settings), settings)


def prepare(material: Material, settings: Settings) -> CaseInputs:
    """Simulate what is ahead of the vehicle: what vehicle, usage, prices and currency decide.

    Window, confidence, risk and terms of payment can then be turned without simulating again.

    Raises
    ------
    NotPossible : no price list, a currency without a rate, no usage ahead.
    WrongUsage : an unknown vehicle or currency.
    """
    vehicle = choose_vehicle(material, str(settings.brief["vehicle"]))
    currency = str(settings.brief["currency"]).upper() or _main_currency(material)
    numbers(str(settings.brief["numbers"]), currency)
    costs = in_one_currency(material.costs, "cost", currency, settings.rates, table="costs")
    costs["cost"] += settings.value("labor_rate") * costs["labor_hours"].fillna(0.0)
    if costs.empty:
        raise NotPossible(
            "Case: no price is on record. Expected a table with component, action, cost; add it with "
            "`milesleft add`."
        )
    return _inputs(material, settings, vehicle, costs, currency)


def turned(given: CaseInputs, settings: Settings) -> Case:
    """The case for a window, by a confidence, risk and terms of payment.

    Raises
    ------
    NotPossible : no window with work, or none of it has a price.
    WrongUsage : the window is no day.
    """
    choices = CaseChoices(
        opens=_opens(given, settings),
        terms=settings.terms,
        confidence=float(settings.brief["confidence"]),
        risk=settings.value("risk"),
        beyond_truing=settings.value("beyond_truing"),
        gift_months=int(settings.value("gift_months")),
        income_per_day=settings.value("income_per_day"),
        assumptions=settings.told(numbers(str(settings.brief["numbers"]), given.currency)),
    )
    return build_case(given, choices)


def choose_vehicle(material: Material, wanted: str) -> str:
    """The vehicle asked for, or the one whose first wear point reaches its limit first."""
    known = sorted(material.forecast["vehicle"].dropna().unique())
    if wanted and wanted not in known:
        raise WrongUsage(
            f"--vehicle: {wanted!r} has no forecast. Expected one of {', '.join(known) or 'none yet'}."
        )
    if wanted or len(known) == 1:
        return wanted or str(known[0])
    order = material.forecast.dropna(subset=["miles_p50"]).sort_values(["miles_p10", "miles_p50"])
    if order.empty:
        raise NotPossible("Case: no wear point has a forecast. Add readings, then run `milesleft forecast`.")
    return str(order["vehicle"].iloc[0])


def _main_currency(material: Material) -> str:
    codes = pd.concat([material.costs["currency"], material.funds["currency"]]).dropna()
    codes = codes[codes != ""].str.upper()
    return str(codes.mode().iloc[0]) if len(codes) else "USD"


def _inputs(
    material: Material, settings: Settings, vehicle: str, costs: pd.DataFrame, currency: str
) -> CaseInputs:
    tables = {
        name: table[table["vehicle"] == vehicle] if "vehicle" in table else table
        for name, table in material.tables.items()
    }
    points = tables["wear_points"]
    forecast = material.forecast[material.forecast["vehicle"] == vehicle]
    as_of = pd.Timestamp(forecast["as_of"].max())
    days = pd.Series({vehicle: as_of})
    usage = usage_plan(tables["usage"], tables["mileage"], days, MONTHS)
    usage[["miles", "miles_sd"]] *= settings.value("usage")
    simulation = _simulate(material, settings, points, usage, costs, days)
    funds = in_one_currency(material.funds, "amount", currency, settings.rates, table="funds")
    return CaseInputs(
        vehicle=vehicle,
        name=_name(tables["vehicles"], vehicle),
        simulation=simulation,
        jobs=jobs_of(points, costs),
        openings=openings_of(costs),
        findings=material.tables["findings"][material.tables["findings"]["vehicle"] == vehicle],
        plan=material.plan[material.plan["vehicle"] == vehicle],
        windows=combine(lay_ups(usage, days), by_hand([], [vehicle]), days),
        mileage=tables["mileage"],
        funds=funds,
        # A pledge may bear a day to come; what came in or went out may not.
        fund_as_of=max([as_of, *funds.loc[funds["kind"] != "pledged", "date"].dropna()]),
        life_miles=material.state.set_index("point")["life_miles"],
        as_of=as_of,
        currency=currency,
        data_version=material.data_version,
        readings=int(tables["readings"]["point"].isin(points["point"]).sum()),
        points=len(points),
        unforecast=_unforecast(forecast),
    )


def _simulate(
    material: Material,
    settings: Settings,
    points: pd.DataFrame,
    usage: pd.DataFrame,
    costs: pd.DataFrame,
    as_of: pd.Series,
) -> Simulation:
    assumed = Assumptions(
        draws=DRAWS,
        inflation=settings.value("inflation"),
        inflation_sd=settings.value("inflation_sd"),
        quote_sd=settings.value("quote_sd"),
    )
    # What tear-downs of one vehicle found speaks for the other, as it does for the planner.
    findings = material.tables["findings"]
    return simulate(
        points, material.distribution, usage, findings=findings, costs=costs, as_of=as_of, assumptions=assumed
    )


def _opens(given: CaseInputs, settings: Settings) -> pd.Timestamp:
    said = settings.brief["window"]
    if said:
        return window_day(said, "--window")
    return first_window_with_work(given, settings.value("risk"), settings.terms["months_before"].max())


def _name(vehicles: pd.DataFrame, vehicle: str) -> str:
    """What people call the vehicle: the first words of its name, up to a comma."""
    named = vehicles.loc[vehicles["vehicle"] == vehicle, "name"]
    text = str(named.iloc[0]).split(",")[0].strip() if len(named) and named.notna().iloc[0] else ""
    return text or vehicle


def _unforecast(forecast: pd.DataFrame) -> pd.DataFrame:
    """Wear points that cannot be forecast, and why."""
    missing = forecast[forecast["miles_p50"].isna()]
    return pd.DataFrame(
        {"point": missing["point"], "component": missing["component"], "reason": missing["flags"]}
    ).reset_index(drop=True)


def save_case(store: Store, case: Case, material: Material, settings: Settings) -> str:
    """Keep the case as a run: its frames, and in ``about`` what it was made from and its single figures."""
    frames = {
        name: value.reset_index() if name == "schedule" else value
        for name, value in vars(case).items()
        if isinstance(value, pd.DataFrame)
    }
    about = {
        "as_of": case.as_of,
        "data_version": material.data_version,
        "forecast_run": material.run,
        "forecast_version": material.run_version,
        "vehicle": case.vehicle,
        "window": case.opens,
        "currency": case.currency,
        "confidence": case.confidence,
        "ask": case.ask,
        "amount": asdict(case.amount),
        "fund": asdict(case.fund),
        "to_raise": case.to_raise,
        "chance_in_time": case.chance_in_time,
        "assumptions": {name: dict(each) for name, each in settings.assumptions.items()},
        "rates": dict(settings.rates),
    }
    return store.save_run("case", about, frames)


def points_under(material: Material, points: Sequence[str]) -> pd.DataFrame:
    """Rows of the forecast for the wear points under a figure (its ``points``), in their order."""
    forecast = material.forecast.set_index("point", drop=False)
    return forecast.reindex([point for point in points if point in forecast.index]).reset_index(drop=True)
