"""Plans side by side, and a plan against what was done."""

import numpy as np
import pandas as pd
import pytest

from models.plan.what_if import FIGURES, against_done, changes_since, compare_plans


def day(text):
    return pd.Timestamp(text)


SCOPE = pd.DataFrame(
    {
        "vehicle": "A",
        "label": ["Nov 2026", "Nov 2026", "Nov 2028"],
        "job": ["pin", "brass", "pin"],
        "opens": [day("2026-11-01"), day("2026-11-01"), day("2028-11-01")],
        "closes": [day("2027-04-30"), day("2027-04-30"), day("2029-04-30")],
        "points": [["P1", "P2"], ["B1"], ["P1", "P2"]],
        "unused_miles": [100.0, 50.0, 0.0],
        "unused_value": [10.0, 5.0, 0.0],
    }
)
WINDOWS = pd.DataFrame(
    {
        "vehicle": "A",
        "depth": ["wheels_out", "rods_down", ""],
        "lines": [2, 1, 0],
        "cost": [900.0, 300.0, 0.0],
        "opening_cost": [5000.0, 500.0, 0.0],
        "lost_days": [3.0, 0.0, 0.0],
        "labor_hours": [90.0, 10.0, 0.0],
    }
)
RISK = pd.DataFrame(
    {
        "vehicle": "A",
        "month": pd.date_range("2026-11-01", periods=40, freq="MS"),
        "with_plan": [i / 100 for i in range(40)],
    }
)
LATE = pd.DataFrame({"vehicle": ["A", "A"], "point": ["P1", "P1"]})
PLAN = {"windows": WINDOWS, "scope": SCOPE, "late": LATE, "risk": RISK}


def test_figures_of_two_plans_stand_side_by_side():
    dearer = PLAN | {"windows": WINDOWS.assign(cost=WINDOWS["cost"] * 2)}
    table = compare_plans({"one": PLAN, "two": dearer}).set_index("figure")
    assert list(table.index) == list(FIGURES)
    assert table["one"].to_dict() == pytest.approx(
        {
            "openings": 2, "wheels_out": 1, "lines": 3, "money": 6700, "lost_days": 3, "labor_hours": 100,
            "thrown_away_money": 15, "stop_by_end": 0.39,
            "stop_by_two_seasons": 0.24, "late": 1,
        }
    )  # fmt: skip
    assert table.loc["money", "two"] == 7900


def test_a_plan_against_the_record():
    points = pd.DataFrame({"point": ["P1", "P2", "B1", "X", "Z"], "vehicle": ["A", "A", "A", "A", "B"]})
    points = points.assign(unit="in", per_base=1 / 25.4)
    work = pd.DataFrame(
        [
            ("P1", "2026-12-01"),
            ("P2", "2027-06-01"),
            ("X", "2027-02-01"),
            ("Z", "2027-02-01"),
            ("B1", "2020-01-01"),
        ],
        columns=["point", "date"],
    ).assign(date=lambda frame: pd.to_datetime(frame["date"]), action="renewed")
    work["value_after"] = np.where(work["point"] == "P1", 31.75, np.nan)
    told = against_done(SCOPE, work, points, day("2027-12-31"))
    assert told.loc[told["left"] != "", ["point", "left"]].to_numpy().tolist() == [["P1", "1.25 in"]]
    verdict = told.set_index(["point", "label"])["verdict"]
    assert verdict["P1", "Nov 2026"] == "done in its window"
    assert verdict["P2", "Nov 2026"] == "done late"
    assert verdict["B1", "Nov 2026"] == "not done"
    assert verdict["P1", "Nov 2028"] == "not yet due"
    assert verdict["X", ""] == "done, not planned"
    assert ("Z", "") not in verdict.index  # of a vehicle that was not planned


def test_one_renewal_serves_one_line():
    near = SCOPE.iloc[[0, 0]].assign(label=["a", "b"], opens=[day("2026-11-01"), day("2027-03-01")])
    work = pd.DataFrame({"point": ["P1"], "date": [day("2026-11-10")], "action": ["renewed"]})
    points = pd.DataFrame({"point": ["P1", "P2"], "vehicle": "A"})
    told = against_done(near, work, points, day("2029-01-01"))
    assert told.loc[told["point"] == "P1", "verdict"].tolist() == ["done in its window", "not done"]


def lines_of(*rows):
    frame = pd.DataFrame(rows, columns=["job", "label", "opens", "reason"])
    return frame.assign(
        vehicle="A", kind="limit", component="pin", action="renewed", position="left", cost=300.0,
        opens=pd.to_datetime(frame["opens"]),
    )  # fmt: skip


def test_what_a_new_plan_changes_is_said_line_by_line():
    before = lines_of(
        ("P1", "Nov 2026", "2026-11-01", "old"), ("P2", "Nov 2026", "2026-11-01", "old"),
        ("P3", "Nov 2028", "2028-11-01", "old"), ("P4", "Nov 2027", "2027-11-01", "old"),
        ("P5", "Nov 2027", "2027-11-01", "old"),
    )  # fmt: skip
    after = lines_of(
        ("P3", "Nov 2027", "2027-11-01", "60 % by then"), ("P4", "Nov 2027", "2027-12-02", "same winter"),
        ("P6", "Nov 2027", "2027-11-01", "new reading"), ("P2", "Nov 2027", "2027-11-01", "not done"),
    )  # fmt: skip
    done = pd.DataFrame(
        {
            "job": ["P1", "P2"], "label": ["Nov 2026", "Nov 2026"], "done": [day("2026-12-04"), pd.NaT],
            "verdict": ["done in its window", "not done"], "left": ["1.25 in", ""],
        }
    )  # fmt: skip
    table = changes_since(before, after, done).set_index("job")
    assert table["change"].to_dict() == {
        "P6": "added", "P1": "done", "P5": "dropped", "P2": "later", "P3": "sooner",
    }  # fmt: skip
    assert table.loc["P3", "why"] == "60 % by then"
    assert table.loc["P1", "why"] == "done on 4 Dec 2026, left at 1.25 in"
    assert table.loc["P2", "why"] == "not done in Nov 2026; not done"
    assert (table.loc["P2", "was"], table.loc["P2", "now"]) == ("Nov 2026", "Nov 2027")
    assert changes_since(before, before, done.iloc[:0]).empty
