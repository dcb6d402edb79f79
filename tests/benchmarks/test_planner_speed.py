"""How long a plan takes: two engines of 250 wear points each, 20 windows, to within 1 % of the bound."""

import numpy as np
import pandas as pd
from scipy.stats import norm

from models.distribution import PROBABILITIES
from models.futures.simulation import Assumptions, simulate
from models.plan.planner import PlanInputs, make_plan
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


def two_engines():
    rng = np.random.default_rng(20260501)
    rows, names = [], list(KINDS)
    for vehicle in ("Alder", "Birch"):
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
    months = pd.date_range("2026-01-01", "2038-12-01", freq="MS")
    run = np.where(months.month.isin([1, 2, 3, 11, 12, 7]), 0.0, 650.0)  # two lay-ups a year
    usage = pd.concat(
        [pd.DataFrame({"vehicle": v, "month": months, "miles_planned": run}) for v in ("Alder", "Birch")]
    )
    as_of = pd.Series({"Alder": AS_OF, "Birch": AS_OF})
    plan = usage_plan(usage.assign(miles_sd=np.nan), NO_LOG, as_of, 135)
    prices = [(name, "renewed", *kind[1:4]) for name, kind in KINDS.items()]
    costs = pd.DataFrame(
        [*prices, ("rods_down", "open", 1800.0, 64.0, 4.0), ("wheels_out", "open", 26_500.0, 620.0, 45.0)],
        columns=["component", "action", "cost", "labor_hours", "days_out"],
    ).assign(currency="USD", price_date=AS_OF)
    futures = simulate(points, stored, plan, costs=costs, as_of=as_of, assumptions=Assumptions(draws=2000))
    windows, ends = within(combine(lay_ups(plan, as_of), by_hand([], []), as_of), as_of, 10)
    return PlanInputs(futures, stored, plan, windows, costs, ends)


def test_two_engines_500_points_20_windows(benchmark):
    given = two_engines()
    assert given.windows.groupby("vehicle").size().tolist() == [20, 20]
    plan = benchmark.pedantic(make_plan, args=(given,), kwargs={"gap": 0.01}, rounds=1, iterations=1)
    gaps = plan.totals[plan.totals["what"] == "gap"]["amount"]
    assert (gaps <= 0.01).all()
