"""One shop for all engines: what there is bounds the work; nothing is planned before it can be had."""

import numpy as np
import pandas as pd
from fleets.planned_engines import AS_OF, railway

from models.plan.engine import programme_of
from models.plan.planner import make_plan
from models.plan.rules import Rules
from models.plan.shop import all_others_out, had_by, shop_of

RULES = Rules(risk=0.5, stop_risk=0.1)


def capacities(*rows):
    frame = pd.DataFrame(rows, columns=["resource", "trade", "month", "amount"])
    return frame.assign(month=pd.to_datetime(frame["month"]))


def test_hours_of_trades_are_added_up_and_a_month_of_its_own_stands_before_every_month():
    months = pd.date_range("2026-11-01", periods=3, freq="MS")
    table = capacities(
        ("hours", "fitting", None, 100.0),
        ("hours", "machining", None, 40.0),
        ("hours", "fitting", "2026-12-01", 10.0),
    )
    shop = shop_of(table, months.to_numpy())
    assert shop.available[0].tolist() == [140.0, 50.0, 140.0]
    assert shop.available[1].tolist() == [40.0, 40.0, 40.0]
    assert np.isinf(shop.available[2:]).all()


def test_work_of_two_engines_fits_into_the_hours_of_one_shop():
    free = make_plan(railway(9, vehicles=("A", "B")), RULES)
    busiest = free.windows.groupby("opens")["labor_hours"].sum().max()
    # Six months in each winter: four fifths of what the free plan takes in its busiest one.
    table = capacities(("hours", "", None, 0.8 * busiest / 6))
    plan = make_plan(railway(9, vehicles=("A", "B"), capacities=table), RULES)
    assert plan.windows.groupby("opens")["labor_hours"].sum().max() <= 0.8 * busiest + 1e-6
    assert plan.shop["over"].max() < 1e-6
    assert plan.shop["used"].sum() > 0
    cost = [made.totals.groupby("what")["amount"].sum()["objective"] for made in (free, plan)]
    assert cost[1] >= cost[0]


def test_what_finds_no_room_is_said():
    table = capacities(("money", "", None, 1.0))
    plan = make_plan(railway(6, capacities=table), RULES)
    assert plan.shop["over"].max() > 0


def test_nothing_is_planned_before_it_can_be_had():
    waits = pd.DataFrame(
        {
            "component": ["bushing"],
            "action": ["renewed"],
            "item": ["casting"],
            "months": [20.0],
            "supplier": [""],
        }
    )
    plan = make_plan(railway(9, lead_times=waits), RULES)
    bushings = plan.scope[plan.scope["component"] == "bushing"]
    assert len(bushings)
    assert (bushings["closes"] >= AS_OF + pd.Timedelta(days=600)).all()
    sooner = make_plan(railway(9), RULES)
    assert (
        sooner.scope.loc[sooner.scope["component"] == "bushing", "closes"] < AS_OF + pd.Timedelta(days=600)
    ).any()


def test_a_lead_time_without_an_action_holds_for_whatever_is_done():
    jobs = pd.DataFrame({"component": ["driver tire", "pin"], "action": ["cut", "renewed"]})
    waits = pd.DataFrame({"component": ["Tire"], "action": [None], "months": [12.0]})
    days = had_by(waits, jobs, AS_OF)
    assert days.iloc[0] == AS_OF + pd.Timedelta(days=365.2425)
    assert pd.isna(days.iloc[1])


def test_one_engine_stays_in_service():
    programme = programme_of(railway(6), "A", RULES)
    closes = programme.windows["closes"].iloc[1]
    out = {"B": [(closes, closes + pd.Timedelta(days=20))]}
    assert all_others_out(programme.windows, out).tolist() == [False, True, False, False, False]
    assert not all_others_out(programme.windows, {**out, "C": []}).any()
    assert not all_others_out(programme.windows, {}).any()
