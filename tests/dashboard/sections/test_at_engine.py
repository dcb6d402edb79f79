"""A reading at the engine is judged at once, in the direction in which its part wears."""

from datetime import date

import pandas as pd
import pytest

from dashboard.sections.at_engine import as_file, expected_at, judge
from ingest.verdicts.remeasure import AGAIN, measure_again

MM = 25.4
HOLLOW = pd.Series(
    {
        "unit": "in",
        "per_base": 1 / MM,
        "new_value": 0.0,
        "shop_limit": 0.0625 * MM,
        "condemning_limit": 0.3125 * MM,  # 5/16 in
        "condemned_when": "at",
        "gauge_sd": 0.0,
    }
)
THICKNESS = HOLLOW.copy()
THICKNESS["new_value"], THICKNESS["shop_limit"] = 3.5 * MM, 2.25 * MM
THICKNESS["condemning_limit"], THICKNESS["condemned_when"] = 1.875 * MM, "beyond"


@pytest.mark.parametrize(
    ("point", "text", "value", "limit"),
    [
        (HOLLOW, "1/32", 0.03125, "within"),
        (HOLLOW, "1/16", 0.0625, "within"),  # at the shop limit it is still met
        (HOLLOW, "5/64", 0.078125, "shop"),
        (HOLLOW, "5/16", 0.3125, "past"),  # condemned at the limit itself
        (HOLLOW, "8 mm", 8 / MM, "past"),
        (HOLLOW, "12 thou", 0.012, "within"),
        (THICKNESS, "1 7/8", 1.875, "shop"),  # condemned beyond the limit only
        (THICKNESS, "1.874", 1.874, "past"),
        (THICKNESS, "3", 3.0, "within"),
        (THICKNESS, "33.3", 33.3, "implausible"),
        (HOLLOW, "-0.2", -0.2, "implausible"),
    ],
)
def test_against_the_limits(point, text, value, limit):
    judged = judge(text, point, None)
    assert judged.value == pytest.approx(value, abs=1e-12)
    assert judged.limit == limit
    assert not judged.again


def test_a_bare_number_is_in_the_unit_that_is_shown():
    assert judge("8", HOLLOW, None, unit="mm").value == pytest.approx(8 / MM)
    assert judge("20", HOLLOW, None, unit="1/64 in").value == pytest.approx(0.3125)


def test_what_cannot_be_read_says_why():
    judged = judge("see sheet 4", HOLLOW, None)
    assert judged.value is None
    assert "see sheet 4" in judged.problem


def test_far_from_what_was_expected_is_measured_again():
    assert judge("0.20", HOLLOW, (0.1, 0.01)).again
    assert not judge("0.139", HOLLOW, (0.1, 0.01)).again  # 3.9 standard deviations


def test_a_point_without_limit_says_so():
    unknown = HOLLOW.copy()
    unknown["condemning_limit"] = float("nan")
    assert judge("0.1", unknown, None).limit == "unknown"


PATH = pd.DataFrame(
    {"odometer": [0.0, 1000.0], "p10": [0.1, 0.2], "p50": [0.2, 0.4], "p90": [0.3, 0.6], "kind": "fitted"}
)


NORMAL_90 = 1.2815515655446004


def test_expected_lies_on_the_stored_path():
    middle, sd = expected_at(PATH, 500.0, HOLLOW)
    assert middle == pytest.approx(0.3)
    assert sd == pytest.approx(0.15 / NORMAL_90)  # half the 80 % band


def test_the_gauge_adds_its_own_spread():
    coarse = HOLLOW.copy()
    coarse["gauge_sd"] = 1.0 * MM
    assert expected_at(PATH, 500.0, coarse)[1] == pytest.approx((1 + (0.15 / NORMAL_90) ** 2) ** 0.5)


@pytest.mark.parametrize("odometer", [-1.0, 1001.0, float("nan")])
def test_beyond_the_path_nothing_is_expected(odometer):
    assert expected_at(PATH, odometer, HOLLOW) is None


@pytest.mark.parametrize("off", [3.9, 4.1])
def test_the_engine_and_the_stored_batch_say_the_same(off):
    """A reading that is to be taken again at the engine is marked once it is stored, and no other."""
    unsure = HOLLOW.copy()
    unsure["gauge_sd"] = float("nan")  # what is taken instead must be one figure too
    middle, sd = expected_at(PATH, 500.0, unsure)
    value = middle + off * sd
    here = judge(f"{value!r}", unsure, (middle, sd)).again
    row = pd.DataFrame(
        {"point": ["H"], "date": [pd.Timestamp("2001-01-01")], "value": [value * MM], "odometer": [500.0]}
    )
    stored = measure_again(row, PATH.assign(point="H"), pd.DataFrame([unsure]).assign(point="H"))
    assert here == (stored["state"].iloc[0] == AGAIN) == (off > 4)


def test_a_sitting_becomes_a_table_of_readings():
    kept = [
        {
            "point": "H-D1L",
            "value": "1 3/8",
            "unit": "in",
            "odometer": "",
            "gauge": "",
            "note": "",
            "where": "x",
        }
    ]
    text = as_file(kept, date(2026, 11, 25), "R. T.").decode()
    assert text.splitlines() == [
        "point,date,value,unit,odometer,gauge,note,observer",
        "H-D1L,2026-11-25,1 3/8,in,,,,R. T.",
    ]
