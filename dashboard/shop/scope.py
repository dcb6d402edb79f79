"""The scope of an opening as it stands, what it still costs and when it is finished: from the store."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from dashboard.services.plan_material import PlanChoices, PlanMaterial, read_plan_material
from dashboard.services.plan_state import PlanInForce, plans_in_force
from dashboard.services.planned_work import span
from dashboard.services.planning import currency_of, plan_inputs
from dashboard.services.shop_checks import tear_downs
from dashboard.shop.found import findings_of
from ingest import catalogue
from ingest.store import Store
from models.case.hidden import parts_laid_open
from models.case.opening_scope import ADDED, DROPPED, FOUND, done_by_work, scope_of_opening
from models.case.to_finish import Pace, ToFinish, as_seen, to_finish
from models.checks.opened import of_opening
from models.futures.hidden_rates import ahead_of, circumstances, learn_effects
from models.futures.simulation import Assumptions
from models.plan.jobs import DEPTHS, jobs_of, kind_of_action, with_fitted
from models.plan.scope import LINE_COLUMNS, WINDOW_COLUMNS

Opening = Mapping[Hashable, Any]
TABLES = (
    "defects",
    "openings",
    "scope_lines",
    "lead_times",
    "findings",
    "costs",
    "events",
    "work",
    "wear_points",
)
WITHOUT_PLAN = "no plan holds for these days, so nothing was planned and no contingency set"


@dataclass(frozen=True)
class ScopeNow:
    """Where the scope of an opening stands.

    Attributes
    ----------
    opening : its name. today : day up to which it is told.
    plan : what the plan and its window are called; says so where there is none.
    ahead : lines with their prices, hidden work, cost to finish and days of finish.
    contingency : set at the plan's 8 times in 10; NaN without a plan. [money]
    used : lines found and added, what they cost. [money]
    currency : of all the money; empty where no price names one. pace : words on how fast it goes.
    effects : what heat, lubrication and years did to the odds of a hidden defect
        (``models.futures.hidden_rates.Effects.table``).
    """

    opening: str
    today: pd.Timestamp
    plan: str
    ahead: ToFinish
    contingency: float
    used: float
    currency: str
    pace: str
    effects: pd.DataFrame

    @property
    def left(self) -> float:
        """What is left of the contingency; NaN where none was set. [money]"""
        return self.contingency - self.used

    def sum_words(self, amount: float) -> str:
        """An amount with the currency, where prices name one."""
        return f"{self.currency} {amount:,.0f}".lstrip()


def scope_now(store: Store, opening: Opening, version: int | None = None) -> ScopeNow:
    """The scope of an opening by the newest forecast and the plan that holds.

    Raises
    ------
    NotPossible : there is no forecast, no miles ahead of the vehicle are known, or money is in several
        currencies.
    """
    number = store.version() if version is None else version
    tables = store.read_all(*TABLES, version=number)
    material = read_plan_material(store)
    vehicle, name = str(opening["vehicle"]), str(opening["opening"])
    plan = plans_in_force(store, [vehicle]).get(vehicle)
    planned, window, contingency, label = _planned(store, plan, opening)
    counts = tear_downs(tables)
    counts = counts.assign(component=counts["component"].astype(str).str.strip().str.lower())
    own = _in(counts, opening)
    material = replace(
        material, tables={**material.tables, "findings": counts[~own], "costs": tables["costs"]}
    )
    inputs = plan_inputs(material, _choices(plan, vehicle))
    seen = counts[own].groupby("component")[["examined", "defective"]].sum()
    pairs = {str(key): (float(row.iloc[0]), float(row.iloc[1])) for key, row in seen.iterrows()}
    before = circumstances(counts[~own], tables["events"])
    ahead = ahead_of(counts[~own], tables["events"], vehicle, pd.Timestamp(opening["since"]))
    effects = learn_effects(before)
    simulation = as_seen(inputs.simulation, before, pairs, ahead, effects)
    located = findings_of(tables["defects"], name)
    told, scope = _scope_of(tables, opening, planned, located)
    jobs = jobs_of(inputs.simulation.points, inputs.costs)
    rest = _still_hidden(simulation.components, jobs, planned, counts[counts["vehicle"] == vehicle], opening)
    rest = _less_examined(rest, pairs, located, planned)
    today = _today(material, opening, located, told)
    pace = _pace(window)
    still = to_finish(simulation, scope, rest, today, pace, tables["lead_times"])
    grown = still.lines["origin"].isin([FOUND, ADDED]) & (still.lines["state"] != DROPPED)
    priced = told[told["cost"].notna()]
    named = priced.set_index(priced["component"] + ", " + priced["action"])["currency"]
    currency = currency_of(tables["costs"], inputs.capacities, scope_lines=named)
    return ScopeNow(
        opening=name,
        today=today,
        plan=label,
        ahead=still,
        contingency=contingency,
        used=float(still.lines.loc[grown, "price"].sum()),
        currency=currency,
        effects=effects.table(),
        pace=f"{pace.hours_a_day:.0f} h of work in a day ({pace.source})",
    )


def _scope_of(
    tables: Mapping[str, pd.DataFrame], opening: Opening, planned: pd.DataFrame, located: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The lines that people told, and all lines of the opening."""
    told = tables["scope_lines"]
    told = told[told["opening"] == opening["opening"]]
    scope = scope_of_opening(planned, located[~located["sound"]], told)
    points = tables["wear_points"]
    mine = points[points["vehicle"] == opening["vehicle"]]
    work = of_opening(tables["work"], set(mine["point"]), opening)
    return told, done_by_work(scope, work.merge(mine[["point", "component", "position"]], on="point"))


