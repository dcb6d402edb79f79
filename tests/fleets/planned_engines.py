"""Small railways whose plan can be looked through: few parts, whole winters with trains in December."""

from itertools import product

import numpy as np
import pandas as pd

from ingest.catalogue import classify, opening_practice
from models.distribution import PROBABILITIES
from models.futures.simulation import Assumptions, simulate
from models.plan.planner import PlanInputs
from models.running.ahead import usage_plan
from models.running.windows import combine, lay_ups, winters, with_running, within

AS_OF = pd.Timestamp("2026-10-31")
NO_LOG = pd.DataFrame(
    {"vehicle": pd.Series([], dtype=object), "date": pd.to_datetime([]), "odometer": [], "service_days": []}
)
COSTS = pd.DataFrame(
    [
        ("rods_down", "open", 1000.0, 40.0, 4.0),
        ("wheels_out", "open", 20_000.0, 400.0, 30.0),
        ("bushing", "renewed", 600.0, 8.0, 1.0),
        ("pin", "renewed", 300.0, 4.0, 1.0),
        ("tire", "renewed", 5000.0, 26.0, 6.0),
    ],
    columns=["component", "action", "cost", "labor_hours", "days_out"],
).assign(currency="USD", price_date=AS_OF)
SCORES = np.array([-2.33, -1.28, 0.0, 1.28, 2.33])


def railway(parts=6, years=5, *, seed=1, costs=COSTS, draws=1500, vehicles=("A",), **shop):
    """Engines of several parts each, with trains in December between two lay-ups of each winter; ``shop``:
    capacities and lead times."""
    rng = np.random.default_rng(seed)
    kinds = [("bushing", "rods_down", 9000.0), ("pin", "in_place", 7000.0), ("tire", "wheels_out", 16_000.0)]
    curve = np.exp(0.25 * np.interp(np.linspace(0, 1, len(PROBABILITIES)), np.linspace(0, 1, 5), SCORES))
    rows = []
    for vehicle, number in product(vehicles, range(parts)):
        component, access, life = kinds[number % 3]
        rows.append(
            {
                "point": f"{vehicle}{number}", "vehicle": vehicle, "component": component,
                "position": f"place {number}",
                "quantity": "clearance", "access": access, "matched_set": "",
                "remaining": life * rng.uniform(0.3, 1.0) * curve, "new_life": life * curve,
            }
        )  # fmt: skip
    frame = classify(pd.DataFrame(rows))
    months = pd.date_range("2026-11-01", periods=12 * (years + 2), freq="MS")
    miles = np.where(months.month.isin([5, 6, 7, 8, 9, 10]), 500.0, 0.0)
    miles = np.where(months.month == 12, 120.0, miles)
    planned = pd.DataFrame({"month": months, "miles_planned": miles, "miles_sd": 0.1 * miles})
    planned = pd.concat([planned.assign(vehicle=vehicle) for vehicle in vehicles], ignore_index=True)
    as_of = pd.Series(dict.fromkeys(vehicles, AS_OF))
    usage = usage_plan(planned, NO_LOG, as_of, 12 * (years + 1) + 4)
    windows = combine(winters(lay_ups(usage, as_of), usage), lay_ups(usage, as_of).iloc[:0], as_of)
    windows, ends = within(with_running(windows, usage), as_of, years)
    stored = frame[["point", "remaining", "new_life"]]
    futures = simulate(
        frame.drop(columns=["remaining", "new_life"]), stored, usage, costs=costs, as_of=as_of,
        assumptions=Assumptions(draws=draws),
    )  # fmt: skip
    return PlanInputs(
        futures, stored, usage, windows, costs, ends, opening_practice=opening_practice(), **shop
    )
