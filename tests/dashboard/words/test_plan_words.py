"""What a plan says of its lines: why not later, why not sooner; what it changes."""

import numpy as np
import pandas as pd

from dashboard.words.plan_words import NO_SOONER, beside_reason, changed_words, stops_words, why_not
from models.plan.reasons import reasons

WINDOWS = pd.DataFrame({"vehicle": "A", "window": [1, 2, 3], "label": ["W1", "W2", "W3"]})


def scope_of(*rows):
    names = ["job", "window", "later_cost", "later_risk", "sooner_cost", "sooner_risk", "kind", "reason"]
    return pd.DataFrame(rows, columns=names).assign(vehicle="A")


def test_each_line_says_why_not_later_and_why_not_sooner():
    lines = scope_of(
        ("first", 1, 250.0, 0.17, np.nan, np.nan, "limit", "left until W2 it would cost 250 more and so on"),
        ("middle", 2, -40.0, 0.001, 90.0, -0.02, "with_others", "while the rods are down"),
        ("last", 3, np.nan, np.nan, np.nan, np.nan, "with_others", "while the rods are down"),
        ("twice", 1, np.nan, np.nan, np.nan, np.nan, "limit", "its limit"),
        ("twice", 2, 0.2, 0.0, np.nan, np.nan, "limit", "its limit"),
    )
    said = why_not(lines, WINDOWS)
    assert said["not_later"].tolist() == [
        "in W2 it would cost 250 more and stop the engine 17 times in 100",
        "in W3 it would cost 40 less",
        "no window comes later in the years planned",
        "in W2 it is done anyway",
        "in W3 it would cost the same",
    ]
    assert said["not_sooner"].tolist() == [
        NO_SOONER,
        "in W1 it would cost 90 more and stop the engine 2 times in 100 less",
        "it cannot be had or done by W2",
        NO_SOONER,
        "in W1 it is done anyway",
    ]
    shown = beside_reason(lines.join(said))
    assert shown["not_later"].iloc[0] == ""  # its reason says it
    assert shown["not_later"].iloc[1] == "in W3 it would cost 40 less"
    assert shown["not_sooner"].iloc[0] == ""


def test_what_a_reason_says_after_another_is_not_said_again():
    reason = "while the rods are down anyway; left until W3 it would cost 40 more; matched set of 8"
    lines = scope_of(
        ("set", 2, 40.0, 0.0, 90.0, 0.0, "with_others", reason),
        ("waits", 1, 40.0, 0.0, 90.0, 0.0, "with_others", "while the rods are down; it could wait until W3"),
    )
    shown = beside_reason(lines.join(why_not(lines, WINDOWS)))
    assert shown["not_later"].tolist() == ["", "in W2 it would cost 40 more"]


def test_an_inspection_waits_for_nothing_and_a_plan_of_before_says_nothing():
    lines = scope_of(("annual", 1, 0.0, 0.0, np.nan, np.nan, "inspection", "inspection due by 2027-04-25"))
    said = why_not(lines, WINDOWS)
    assert said["not_later"].tolist() == ["inspection due by 2027-04-25"]
    assert beside_reason(lines.join(said))["not_later"].tolist() == [""]
    before = lines.drop(columns=["later_cost", "sooner_cost"])
    assert why_not(before, WINDOWS).to_numpy().tolist() == [["", ""]]


def test_changes_are_counted_where_a_plan_is_approved():
    changes = pd.DataFrame({"change": ["done", "sooner", "done", "dropped"]})
    assert changed_words(changes, "board 1") == (
        "Changed since the approved plan board 1: 1 sooner, 1 dropped, 2 done."
    )
    assert changed_words(changes.iloc[:0], "board 1") == "Changed since the approved plan board 1: nothing."
    assert changed_words(changes, "") == ""


def test_one_stop_in_100_is_one_time():
    lines = scope_of(("pin", 1, 250.0, 0.012, np.nan, np.nan, "limit", "its limit"))
    assert why_not(lines, WINDOWS)["not_later"].iloc[0].endswith("and stop the engine 1 time in 100")
    pin = {
        "window": 1, "depth": "in_place", "kind": "with_others", "matched_set": "", "parts": 1,
        "accepted": 0.25, "need": "should", "later_cost": 250.0, "later_risk": 0.012, "weighs_stops": True,
        "waits_until": 2,
    }  # fmt: skip
    assert reasons(pd.DataFrame([pin]), ["W1", "W2"])[0] == (
        "left until W2 it would cost 250 more and stop the engine 1 time in 100"
    )


def test_what_may_happen_before_the_first_window_is_said_beside_the_mean():
    rows = [(0, "Nov – Dec 2026", 0.58), (1, "May – Oct 2027", 0.01), (2, "May – Oct 2028", 0.2)]
    seasons = pd.DataFrame(rows, columns=["season", "label", "with_plan"])
    said = stops_words(seasons)
    assert "most often in May – Oct 2028, 2 times in 10." in said
    assert said.endswith("Before the first window, Nov – Dec 2026, 6 times in 10, whatever is planned.")
    assert "Before" not in stops_words(seasons.iloc[1:])


def test_a_line_whose_reason_is_its_limit_is_not_told_again_that_it_cannot_wait():
    lines = scope_of(
        ("pin", 1, np.nan, np.nan, np.nan, np.nan, "limit", "90 times in 100 it reaches its limit before W2"),
        ("box", 1, np.nan, np.nan, np.nan, np.nan, "with_others", "cheaper while it is open"),
    )
    said = lines.join(why_not(lines, WINDOWS))
    assert said["not_later"].tolist() == ["it cannot wait until W2"] * 2
    assert beside_reason(said)["not_later"].tolist() == ["", "it cannot wait until W2"]
