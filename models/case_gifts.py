"""What a gift buys: real units, a piece of work or miles of one component, each at its computed price."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.case_cost import kinds_of_work, points_of
from models.case_mile import MileCost

Floats = NDArray[np.float64]

GIFT_COLUMNS = ["kind", "component", "action", "quantity", "low", "price", "high", "points"]


def gift_units(
    cost: MileCost, jobs: pd.DataFrame, prices: Floats, *, most: int = 6, component_miles: float = 1000.0
) -> pd.DataFrame:
    """Units that a gift can buy, cheapest first.

    Parameters
    ----------
    cost : cost of a mile.
    jobs : jobs of the scope, as ``planner_jobs.jobs_of`` gives them.
    prices : shape (n, len(jobs)). Price of each job. [money]
    most : how many units are returned.
    component_miles : miles of one component that make a unit. [mi]

    Returns
    -------
    Columns ``GIFT_COLUMNS``: kind (``engine miles``, ``component miles``, ``job``), quantity (miles, or 1
    part), low, price, high [money]: the range in 8 of 10 cases and the mean. Prices are spread evenly over
    their logarithm, so that there is something for a small gift and for a large one.
    """
    rows = [_engine_miles(cost), *_component_miles(cost, component_miles), *_single_parts(jobs, prices)]
    table = pd.DataFrame([row for row in rows if row], columns=GIFT_COLUMNS)
    table = table[table["price"] > 0].sort_values("price", kind="stable", ignore_index=True)
    return _spread(table, most)


def _engine_miles(cost: MileCost) -> dict[str, object]:
    """Ten miles of the whole engine: the small gift."""
    return _row("engine miles", "", "", 10.0, cost.per_mile.sum(axis=1) * 10.0, points_of(cost.jobs))


def _component_miles(cost: MileCost, miles: float) -> list[dict[str, object]]:
    groups = cost.jobs.groupby("component", sort=True).indices
    return [
        _row(
            "component miles",
            str(component),
            "",
            miles,
            cost.per_mile[:, index].sum(axis=1) * miles,
            points_of(cost.jobs.iloc[index]),
        )
        for component, index in groups.items()
    ]


def _single_parts(jobs: pd.DataFrame, prices: Floats) -> list[dict[str, object]]:
    """One part of each kind of work in the scope."""
    rows = []
    for component, action, index in kinds_of_work(jobs):
        each = prices[:, index] / jobs["parts"].to_numpy(float)[index]
        if np.isfinite(each).all():
            rows.append(_row("job", component, action, 1.0, each.mean(axis=1), points_of(jobs.iloc[index])))
    return rows


def _row(
    kind: str, component: str, action: str, quantity: float, draws: Floats, points: list[str]
) -> dict[str, object]:
    low, high = np.quantile(draws, [0.1, 0.9])
    mean = float(draws.mean())
    return {
        "kind": kind,
        "component": component,
        "action": action,
        "quantity": quantity,
        "low": min(float(low), mean),
        "price": mean,
        "high": max(float(high), mean),
        "points": points,
    }


def _spread(table: pd.DataFrame, most: int) -> pd.DataFrame:
    """Rows whose prices lie nearest to even steps of the logarithm."""
    if len(table) <= most:
        return table
    log = np.log(table["price"].to_numpy())
    steps = np.linspace(log[0], log[-1], most)
    chosen: list[int] = []
    for step in steps:
        free = [i for i in range(len(log)) if i not in chosen]
        chosen.append(min(free, key=lambda i: abs(log[i] - step)))
    return table.iloc[sorted(chosen)].reset_index(drop=True)
