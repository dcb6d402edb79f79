"""Units that people see: the value never changes its meaning, and no figure promises more than it holds."""

import math

import pandas as pd
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from dashboard.words.checks_text import finding_head
from dashboard.words.units_shown import DISTANCES, LENGTHS, Units, in_units, railway_units


@pytest.mark.parametrize(
    ("length", "value", "own", "shown"),
    [
        ("sheet", 2.46875, "in", "2.4688 in"),  # 2 15/32 in: three decimals would make it another value
        ("sheet", 0.3125, "in", "0.3125 in"),
        ("sheet", 1.375, "in", "1.375 in"),
        ("sheet", 0.08, "in", "0.080 in"),
        ("sheet", 0.125 + 1e-9, "in", "0.125 in"),
        ("64ths", 2.46875, "in", "158.0/64 in"),
        ("mm", 1.0, "in", "25.40 mm"),  # 25.4 mm to the inch, exact since 1959
        ("in", 12.0, "thou", "0.012 in"),
        ("mm", 55.0, "%", "55.000 %"),  # no length: stays what it is
        ("mm", float("nan"), "in", "–"),
        ("sheet", -0.0001, "in", "0.000 in"),
    ],
)
def test_a_value_with_its_unit(length, value, own, shown):
    assert Units(length).text(value, own) == shown


@pytest.mark.parametrize(
    ("distance", "miles", "shown"),
    [
        ("mi", 82.9, "82 mi"),
        ("mi", 347.0, "340 mi"),
        ("mi", 3499.0, "3,400 mi"),  # never rounded up: a forecast must not grow by being shown
        ("mi", 48_211.0, "48,000 mi"),
        ("km", 1000.0, "1,600 km"),
        ("mi", -5.0, "0 mi"),
        ("mi", float("nan"), "–"),
    ],
)
def test_a_remaining_distance_has_the_figures_it_deserves(distance, miles, shown):
    assert Units(distance=distance).distance_text(miles) == shown


@given(st.floats(0, 5e6))
@example(14_600.0)
def test_what_stands_on_a_wheel_is_short_and_never_hopeful(miles):
    text = Units().short(miles)
    assert len(text) <= 5
    number = 0.0 if text == "now" else float(text.rstrip("k")) * (1000 if text.endswith("k") else 1)
    assert number <= miles + 1e-6


@given(
    st.floats(-100, 100),
    st.sampled_from(sorted(LENGTHS)),
    st.sampled_from(["in", "mm", "thou", "1/64 in", "%"]),
)
def test_what_is_typed_in_the_shown_unit_comes_back_in_the_own(value, length, own):
    units = Units(length)
    assert units.own(units.value(value, own), own) == pytest.approx(value, abs=1e-9)


@given(st.floats(0, 1e6), st.sampled_from(sorted(DISTANCES)))
def test_an_odometer_is_shown_in_full(miles, distance):
    shown = Units(distance=distance).odometer_text(miles)
    number = float(shown.removesuffix(f" {distance}").replace(",", ""))
    factor = 1.609344 if distance == "km" else 1.0  # international mile of 1959
    assert math.isclose(number, miles * factor, abs_tol=0.51)


def test_a_forecast_in_the_units_chosen_promises_no_more_figures_than_it_holds():
    forecast = pd.DataFrame(
        {
            "unit": ["in", "mm"],
            "last_value": [0.28, 7.0],
            "condemning_limit": [0.3125, float("nan")],
            "miles_p05": [1234.5, float("nan")],
            "miles_p50": [-20.0, 30_456.0],
        }
    )
    shown = in_units(forecast, Units("mm", "km"))
    assert shown["last_value"].tolist() == ["7.11 mm", "7.00 mm"]
    assert shown["condemning_limit"].tolist() == ["7.94 mm", "–"]
    assert shown["miles_p05"].iloc[0] == 1900  # 1,986.7 km, down to hundreds
    assert pd.isna(shown["miles_p05"].iloc[1])
    assert shown["miles_p50"].tolist() == [0, 49_000]


def test_what_is_said_of_an_engine_is_in_its_own_unit_whatever_most_of_the_railway_has():
    points = pd.DataFrame(
        {
            "vehicle": ["Metric", "Metric", "Metric", "Inch", "Inch", "Bare"],
            "unit": ["mm", "mm", "mm", "in", "1/64 in", "psi"],
        }
    )
    finding = {
        "check": "same axle diameters", "position": "driver 1", "points": "", "bound": "max",
        "found": 4.7625, "limit": 2.38125, "base_unit": "mm",
    }  # fmt: skip
    said = {
        vehicle: finding_head({**finding, "vehicle": vehicle}, railway_units(points)).split(": ")[1]
        for vehicle in ("Metric", "Inch", "Bare")
    }
    assert said == {
        "Metric": "4.76 mm (max 2.38 mm)",
        "Inch": "0.1875 in (max 0.0938 in)",
        "Bare": "4.76 mm (max 2.38 mm)",
    }
    chosen = railway_units(points, Units("mm"))
    assert finding_head({**finding, "vehicle": "Inch"}, chosen).endswith("4.76 mm (max 2.38 mm)")
