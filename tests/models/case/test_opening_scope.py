"""The scope of an opening: planned, found and added lines, each once, wherever they stand."""

import pandas as pd

from models.case.opening_scope import COLUMNS, done_by_work, scope_of_opening

PLANNED = pd.DataFrame(
    {
        "component": ["driver tire", "axle"],
        "action": ["cut", "renewed"],
        "position": ["driver 1 left, driver 1 right", "driver 3"],
        "parts": [2, 1],
        "point": ["T-1L", "A-3"],
    }
)


def defects(*rows):
    frame = pd.DataFrame(rows, columns=["component", "position", "defect", "verdict"])
    return frame.assign(part_no="", place="fillet", date=pd.Timestamp("2020-01-02"))


def told(*rows):
    names = ["component", "action", "position", "origin", "state", "cost", "parts"]
    return (
        pd.DataFrame(rows, columns=names)
        .reindex(columns=COLUMNS)
        .assign(currency="", trade="", who="", note="")
    )


def lines(*more):
    scope = scope_of_opening(PLANNED, *more)
    return scope[["component", "action", "position", "origin", "state"]].to_numpy().tolist()


def test_a_defect_is_a_line_of_its_own_unless_the_plan_renews_that_part():
    found = defects(
        ("axle", "driver 1", "crack", "repair"),
        ("axle", "driver 1", "crack", "renew"),  # the heavier verdict of one part counts
        ("Axle", "Driver 3", "crack", "renew"),  # renewed anyway
        ("axle", "driver 2", "scored", "run_on"),
        ("driver tire", "driver 1 left", "loose", "repair"),  # a cut puts no tire tight
    )
    assert lines(found, told())[2:] == [
        ["axle", "renewed", "driver 1", "found", "open"],
        ["driver tire", "repaired", "driver 1 left", "found", "open"],
    ]


def test_what_is_told_says_where_a_line_stands_and_adds_others():
    more = told(
        ("axle", "Renewed", "driver 3", "planned", "done", 900.0, None),
        ("guide", "renewed", "left, right", "added", "open", None, None),
    )
    scope = scope_of_opening(PLANNED, defects(), more)
    assert scope["state"].tolist() == ["open", "done", "open"]
    assert scope["parts"].tolist() == [2, 1, 2]
    assert scope["cost"].tolist()[1] == 900


def test_without_a_plan_and_findings_there_is_no_line():
    assert scope_of_opening(PLANNED.iloc[:0], defects(), told()).empty


def test_work_on_record_at_every_position_of_a_line_makes_it_done():
    def states(*work):
        found = defects(("guide", "left", "crack", "renew"))  # found on 2 January 2020
        scope = scope_of_opening(PLANNED, found, told())
        rows = pd.DataFrame(work, columns=["component", "position", "action", "date"])
        return done_by_work(scope, rows.assign(date=pd.to_datetime(rows["date"])))["state"].tolist()

    left, right = (("driver tire", f"driver 1 {side}", "cut", "2020-02-01") for side in ("left", "right"))
    assert states() == ["open"] * 3
    assert states(left) == ["open"] * 3
    assert states(left, right) == ["done", "open", "open"]
    assert states(left, (*right[:2], "renewed", "2020-02-03")) == ["done", "open", "open"]
    assert states(("axle", "driver 3", "cut", "2020-02-01")) == ["open"] * 3  # a cut is no renewal
    assert states(("guide", "left", "renewed", "2020-01-01")) == ["open"] * 3  # found cracked after it
    assert states(("Guide", "Left", "renewed", "2020-01-05")) == ["open", "open", "done"]
