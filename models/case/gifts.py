"""What a gift buys: real units, a piece of work or miles of one component, each at its computed price."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.case.cost import kinds_of_work, points_of
from models.case.mile import MileCost

Floats = NDArray[np.float64]

COMPONENT_MILES = 1000.0
"""Miles of one component that make a unit of giving. [mi]"""
MOST_COMPONENTS = 2
"""Components whose miles are offered: those that a mile uses up most of."""

GIFT_COLUMNS = ["kind", "component", "action", "quantity", "low", "price", "high", "points"]


def gift_units(cost: MileCost, jobs: pd.DataFrame, prices: Floats, *, most: int = 6) -> pd.DataFrame:
    """Units that a gift can buy, cheapest first.

    Parameters
    ----------
    cost : cost of a mile.
    jobs : jobs of the scope, as ``plan.jobs.jobs_of`` gives them.
    prices : shape (n, len(jobs)). Price of each job. [money]
    most : how many units are returned, at least 2.

    Returns
    -------
    Columns ``GIFT_COLUMNS``: kind (``engine miles``, ``component miles``, ``job``), quantity (miles, or 1
    part), low, price, high [money]: the range 8 times in 10 and the mean. Miles of the whole engine come
    first; the others are work of the scope, their prices spread evenly over the logarithm, so that there is
    something for a small gift and for a large one.
    """
    engine = [_engine_miles(cost, miles) for miles in (10.0, 100.0)]
    work = [*_component_miles(cost, set(jobs["component"].astype(str))), *_single_parts(jobs, prices)]
    table = pd.DataFrame([*engine, *_spread(work, most - len(engine))], columns=GIFT_COLUMNS)
    return table[table["price"] > 0].sort_values("price", kind="stable", ignore_index=True)


def _engine_miles(cost: MileCost, miles: float) -> dict[str, object]:
    """Miles of the whole engine: the small gift."""
    return _row("engine miles", "", "", miles, cost.per_mile.sum(axis=1) * miles, points_of(cost.jobs))


def _component_miles(cost: MileCost, components: set[str]) -> list[dict[str, object]]:
    """A thousand miles of those of the components that a mile uses up most of."""
    groups = {
        str(component): index
        for component, index in cost.jobs.groupby("component", sort=True).indices.items()
        if str(component) in components
    }
    dearest = sorted(groups, key=lambda name: -float(cost.mean[groups[name]].sum()))[:MOST_COMPONENTS]
    return [
        _row(
            "component miles",
            name,
            "",
            COMPONENT_MILES,
            cost.per_mile[:, groups[name]].sum(axis=1) * COMPONENT_MILES,
            points_of(cost.jobs.iloc[groups[name]]),
        )
        for name in dearest
    ]


def _single_parts(jobs: pd.DataFrame, prices: Floats) -> list[dict[str, object]]:
    """One part of each kind of work in the scope."""
    rows = []
    for component, action, index in kinds_of_work(jobs):
        part = prices[:, index] / jobs["parts"].to_numpy(float)[index]
        if np.isfinite(part).all():
            rows.append(_row("job", component, action, 1.0, part.mean(axis=1), points_of(jobs.iloc[index])))
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


def _spread(rows: list[dict[str, object]], most: int) -> list[dict[str, object]]:
    """Rows whose prices lie nearest to even steps of the logarithm."""
    rows = [row for row in rows if float(str(row["price"])) > 0]
    if len(rows) <= most:
        return rows
    log = np.log([float(str(row["price"])) for row in rows])
    chosen: list[int] = []
    for step in np.linspace(log.min(), log.max(), most):
        free = [i for i in range(len(log)) if i not in chosen]
        chosen.append(min(free, key=lambda i: abs(log[i] - step)))
    return [rows[i] for i in chosen]
