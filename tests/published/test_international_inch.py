"""Units against the published definitions.

[1] NIST Special Publication 811, 2008 edition, A. Thompson and B. N. Taylor, Guide for the Use of the
    International System of Units (SI), Appendix B.8: factors in bold are exact.
[2] 24 FR 5348, 1 July 1959, Refinement of Values for the Yard and the Pound: 1 yard = 0.9144 meter.
[3] Microsoft, DATEVALUE function: "January 1, 2008 is serial number 39448".
[4] IEEE Std 1003.1, strptime, %y: values 69-99 refer to 1969-1999, 00-68 to 2000-2068.
"""

import pandas as pd
import pytest

from ingest.notation.dates import parse_dates
from ingest.units import DISTANCE_MI, LENGTH_MM, to_base


@pytest.mark.parametrize(
    ("unit", "metres"),
    [("in", "0.0254"), ("ft", "0.3048"), ("yd", "0.9144"), ("thou", "2.54E-05"), ("µm", "1.0E-06")],
)
def test_lengths_of_sp_811(unit, metres):  # [1], and [2] for the yard
    assert LENGTH_MM[unit] == pytest.approx(float(metres) * 1000, rel=1e-15)


def test_mile_of_sp_811():
    assert 1 / DISTANCE_MI["km"] == pytest.approx(1.609344, rel=1e-15)  # [1], mile: 1.609 344 E+03 m
    assert to_base(1.609344, "km") == pytest.approx(1.0, rel=1e-15)


def test_day_number_of_a_spreadsheet():  # [3]
    assert parse_dates(pd.Series(["39448"]))["date"].iloc[0] == pd.Timestamp("2008-01-01")


@pytest.mark.parametrize(
    ("written", "year"), [("1 Jan 69", 1969), ("1 Jan 99", 1999), ("1 Jan 00", 2000), ("1 Jan 68", 2068)]
)
def test_two_digit_years(written, year):  # [4]
    assert parse_dates(pd.Series([written]))["date"].iloc[0].year == year
