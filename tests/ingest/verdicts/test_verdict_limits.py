"""Where a verdict turns: rows just within and just beyond what is plausible, and what is said of them."""

import pytest

READINGS = "point,date,value,unit,odometer\n"
DIAMETER = """point,vehicle,component,quantity,unit,new_value,condemning_limit
DIA,410,driver,diameter,in,70,66
"""
LOG = "vehicle,date,odometer,unit,event\n"


def reasons(report) -> list[str]:
    """What is said of each row, "" for one that was accepted."""
    assert set(report.verdicts["verdict"]) <= {"accepted", "held back"}
    return report.verdicts["reasons"].tolist()


def test_two_readings_of_a_day_may_differ_by_what_two_readings_of_that_gauge_differ(add, known):
    """The gauge's standard deviation is 0.01 in, that of a difference 0.0141 in, three of these 0.0424 in."""
    rows = "HOLLOW,2001-02-01,0.100,,\nHOLLOW,2001-02-01,0.140,,\n"
    rows += "HOLLOW,2001-03-01,0.100,,\nHOLLOW,2001-03-01,0.143,,\n"
    said = reasons(add(readings=READINGS + rows))
    assert said[:2] == ["", ""]
    asked = "several readings on this sheet, such as HOLLOW of 2001-03-01: 0.100 in, 0.143 in"
    assert [asked in text for text in said[2:]] == [True, True]


def test_without_a_gauge_two_readings_of_a_day_may_differ_by_a_twentieth_of_the_way_to_the_limit(add, known):
    rows = "DIA,2001-02-01,68,,\nDIA,2001-02-01,68.19,,\nDIA,2001-03-01,68,,\nDIA,2001-03-01,67.79,,\n"
    said = reasons(add(wear_points=DIAMETER, readings=READINGS + rows))
    assert said[:3] == [""] * 3
    asked = "several readings on this sheet, such as DIA of 2001-03-01"
    assert [asked in text for text in said[3:]] == [True, True]


def test_a_value_far_below_what_the_point_can_be_is_held_back_as_one_far_above_is(add, known):
    """New 70 in, limit 66 in: beyond 62 and 72 in it is a slip of the pen."""
    rows = "DIA,2001-02-01,64,,\nDIA,2001-03-01,6.8,,\nDIA,2001-04-01,63.9,,\nDIA,2001-05-01,73,,\n"
    said = reasons(add(wear_points=DIAMETER, readings=READINGS + rows))
    far = "value: the value is far outside what this point can be, from 62 to 72 in (new 70 in, limit 66 in)"
    assert [text.partition(";")[0] for text in said] == ["", "", far, "", far]


def test_only_where_new_is_zero_may_a_reading_lie_a_little_below_zero(add, known):
    rows = "HOLLOW,2001-02-01,-0.07,,\nHOLLOW,2001-03-01,-0.09,,\nTHICK,2001-03-01,-0.01,,\n"
    said = reasons(add(readings=READINGS + rows))
    assert said == ["", "value: the value is negative", "value: the value is negative"]


def test_an_odometer_may_be_a_days_run_off_the_log_and_no_more_on_either_side(add, known):
    rows = "HOLLOW,2001-06-20,0.1,,11250\nHOLLOW,2001-06-21,0.1,,11350\n"
    rows += "HOLLOW,2001-01-15,0.1,,9750\nHOLLOW,2001-01-16,0.1,,9650\n"
    said = reasons(add(readings=READINGS + rows))
    odd = "odometer: the odometer does not fit the mileage log: "
    odd += "it stood at 10,000 mi before and 11,000 mi after"
    assert said == ["", odd, "", odd]


def test_an_entry_of_the_log_that_goes_back_by_more_than_rounding_is_held_back(add, known):
    said = reasons(add(mileage=LOG + "410,2001-07-02,10999.6,mi,\n410,2002-01-03,11995,mi,\n"))
    assert said[0] == ""
    assert (
        "does not fit the entries around it: 12,000 mi on 2002-01-01 (mileage.csv, row 4) before" in said[1]
    )


def test_an_entry_of_the_log_may_gain_a_thousand_miles_a_day_and_no_more(add, known):
    said = reasons(add(mileage=LOG + "410,2002-01-03,13990,mi,\n410,2002-01-04,15100,mi,\n"))
    assert said[0] == ""
    assert "does not fit the entries around it: 13,990 mi on 2002-01-03" in said[1]


def test_an_odometer_rolls_over_only_where_its_last_figure_was_near(add, known, store):
    """From 12,000 to 50 would be 88,050 miles in two days."""
    words = "an odometer that rolled over passes its last figure; the entry before it does not fit that"
    far = add(mileage=LOG + "410,2002-01-03,50,mi,rolled_over\n")
    assert reasons(far) == [f"event: {words}"]
    near = add(mileage=LOG + "410,2002-06-01,99900,mi,\n410,2002-06-02,40,mi,rolled_over\n")
    assert reasons(near) == ["", ""]
    assert store.read("mileage")["odometer"].tolist()[-2:] == [99_900, 100_040]


def test_an_odometer_that_rolled_over_shows_less_than_before(add, known):
    """From 12,000 past 99,999 to 12,500 would be 100,500 miles in 151 days, 666 a day."""
    words = "an odometer that rolled over passes its last figure; the entry before it does not fit that"
    assert reasons(add(mileage=LOG + "410,2002-06-01,12500,mi,rolled_over\n")) == [f"event: {words}"]
    assert reasons(add(mileage=LOG + "410,2002-06-01,11500,mi,rolled_over\n")) == [""]


def test_an_odometer_in_km_rolls_over_at_the_last_figure_of_its_km(add, basics, store):
    log = LOG + "410,2001-01-01,99900,km,\n410,2001-01-02,61,km,rolled_over\n"
    assert reasons(add(**basics | {"mileage": log})) == [""] * 6
    assert store.read("mileage")["odometer"].diff().iloc[1] == pytest.approx(161 / 1.609344)
