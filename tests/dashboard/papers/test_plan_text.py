"""A plan as text: sums, chances and their order, from a plan whose every figure can be followed by eye."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from dashboard.papers.plan_text import as_text
from models.plan.rules import Rules


def line(component, position, chance, cost, reason):
    return {
        "vehicle": "Alder", "window": 1, "depth": "rods_down", "component": component, "action": "renewed",
        "kind": "limit", "position": position, "parts": 1, "cost": cost, "labor_hours": 9.0, "reason": reason,
        "chance_by_next": chance, "currency": "USD",
    }  # fmt: skip


def window(number, label, lines, lost_days):
    return {
        "vehicle": "Alder", "window": number, "label": label, "days": 120, "depth": "rods_down",
        "lines": lines,
        "cost": 2_070.0, "opening_cost": 1_800.0, "labor_hours": 91.0, "lost_days": lost_days,
    }  # fmt: skip


@pytest.fixture(scope="module")
def result():
    months = pd.date_range("2027-01-31", "2028-12-31", freq="ME")
    climbing = [0.01 * (i + 1) for i in range(len(months))]
    plan = SimpleNamespace(
        windows=pd.DataFrame([window(1, "Nov 2027", 3, 0.4), window(2, "Nov 2028", 0, 0.0)]),
        scope=pd.DataFrame(
            [
                line("bushing", "driver 2 left", 0.20, 690.0, "2 in 10 by then"),
                line("bushing", "driver 1 left", 0.60, 690.0, "6 in 10 by then"),
                line("pin", "driver 1 left", 0.10, 690.0, "cheap while it is open"),
            ]
        ),
        totals=pd.DataFrame(
            {
                "vehicle": "Alder",
                "what": ["jobs", "opening", "lost_days", "gap"],
                "amount": [2_070.0, 1_800.0, 400.0, 0.0041],
            }
        ),
        risk=pd.DataFrame(
            {
                "vehicle": "Alder",
                "month": months,
                "without_work": climbing,
                "with_plan": [chance / 4 for chance in climbing],
            }
        ),
        engine_risk=pd.DataFrame(
            {
                "vehicle": "Alder",
                "season": [0, 1, 2],
                "label": ["Aug – Oct 2027", "May – Oct 2028", "May – Oct 2029"],
                "without_work": [0.1, 0.9, 0.97],
                "with_plan": [0.1, 0.03, 0.05],
            }
        ),
        frontier=pd.DataFrame(
            {
                "vehicle": "Alder",
                "chance": [0.11, 0.04],
                "money": [3_100.0, 4_270.0],
                "openings": [1, 2],
                "chosen": [False, True],
            }
        ),
        rules=Rules(risk=0.25, stop_risk=0.05),
        carriers=pd.DataFrame({"vehicle": ["Alder"], "point": ["BUSHING-1"], "without_work": [0.18]}),
        at_limit=pd.DataFrame({"vehicle": ["Alder", "Birch"], "point": ["PIN-9", "PIN-1"], "chance": 0.9}),
        late=pd.DataFrame(
            {
                "vehicle": "Alder",
                "point": [f"PIN-{i}" for i in range(8)],
                "chance": [0.11, 0.31, 0.12, 0.13, 0.14, 0.15, 0.16, 0.17],
                "label": "Nov 2027",
            }
        ),
        not_planned=pd.DataFrame({"vehicle": [], "point": [], "reason": []}),
    )
    amounts = pd.DataFrame({"vehicle": ["Alder"], "window": [1], "p50": [4_100.0], "p80": [5_200.0]})
    turnings = pd.DataFrame(
        {
            "vehicle": ["Alder"],
            "matched_set": ["Alder drivers"],
            "component": ["driver tire"],
            "positions": ["driver 1 left, driver 1 right"],
            "policy": ["early at lay-ups"],
            "turnings_p50": [2.0],
            "miles_p50": [52_340.0],
            "next_turnings_p50": [3.0],
            "next_life_p50": [np.inf],
        }
    )
    return SimpleNamespace(
        plan=plan, amounts=amounts, turnings=turnings, trips=pd.DataFrame(), about={"years": 6.0}
    )


@pytest.fixture(scope="module")
def text(result):
    return as_text(result)


def words(text, start):
    """The words of the line that starts so."""
    return next(line for line in text.splitlines() if line.strip().startswith(start)).split()


def test_todays_prices_are_those_of_the_jobs_and_of_opening_the_engine(text):
    assert "1 of 2 windows used in 6 years, 3,870 USD of work at today's prices" in text
    assert words(text, "Nov 2027")[-3:] == ["3,870", "4,100", "5,200"]


def test_days_lost_are_shown_from_half_a_day(result, text):
    assert words(text, "Nov 2027")[-4] == "-"
    plan = SimpleNamespace(**vars(result.plan))
    plan.windows = plan.windows.assign(lost_days=[0.6, 0.0])
    longer = as_text(SimpleNamespace(**{**vars(result), "plan": plan}))
    assert words(longer, "Nov 2027")[-4] == "1"


def test_each_season_says_how_often_the_engine_stops_and_the_mean_leaves_out_what_no_plan_changes(text):
    assert "must be taken out of service (mean 4, 5 accepted)" in text
    assert words(text, "May – Oct 2028")[-2:] == ["90", "3"]


def test_what_less_risk_costs_names_this_plan(text):
    assert words(text, "4  ")[-5:] == ["4", "4,270", "2", "this", "plan"]
    assert words(text, "11  ")[-3:] == ["11", "3,100", "1"]


def test_how_much_dearer_than_the_best_plan_is_a_bound(text):
    assert "It costs at most 0.4 % more than the best plan there can be." in text


def test_no_chance_is_told_in_per_cent(text):
    assert text.count("%") == 1  # how far from the best plan


def test_the_chance_to_stop_is_that_at_the_end_of_the_year(text):
    assert words(text, "2027")[1:] == ["12", "3"]
    assert words(text, "2028")[1:] == ["24", "6"]


def test_what_is_past_its_limit_already_is_named_where_chances_leave_it_out(text):
    said = " ".join(text.split())
    words = "Past the limit already, so that the engine may not run: PIN-9. The chances leave this out."
    assert f"{words} Without work most likely stopped by: BUSHING-1" in said


def test_what_is_over_the_risk_comes_most_pressing_first_and_the_others_are_counted(text):
    assert "8 planned late, past the accepted risk before a window comes" in text
    listed = [line.split()[0] for line in text.splitlines() if line.strip().startswith("PIN-")]
    assert listed == ["PIN-1", "PIN-7", "PIN-6", "PIN-5", "PIN-4", "PIN-3"]
    assert "    and 2 more" in text


def test_same_work_is_one_line_with_the_reason_that_presses_most(text):
    lines = text.splitlines()
    place = next(i for i, line in enumerate(lines) if "2 × bushing renewed" in line)
    assert lines[place].split()[-1] == "1,380"
    assert lines[place + 1].strip() == "6 in 10 by then (the most pressing of 2)"


def test_what_turnings_leave_of_the_tires_stands_beside_what_the_plan_does_to_them(text):
    line = next(line for line in text.splitlines() if line.strip().startswith("Alder drivers"))
    assert line.split()[2:] == ["2", "52,340", "mi", "3", "beyond"]
    assert "Tires and rims, turned early at lay-ups" in text
    assert "in this plan: nothing" in text


def test_why_something_is_in_no_plan_is_said_to_its_end_and_an_inspection_is_not_examined(result):
    reason = "cannot be forecast: no condemning limit is on record; state one, or measure it at each opening"
    plan = vars(result.plan) | {
        "not_planned": pd.DataFrame(
            {
                "vehicle": "Alder",
                "point": ["LINK-1", "inspection: Annual inspection"],
                "reason": [reason, "last one not on record"],
            }
        )
    }
    said = " ".join(as_text(SimpleNamespace(**vars(result) | {"plan": SimpleNamespace(**plan)})).split())
    assert f"1 not in the plan, to be examined at each opening: LINK-1: {reason}" in said
    assert "keep their days by hand: Annual inspection: last one not on record" in said
