"""How long a plan takes: two engines of 250 wear points each, 20 windows, to within 1 % of the bound; six
engines, 1,500 wear points, 20 winters in one shop, to within 5 %."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from models.distribution import PROBABILITIES
from models.futures.simulation import Assumptions, simulate
from models.plan.planner import PlanInputs, make_plan
from models.plan.rules import Rules
from models.running.ahead import usage_plan
from models.running.windows import by_hand, combine, lay_ups, within

AS_OF = pd.Timestamp("2026-10-31")
KINDS = {  # component: access, cost, hours, days, life in miles, matched
    "tire": ("wheels_out", 950.0, 14.0, 3.0, 80_000.0, True),
    "brass": ("wheels_out", 2350.0, 34.0, 7.0, 125_000.0, False),
    "liner": ("wheels_out", 780.0, 12.0, 2.0, 88_000.0, False),
    "shoe": ("rods_down", 410.0, 9.0, 1.0, 76_000.0, False),
    "bushing": ("rods_down", 690.0, 9.0, 1.0, 46_000.0, False),
    "rod": ("rods_down", 1450.0, 18.0, 2.0, 40_000.0, False),
    "hanger": ("in_place", 85.0, 2.0, 0.0, 92_000.0, False),
    "lever": ("in_place", 230.0, 4.0, 1.0, 66_000.0, False),
}
NO_LOG = pd.DataFrame(
    {"vehicle": pd.Series([], dtype=object), "date": pd.to_datetime([]), "odometer": [], "service_days": []}
)


def railway(vehicles, idle, years):
    """Engines of 250 wear points each that stand still in some months of the year."""
    rng = np.random.default_rng(20260501)
    rows, names = [], list(KINDS)
    for vehicle in vehicles:
        for i in range(250):
            component = names[i % len(names)]
            access, *_, life, matched = KINDS[component]
            group = f"{component} {i // 64}" if matched else ""
            rows.append((f"{vehicle}-{i}", vehicle, component, f"place {i}", "wear", access, group, life))
    columns = ["point", "vehicle", "component", "position", "quantity", "access", "matched_set", "life"]
    points = pd.DataFrame(rows, columns=columns).assign(role="")
    life = points.pop("life") * rng.uniform(0.7, 1.3, len(points))
    curve = np.exp(0.3 * norm.ppf(PROBABILITIES))
    share = rng.uniform(0.25, 1.0, len(points))
    stored = pd.DataFrame(
        {
            "point": points["point"],
            "remaining": list((life * share).to_numpy()[:, None] * curve),
            "new_life": list(life.to_numpy()[:, None] * curve),
        }
    )
    months = pd.date_range("2026-01-01", periods=12 * (years + 3), freq="MS")
    run = np.where(months.month.isin(idle), 0.0, 650.0)
    usage = pd.concat([pd.DataFrame({"vehicle": v, "month": months, "miles_planned": run}) for v in vehicles])
    as_of = pd.Series(dict.fromkeys(vehicles, AS_OF))
    plan = usage_plan(usage.assign(miles_sd=np.nan), NO_LOG, as_of, 12 * years + 15)
    prices = [(name, "renewed", *kind[1:4]) for name, kind in KINDS.items()]
    costs = pd.DataFrame(
        [*prices, ("rods_down", "open", 1800.0, 64.0, 4.0), ("wheels_out", "open", 26_500.0, 620.0, 45.0)],
        columns=["component", "action", "cost", "labor_hours", "days_out"],
    ).assign(currency="USD", price_date=AS_OF)
    futures = simulate(points, stored, plan, costs=costs, as_of=as_of, assumptions=Assumptions(draws=2000))
    windows, ends = within(combine(lay_ups(plan, as_of), by_hand([], []), as_of), as_of, years)
    return PlanInputs(futures, stored, plan, windows, costs, ends)


def two_engines():
    return railway(("Alder", "Birch"), idle=[1, 2, 3, 11, 12, 7], years=10)  # two lay-ups a year


def six_engines():
    """Six engines, one winter a year for twenty years, and one shop's hours for all of them."""
    given = railway(("Alder", "Birch", "Cedar", "Dogwood", "Elm", "Fir"), idle=[1, 2, 3, 11, 12], years=20)
    shop = pd.DataFrame(
        [("hours", "", pd.NaT, 2400.0, "", "")],
        columns=["resource", "trade", "month", "amount", "currency", "note"],
    )
    return replace(given, capacities=shop.assign(month=pd.to_datetime(shop["month"])))


def test_two_engines_500_points_20_windows(benchmark):
    given = two_engines()
    assert given.windows.groupby("vehicle").size().tolist() == [20, 20]
    plan = benchmark.pedantic(make_plan, args=(given,), kwargs={"gap": 0.01}, rounds=1, iterations=1)
    gaps = plan.totals[plan.totals["what"] == "gap"]["amount"]
    assert (gaps <= 0.01).all()


@pytest.mark.long
def test_six_engines_1500_points_20_winters_in_one_shop(benchmark):
    given = six_engines()
    assert given.windows.groupby("vehicle").size().tolist() == [20] * 6
    rules = Rules(risk=0.25, stop_risk=0.05)
    plan = benchmark.pedantic(make_plan, args=(given, rules), rounds=1, iterations=1)
    totals = plan.totals.groupby("what")["amount"].sum()
    assert totals["objective"] <= 1.05 * totals["bound"]
    ahead = plan.engine_risk[plan.engine_risk["season"] > 0]
    assert (ahead.groupby("vehicle")["with_plan"].mean() <= rules.stop_risk + 0.03).all()
