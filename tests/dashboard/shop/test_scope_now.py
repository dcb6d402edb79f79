"""Where the scope of an opening stands: drawn anew after each finding, in the futures of the plan."""

import pandas as pd
import pytest

from dashboard.shop.entries import store_finding, store_line
from dashboard.shop.openings import begin, find_opening, openings_of, record
from dashboard.shop.scope import scope_now
from ingest.store import Store

DAY = pd.Timestamp("2023-11-03").date()


@pytest.fixture
def shop(small):
    """A store in which an engine lies open, and what earlier tear-downs found."""
    store = Store(small)
    earlier = [
        {
            "vehicle": "Nettle",
            "date": f"{year}-02-01",
            "component": "crosshead",
            "examined": 8,
            "defective": bad,
        }
        for year, bad in ((2017, 0), (2018, 1), (2019, 0), (2020, 2), (2021, 0), (2022, 1))
    ]
    record(store, {"findings": earlier})
    begin(store, "Nettle", pd.Timestamp("2023-11-01").date(), depth="wheels_out")
    return store


def opening(store):
    return find_opening(openings_of(store), "Nettle")


def find(store, position, defect="nothing found", verdict=""):
    row = {"component": "crosshead", "position": position, "defect": defect, "verdict": verdict, "date": DAY}
    store_finding(store, opening(store), row, who="R. T.")


def test_two_of_the_first_three_are_cracked(shop):
    before = scope_now(shop, opening(shop))
    row = before.ahead.hidden.set_index("component").loc["crosshead"]
    assert row["parts"] == 8
    for place, defect in (("1", "crack"), ("2", "crack"), ("3", "sound")):
        find(shop, place, defect, "renew" if defect == "crack" else "")
    after = scope_now(shop, opening(shop))
    rest = after.ahead.hidden.set_index("component").loc["crosshead"]
    assert rest["parts"] == 5
    assert rest["found"] / rest["parts"] > 1.5 * row["found"] / row["parts"]
    assert after.ahead.lines["origin"].tolist() == ["found", "found"]
    assert after.used == pytest.approx(2 * 1200, rel=0.1)  # price list, middle of the quotations
    assert after.ahead.cost[0.1] <= after.ahead.cost[0.5] <= after.ahead.cost[0.9]


def test_done_and_dropped_lines_cost_nothing_more_and_what_is_late_moves_the_finish(shop):
    line = {"component": "crosshead", "action": "renewed", "position": "left", "date": DAY}
    store_line(shop, opening(shop), line)
    added = scope_now(shop, opening(shop))
    assert added.ahead.lines["unpriced"].tolist() == [False]
    record(
        shop,
        {"lead_times": [{"component": "crosshead", "action": "renewed", "item": "casting", "months": 6}]},
    )
    waiting = scope_now(shop, opening(shop))
    assert waiting.ahead.finish[0.1] >= added.today + pd.Timedelta(days=182)
    store_line(shop, opening(shop), {**line, "state": "done", "cost": 1500})
    done = scope_now(shop, opening(shop))
    assert done.ahead.cost[0.5] < added.ahead.cost[0.5]
    assert done.used == 1500
    assert done.ahead.finish[0.9] < waiting.ahead.finish[0.1]
    store_line(shop, opening(shop), {**line, "state": "dropped"})
    assert scope_now(shop, opening(shop)).used == 0


def test_a_line_without_a_price_is_in_no_sum_and_says_so(shop):
    store_line(shop, opening(shop), {"component": "dome", "action": "welded", "date": DAY})
    now = scope_now(shop, opening(shop))
    assert now.ahead.unpriced["component"].tolist() == ["dome"]
    assert "no contingency" in now.plan
