"""Damage that shows once the engine is open, in hours as in money; and what a mile costs in all."""

import numpy as np
import pandas as pd
import pytest

from models.case.hidden import hidden_hours, hidden_work, parts_laid_open
from models.case.mile import cost_of_a_mile
from models.case.whole_mile import HIDDEN, OPENING, PARTS, WHOLE, cost_in_all
from models.distribution import PROBABILITIES
from models.futures.simulation import Assumptions, simulate
from models.plan.jobs import jobs_of, openings_of

DAY = pd.Timestamp("2026-10-31")
STEADY = Assumptions(draws=500, inflation=0.0, inflation_sd=0.0, quote_sd=0.0)
"""Prices stay as listed, so that sums can be followed by eye."""
COSTS = pd.DataFrame(
    [
        ("wheels_out", "open", 20_000.0, 400.0),
        ("brass", "renewed", 600.0, 10.0),
        ("brass", "cut", 60.0, 1.0),
        ("pin", "renewed", 100.0, 2.0),
    ],
    columns=["component", "action", "cost", "labor_hours"],
).assign(currency="USD", price_date=DAY, days_out=1.0)
FINDINGS = pd.DataFrame(
    {"vehicle": "A", "date": DAY, "component": ["brass"] * 3, "examined": 8, "defective": [2, 1, 3]}
)


@pytest.fixture(scope="module")
def futures():
    names = [f"{part}{place}" for part in ("brass", "pin") for place in range(4)]
    points = pd.DataFrame({"point": names, "vehicle": "A", "quantity": "wear", "access": "wheels_out"})
    points["component"] = [name[:-1] for name in names]
    points["position"] = [f"driver {name[-1]}" for name in names]
    points = points.assign(matched_set="", role="")
    lives = [np.full(len(PROBABILITIES), 50_000.0)] * len(points)
    month = pd.date_range("2026-11-01", periods=24, freq="MS")
    usage = pd.DataFrame({"vehicle": "A", "month": month, "miles": 500.0, "miles_sd": 50.0})
    simulation = simulate(
        points,
        pd.DataFrame({"point": names, "remaining": lives, "new_life": lives}),
        usage.assign(service_days=np.nan, source="planned"),
        findings=FINDINGS,
        costs=COSTS,
        assumptions=STEADY,
    )
    jobs = jobs_of(points, COSTS)
    return simulation, jobs, jobs[jobs["component"] == "pin"]


def test_hours_of_hidden_work_are_those_of_the_very_parts_that_money_pays(futures):
    simulation, jobs, scope = futures
    laid_open = parts_laid_open(simulation.components, jobs, scope, FINDINGS)
    money = hidden_work(simulation, laid_open, DAY).draws.sum(axis=1)
    hours = hidden_hours(simulation, laid_open)
    assert hours.std() > 1.0
    # 60 an hour whether a part is renewed or machined, so hours follow money future by future.
    np.testing.assert_allclose(hours, money / 60.0)


def test_nothing_laid_open_takes_no_hours(futures):
    simulation, jobs, scope = futures
    laid_open = parts_laid_open(simulation.components, jobs, scope.iloc[:0], FINDINGS)
    assert (hidden_hours(simulation, laid_open) == 0.0).all()


def whole(futures, scopes, findings=FINDINGS):
    simulation, jobs, _ = futures
    lives, price = (np.full((simulation.draws, 1), value) for value in (50_000.0, 100.0))
    mile = cost_of_a_mile(jobs.iloc[:1], lives, price)
    table = cost_in_all(simulation, mile, jobs, openings_of(COSTS), findings, scopes, DAY)
    assert table["what"].tolist() == [PARTS, OPENING, HIDDEN, WHOLE]
    return table.set_index("what")


@pytest.mark.parametrize("windows", [1, 2])
def test_opening_and_hidden_damage_come_on_top_of_the_parts_as_in_the_windows_of_the_plan(futures, windows):
    simulation, jobs, scope = futures
    table = whole(futures, [scope] * windows)
    laid_open = parts_laid_open(simulation.components, jobs, scope, FINDINGS)
    hidden = hidden_work(simulation, laid_open, DAY).draws.sum(axis=1).mean()
    parts = 100.0 / 50_000.0
    assert table.loc[PARTS, "mean"] == pytest.approx(parts)
    # Four pins at 100 need the wheels out, 20,000: 50 of opening for each 1 of planned work.
    assert table.loc[OPENING, "mean"] == pytest.approx(parts * 20_000 / 400)
    assert table.loc[HIDDEN, "mean"] == pytest.approx(parts * hidden / 400)
    assert table.loc[WHOLE, "mean"] == pytest.approx(table["mean"].iloc[:3].sum())
    assert (table["p10"] <= table["mean"]).all()
    assert (table["mean"] <= table["p90"]).all()


def test_where_no_window_has_priced_work_a_mile_is_its_parts(futures):
    for scopes in ([], [futures[2].iloc[:0]]):
        table = whole(futures, scopes)
        assert table.loc[[OPENING, HIDDEN], "mean"].tolist() == [0.0, 0.0]
        assert table.loc[WHOLE, "mean"] == table.loc[PARTS, "mean"]
