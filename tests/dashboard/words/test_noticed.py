"""What the readings of a batch say, in words."""

import pandas as pd
import pytest
from scipy import stats

from dashboard.words.noticed import left_out_words, noticed_lines
from dashboard.words.units_shown import RailwayUnits
from ingest.verdicts.remeasure import AGAIN, CONFIRMED


def marked(**changes):
    row = {
        "point": "A-1", "date": pd.Timestamp("2026-05-02"), "value": 0.9, "unit": "in", "expected": 1.0,
        "expected_sd": 0.25, "state": AGAIN, "new": True,
    }  # fmt: skip
    return row | changes


def test_the_range_expected_holds_8_of_10_readings():
    low, high = stats.norm.interval(0.8, 1.0, 0.25)
    text = "\n".join(noticed_lines(pd.DataFrame([marked()]), pd.DataFrame(), "", RailwayUnits()))
    assert f"read 0.9 in, expected {low:.4g} to {high:.4g} in 8 times in 10; measure it a second" in text


@pytest.mark.parametrize(
    ("state", "new", "head"),
    [
        (AGAIN, True, "Measure again, stored"),
        (CONFIRMED, True, "Far from what the last forecast expected, but settled"),
        (CONFIRMED, False, "Settled by this batch"),
    ],
)
def test_a_reading_stands_under_what_became_of_it(state, new, head):
    lines = noticed_lines(pd.DataFrame([marked(state=state, new=new)]), pd.DataFrame(), "", RailwayUnits())
    assert len(lines) == 2
    assert lines[0].strip().startswith(head)


def test_more_than_eight_are_counted():
    lines = noticed_lines(pd.DataFrame([marked()] * 11), pd.DataFrame(), "", RailwayUnits())
    assert len(lines) == 10
    assert lines[-1] == "  and 3 more"


def test_what_was_too_much_names_the_command_that_does_it():
    assert "more than 20,000 wear points: 'milesleft checks --vehicle'" in left_out_words("checks", 20_000)
    assert "'milesleft forecast' does the one" in left_out_words("all", 20_000)
    assert left_out_words("", 20_000) == ""
