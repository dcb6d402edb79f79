"""Which plan holds, and what a new plan is kept as."""

import pandas as pd
import pytest

from dashboard.services.plan_state import run_in_force, state_of_new, with_state


def about(risk=0.05, *, vehicles=("A", "B"), now=(), usage=1.0, **more):
    rules = {"risk": risk, "now": list(now)}
    return {"vehicles": list(vehicles), "rules": rules, "usage": usage, "turning": "early"} | more


def plans(*runs, decided=()):
    """Plans newest first; ``decided``: run and state, newest first."""
    frame = pd.DataFrame(
        {"run_id": [run for run, _ in runs], "about": [said for _, said in runs], "made_at": pd.Timestamp(0)}
    )
    rows = [(len(decided) - i, run, state, "R. T.", "") for i, (run, state) in enumerate(decided)]
    return with_state(frame, pd.DataFrame(rows, columns=["decision_id", "run_id", "state", "who", "note"]))


def test_the_approved_plan_holds_else_the_newest_proposed_and_never_a_what_if():
    runs = [("what if", about(now=["X"])), ("newer", about()), ("older", about())]
    assert run_in_force(plans(*runs), "A") == "newer"
    assert run_in_force(plans(*runs, decided=[("older", "approved")]), "A") == "older"
    both = [("newer", "approved"), ("older", "approved")]
    assert run_in_force(plans(*runs, decided=both), "A") == "newer"  # the one approved last
    assert run_in_force(plans(*runs, decided=[("newer", "withdrawn"), *both]), "A") == "older"
    assert run_in_force(plans(runs[0]), "A") is None
    assert run_in_force(plans(("of B", about(vehicles=["B"])), runs[2]), "A") == "older"


@pytest.mark.parametrize(
    ("said", "state"),
    [
        (about(), "proposed"),
        (about(years=3), "proposed"),
        (about(0.1), "what_if"),
        (about(now=["X"]), "what_if"),
        (about(usage=1.5), "what_if"),
        (about(turning="only at the limit"), "what_if"),
    ],
)
def test_a_plan_asked_for_otherwise_than_the_one_that_holds_is_a_what_if(said, state):
    assert state_of_new(said, plans(("held", about()))) == state


def test_the_first_plan_is_proposed_whatever_its_risk():
    assert state_of_new(about(0.2), plans()) == "proposed"
