"""The fundraising case from the store and back: reads the forecast, simulates, builds, keeps the run."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import pandas as pd

from dashboard.services.brief_settings import Settings, window_day
from dashboard.services.plan_material import PlanChoices, PlanMaterial, read_plan_material
from dashboard.services.planning import plan_inputs
from dashboard.words.assumptions import assumptions_in_words
from dashboard.words.numbers import numbers
from ingest.errors import NotPossible, WrongUsage
from ingest.store import Store
from models.case.build import build_case
from models.case.case import Case
from models.case.inputs import CaseChoices, CaseInputs, PlannedWork
from models.case.money import in_one_currency
from models.case.scope import first_window_with_work
from models.futures.simulation import Assumptions
from models.plan.jobs import jobs_of, openings_of
from models.plan.planner import renewals_of


@dataclass(frozen=True)
class Material:
    """What is read from the store once; the fundraiser's choices then need no further reading.

    Attributes
    ----------
    planning : what the planner reads: forecast, and the tables as they were for it.
    data_version : the store's now, that of ``funds`` and ``costs``.
    state : frame of the forecast run.
    plan, plan_about : the newest plan made from the same forecast; none where there is none.
    """

    planning: PlanMaterial
    data_version: int
    costs: pd.DataFrame
    funds: pd.DataFrame
    state: pd.DataFrame
    plan: PlannedWork
    plan_about: Mapping[str, Any]

    @property
    def run(self) -> str:
        """The forecast run."""
        return self.planning.run

    @property
    def run_version(self) -> int:
        """Data version that the forecast was made from."""
        return self.planning.data_version

    @property
    def forecast(self) -> pd.DataFrame:
        """The forecast."""
        return self.planning.forecast


def read_material(store: Store, run: str | None = None) -> Material:
    """Read the newest forecast (or a given one) and the tables beside it.

    Raises
    ------
    NotPossible : there is no forecast.
    """
    planning = read_plan_material(store, run)
    today = store.read_all("costs", "funds")
    plan, about = _newest_plan(store, planning)
    return Material(
        planning=planning,
        data_version=store.version(),
        costs=today["costs"],
        funds=today["funds"],
        state=store.read_run(planning.run, "state"),
        plan=plan,
        plan_about=about,
    )


def _newest_plan(store: Store, planning: PlanMaterial) -> tuple[PlannedWork, Mapping[str, Any]]:
    """The newest plan made from the same forecast; an older one speaks of other wear, and is left out."""
    for row in store.runs("plan").itertuples():
        about = json.loads(str(row.about))
        if about.get("forecast") == planning.run:
            lines, windows, points = (
                store.read_run(str(row.run_id), name) for name in ("scope", "windows", "points")
            )
            return PlannedWork(lines, windows, renewals_of(points, windows)), about
    return PlannedWork.none(), {}


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
    vehicle = choose_vehicle(material.forecast, str(settings.brief["vehicle"]))
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
    shown = numbers(str(settings.brief["numbers"]), given.currency)
    choices = CaseChoices(
        opens=_opens(given, settings),
        terms=settings.terms,
        confidence=float(settings.brief["confidence"]),
        risk=settings.value("risk"),
        beyond_truing=settings.value("beyond_truing"),
        gift_months=int(settings.value("gift_months")),
        income_per_day=settings.value("income_per_day"),
        assumptions=assumptions_in_words(settings.assumptions, settings.rates, shown),
    )
    return build_case(given, choices)


def choose_vehicle(forecast: pd.DataFrame, wanted: str) -> str:
    """The vehicle asked for, or the one whose first wear point reaches its limit first."""
    known = sorted(forecast["vehicle"].dropna().unique())
    if wanted and wanted not in known:
        raise WrongUsage(
            f"--vehicle: {wanted!r} has no forecast. Expected one of {', '.join(known) or 'none yet'}."
        )
    if wanted or len(known) == 1:
        return wanted or str(known[0])
    order = forecast.dropna(subset=["miles_p50"]).sort_values(["miles_p10", "miles_p50"])
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
    tables = material.planning.tables
    planning = replace(material.planning, tables={**tables, "costs": costs})
    ahead = plan_inputs(planning, _plan_choices(material, settings, vehicle))
    points, as_of = ahead.simulation.points, pd.Timestamp(ahead.simulation.as_of[0])
    own = {name: tables[name][tables[name]["vehicle"] == vehicle] for name in ("mileage", "findings")}
    places = tables["wear_points"].loc[tables["wear_points"]["vehicle"] == vehicle, "point"]
    funds = in_one_currency(material.funds, "amount", currency, settings.rates, table="funds")
    funds["amount"] *= settings.value("fund_share")
    booked = funds.loc[funds["kind"] != "pledged", "date"].dropna()  # a pledge may bear a day to come
    return CaseInputs(
        vehicle=vehicle,
        name=_name(tables["vehicles"], vehicle),
        simulation=ahead.simulation,
        jobs=jobs_of(points, ahead.costs),
        openings=openings_of(ahead.costs),
        findings=own["findings"],
        plan=_plan_of(material.plan, vehicle),
        end=ahead.ends.get(vehicle),
        windows=ahead.windows,
        mileage=own["mileage"],
        funds=funds,
        fund_as_of=max([as_of, *booked]),
        life_miles=material.state.set_index("point")["life_miles"],
        as_of=as_of,
        currency=currency,
        data_version=material.data_version,
        readings=int(tables["readings"]["point"].isin(places).sum()),
        points=len(places),
        unforecast=_unforecast(material.forecast[material.forecast["vehicle"] == vehicle]),
    )


def _plan_choices(material: Material, settings: Settings, vehicle: str) -> PlanChoices:
    """What the planner is asked for: the plan's own turning policy and horizon, the settings' figures."""
    usual = PlanChoices()
    assumed = Assumptions(
        inflation=settings.value("inflation"),
        inflation_sd=settings.value("inflation_sd"),
        quote_sd=settings.value("quote_sd"),
    )
    return PlanChoices(
        vehicles=(vehicle,),
        # A plan of few years is followed too, but what waiting costs needs the usual look ahead.
        years=max(float(material.plan_about.get("years", usual.years)), usual.years),
        turning=material.plan_about.get("turning", usual.turning),
        usage=settings.value("usage"),
        assumptions=assumed,
    )


def _plan_of(plan: PlannedWork, vehicle: str) -> PlannedWork:
    """The part of a plan that is one vehicle's; the renewals of others do no harm."""
    lines, windows = (frame[frame["vehicle"] == vehicle] for frame in (plan.lines, plan.windows))
    return PlannedWork(lines, windows, plan.renewals)


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