def _in(counts: pd.DataFrame, opening: Opening) -> pd.Series:
    """Which tear-downs are those of the opening."""
    inside = (counts["vehicle"] == opening["vehicle"]) & (counts["date"] >= opening["since"])
    return inside & (counts["date"] <= opening["until"]) if pd.notna(opening["until"]) else inside


def _planned(
    store: Store, plan: PlanInForce | None, opening: Opening
) -> tuple[pd.DataFrame, dict[Hashable, Any], float, str]:
    """Lines of the plan's window that the opening carries out, the window, its contingency and its name."""
    nothing = pd.DataFrame(columns=LINE_COLUMNS), dict[Hashable, Any](), float("nan"), WITHOUT_PLAN
    if plan is None:
        return nothing
    lines, windows = plan.work.lines, plan.work.windows[list(WINDOW_COLUMNS)]
    windows = windows[(windows["vehicle"] == opening["vehicle"]) & (windows["lines"] > 0)]
    named = windows["label"].astype(str).str.strip() == str(opening["plan_line"]).strip()
    during = windows[named] if opening["plan_line"] else windows[windows["closes"] >= opening["since"]]
    during = during.sort_values("opens", kind="stable")
    if pd.notna(opening["until"]):
        during = during[during["opens"] <= opening["until"]]
    if during.empty:
        return nothing
    window = dict(during.to_dict("records")[0])
    mine = lines[(lines["vehicle"] == opening["vehicle"]) & (lines["window"] == window["window"])]
    money = store.read_run(plan.run, "amount_lines")
    money = money[(money["vehicle"] == opening["vehicle"]) & (money["window"] == window["window"])]
    set_aside = float(money.loc[money["kind"].isin(["worn", "hidden"]), "at80"].sum())
    return mine, window, set_aside, f"{plan.name or plan.run}, window {window['label']}"


def _choices(plan: PlanInForce | None, vehicle: str) -> PlanChoices:
    """What the plan was asked for, of this vehicle alone: its futures are the same."""
    if plan is None:
        return PlanChoices(vehicles=(vehicle,))
    about = plan.about
    return PlanChoices(
        vehicles=(vehicle,),
        years=float(about["years"]),
        windows=tuple(span(text) for text in about.get("windows", ())),
        only_stated=bool(about.get("only_stated", False)),
        usage=float(about.get("usage", 1.0)),
        cost=float(about.get("cost", 1.0)),
        turning=about["turning"],
        assumptions=Assumptions(**about["assumptions"]),
    )


def _still_hidden(
    components: tuple[str, ...],
    jobs: pd.DataFrame,
    planned: pd.DataFrame,
    findings: pd.DataFrame,
    opening: Opening,
) -> pd.DataFrame:
    """Parts that lie open, those left out that the plan renews."""
    every = with_fitted(jobs, planned)
    chosen = every[every["job"].isin(planned["job"])]
    depth = opening["depth"] if opening["depth"] in DEPTHS else DEPTHS[0]
    opened = dict.fromkeys(chosen.columns, "") | {"access": depth}
    row = pd.DataFrame([opened]).astype(object)
    scope = pd.concat([chosen.astype(object), row], ignore_index=True) if len(chosen) else row
    return parts_laid_open(components, jobs, scope, findings)


def _less_examined(
    rest: pd.DataFrame,
    seen: Mapping[str, tuple[float, float]],
    located: pd.DataFrame,
    planned: pd.DataFrame,
) -> pd.DataFrame:
    """The same without the parts examined so far; those that the plan renews were left out before."""
    renews = [kind_of_action(action) == "renewed" for action in planned["action"]]
    renewed = planned[np.array(renews, dtype=bool)]
    places = {
        (str(name).strip().lower(), place.strip().lower())
        for name, where in zip(renewed["component"], renewed["position"], strict=True)
        for place in str(where).split(",")
    }
    pairs = located[["component", "position"]].apply(lambda text: text.str.strip().str.lower())
    twice = [pair in places for pair in zip(pairs["component"], pairs["position"], strict=True)]
    again = pairs[np.array(twice, dtype=bool)].drop_duplicates()["component"].value_counts()
    names = rest["component"].astype(str).str.strip().str.lower()
    examined = np.array([seen.get(name, (0.0, 0.0))[0] - again.get(name, 0) for name in names])
    return rest.assign(parts=np.maximum(rest["parts"].to_numpy(float) - examined, 0.0))


def _today(
    material: PlanMaterial, opening: Opening, located: pd.DataFrame, told: pd.DataFrame
) -> pd.Timestamp:
    """The last day of which anything is known."""
    as_of = material.forecast.loc[material.forecast["vehicle"] == opening["vehicle"], "as_of"].max()
    days = [opening["since"], as_of, *located["date"], *told["date"]]
    return pd.Timestamp(max(day for day in days if pd.notna(day)))


def _pace(window: Mapping[Hashable, Any]) -> Pace:
    """How fast the work goes, by the plan where it says so."""
    assumed = catalogue.assumptions("opening").set_index("assumption")
    spread = float(assumed.loc[["pace_sd"], "value"].iloc[0])
    hours, days = float(window.get("labor_hours", 0.0)), float(window.get("days_needed", 0.0))
    if hours > 0 and days > 0:
        return Pace(hours / days, spread, "as planned for the window")
    row = assumed.loc["hours_a_day"]
    return Pace(float(str(row["value"])), spread, str(row["source"]))
