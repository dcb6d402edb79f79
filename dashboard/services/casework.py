"""The fundraising case from the store and back: reads the forecast, simulates, builds, keeps the run."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import pandas as pd

from dashboard.services.brief_settings import Settings, window_day
from dashboard.services.plan_material import PlanChoices, PlanMaterial, read_plan_material
from dashboard.services.plan_state import PlanInForce, plans_in_force
from dashboard.services.planned_work import accepted_by, chosen_by, last_until, span, still_planned, taken
from dashboard.services.planning import plan_inputs
from dashboard.services.states import past_points
from dashboard.words.assumptions import assumptions_in_words
from dashboard.words.numbers import numbers
from ingest.errors import NotPossible, WrongUsage
from ingest.store import Store
from models.case.build import build_case
from models.case.case import Case
from models.case.hidden import BEYOND_TRUING
from models.case.inputs import CaseChoices, CaseInputs, WindowToPay
from models.case.money import in_one_currency
from models.case.scope import first_window_with_work, windows_to_pay
from models.futures.simulation import Assumptions
from models.plan.jobs import jobs_of, openings_of


@dataclass(frozen=True)
class Material:
    """What is read from the store once; the fundraiser's choices then need no further reading.

    Attributes
    ----------
    planning : what the planner reads: forecast, and the tables as they were for it.
    data_version : the store's now, that of ``funds`` and ``costs``.
    state : frame of the forecast run.
    plans : the plan that holds for each vehicle that has one.
    """

    planning: PlanMaterial
    data_version: int
    costs: pd.DataFrame
    funds: pd.DataFrame
    state: pd.DataFrame
    plans: Mapping[str, PlanInForce]

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
    vehicles = sorted(planning.forecast["vehicle"].dropna().unique())
    return Material(
        planning=planning,
        data_version=store.version(),
        costs=today["costs"],
        funds=today["funds"],
        state=store.read_run(planning.run, "state"),
        plans=plans_in_force(store, vehicles),
    )


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
    given = _inputs(material, settings, vehicle, costs, currency)
    return replace(given, others=_others(material, settings, given, costs))


def _others(
    material: Material, settings: Settings, given: CaseInputs, costs: pd.DataFrame
) -> tuple[WindowToPay, ...]:
    """All windows that the one fund must pay for, of every vehicle."""
    found: list[WindowToPay] = []
    for vehicle in sorted(material.forecast["vehicle"].dropna().unique()):
        try:
            own = given
            if vehicle != given.vehicle:
                own = _inputs(material, settings, str(vehicle), costs, given.currency)
            windows = windows_to_pay(own, settings.value("risk"), settings.value("beyond_truing"))
        except NotPossible:
            continue  # without miles ahead or work to price, nothing can be set apart for it
        plan = material.plans.get(str(vehicle))
        stated = plan.stated(str(vehicle)) if plan and _same_basis(material, settings, plan, costs) else {}
        found += [_as_stated(window, stated) for window in windows]
    return tuple(found)


def _same_basis(material: Material, settings: Settings, plan: PlanInForce, costs: pd.DataFrame) -> bool:
    """Whether the amounts that a plan states are those that would be worked out anew."""
    about, usual = plan.about, PlanChoices()
    taken = _assumed(settings)
    same_prices = costs["cost"].tolist() == material.planning.tables["costs"]["cost"].tolist()
    return (
        about.get("forecast") == material.run
        and about.get("assumptions") == asdict(taken)
        and all(about.get(name) == getattr(usual, name) for name in ("usage", "cost"))
        and settings.value("usage") == usual.usage
        and settings.value("beyond_truing") == BEYOND_TRUING
        and same_prices
    )


def _as_stated(window: WindowToPay, stated: Mapping[pd.Timestamp, Mapping[float, float]]) -> WindowToPay:
    """A window with the amounts that its plan states; others are worked out when they are asked for."""
    amounts = stated.get(window.opens, {})
    return replace(window, amount=lambda confidence: amounts.get(confidence) or window.amount(confidence))


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
        one_off_words=tuple(settings.brief["one_off_words"]),
        income_per_day=settings.value("income_per_day"),
    )
    case = build_case(given, choices)
    said = assumptions_in_words(_in_use(case, given, settings), settings.rates, shown)
    return replace(case, assumptions=pd.concat([said, case.assumptions], ignore_index=True))


def _in_use(case: Case, given: CaseInputs, settings: Settings) -> dict[str, dict[str, Any]]:
    """The settings' assumptions that the case rests on, as it took them: of the accepted risk where it chose
    work, and of the pace of giving as many months as there are."""
    used = {name: dict(each) for name, each in settings.assumptions.items()}
    used["gift_months"]["value"] = case.rate.months if case.rate else 0
    if case.is_planned:
        if all(other.is_planned for other in given.others):
            del used["risk"]
        else:
            used["risk"]["what"] = f"where no plan chose the work, {used['risk']['what']}"
    return used


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
        raise NotPossible(
            "Case: no wear point has a forecast. Add readings, then make a forecast: `milesleft forecast`."
        )
    return str(order["vehicle"].iloc[0])


def _main_currency(material: Material) -> str:
    codes = pd.concat([material.costs["currency"], material.funds["currency"]]).dropna()
    codes = codes[codes != ""].str.upper()
    return str(codes.mode().iloc[0]) if len(codes) else "USD"


def _inputs(
    material: Material, settings: Settings, vehicle: str, costs: pd.DataFrame, currency: str
) -> CaseInputs:
    tables, plan = material.planning.tables, material.plans.get(vehicle)
    bounds = in_one_currency(tables["capacities"], "amount", currency, settings.rates, table="capacities")
    planning = replace(material.planning, tables={**tables, "costs": costs, "capacities": bounds})
    ahead = plan_inputs(planning, _plan_choices(material, settings, vehicle))
    points, as_of = ahead.simulation.points, pd.Timestamp(ahead.simulation.as_of[0])
    findings = tables["findings"][tables["findings"]["vehicle"] == vehicle]
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
        findings=findings,
        plan=still_planned(plan, vehicle, as_of, tables["work"]),
        end=last_until(plan, material.run, vehicle, ahead, as_of),
        windows=ahead.windows,
        mileage=tables["mileage"],
        funds=funds,
        fund_as_of=max([as_of, *booked]),
        life_miles=_life_miles(material),
        as_of=as_of,
        currency=currency,
        data_version=material.data_version,
        readings=int(tables["readings"]["point"].isin(places).sum()),
        points=len(places),
        invented=material.planning.invented,
        chosen_by=chosen_by(plan, material.run),
        past=past_points(material.forecast, tables["wear_points"], vehicle),
        taken=taken(material.costs, material.funds, usage=ahead.usage, currency=currency),
        accepted=accepted_by(plan),
        unforecast=_unforecast(material.forecast[material.forecast["vehicle"] == vehicle]),
    )


def _life_miles(material: Material) -> pd.Series:
    """Miles on each part in service, by wear point; forecasts of earlier versions have it with the state."""
    kept = material.planning.distribution
    frame = kept if "life_miles" in kept else material.state
    return frame.set_index("point")["life_miles"]


def _plan_choices(material: Material, settings: Settings, vehicle: str) -> PlanChoices:
    """What the planner is asked for: the plan's own turning policy and horizon, the settings' figures."""
    usual = PlanChoices()
    plan = material.plans.get(vehicle)
    about = plan.about if plan else {}
    return PlanChoices(
        vehicles=(vehicle,),
        # A plan of few years is followed too, but what waiting costs needs the usual look ahead.
        years=max(float(about.get("years", usual.years)), usual.years),
        turning=about.get("turning", usual.turning),
        windows=tuple(span(text) for text in about.get("windows", ())),
        only_stated=bool(about.get("only_stated", False)),
        usage=settings.value("usage"),
        assumptions=_assumed(settings),
    )


def _assumed(settings: Settings) -> Assumptions:
    """The settings' figures as the simulation takes them."""
    return Assumptions(
        inflation=settings.value("inflation"),
        inflation_sd=settings.value("inflation_sd"),
        quote_sd=settings.value("quote_sd"),
    )


def _opens(given: CaseInputs, settings: Settings) -> pd.Timestamp:
    said = settings.brief["window"]
    if said:
        return window_day(said, "--window")
    return first_window_with_work(given, settings.value("risk"))


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


def save_case(
    store: Store,
    case: Case,
    material: Material,
    settings: Settings,
    frozen: Mapping[str, pd.DataFrame] | None = None,
) -> str:
    """Keep the case as a run: its frames, and in ``about`` what it was made from and its single figures.

    ``frozen``: the brief as it is now, as a frame of its own; without it the case cannot be shown to donors.
    """
    frames = {
        name: value.reset_index() if name == "schedule" else value
        for name, value in vars(case).items()
        if isinstance(value, pd.DataFrame)
    }
    about = {
        "name": f"{case.name}, {case.opens:%B %Y}",
        "frozen": bool(frozen),
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
        "counted": case.counted,
        "to_raise": case.to_raise,
        "chance_in_time": case.chance_in_time,
        "assumptions": {name: dict(each) for name, each in settings.assumptions.items()},
        "rates": dict(settings.rates),
    }
    return store.save_run("case", about, frames | dict(frozen or {}))
