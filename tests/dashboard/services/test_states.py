"""How near its limit: by the careful date, and never hopeful where something is missing."""

import pandas as pd
import pytest

from dashboard.services.states import with_careful_date, with_state

AS_OF = pd.Timestamp("2026-10-31")


def forecast(**changes):
    row = {
        "point": "Q1",
        "last_value": 2.0,
        "vehicle": "Quillon",
        "as_of": AS_OF,
        "as_of_odometer": 5000.0,
        "miles_p05": 1000.0,
        "miles_p50": 3000.0,
        "p_beyond_now": 0.01,
        "date_p05": pd.Timestamp("2027-07-01"),
    }
    return pd.DataFrame([row | changes])


POINTS = pd.DataFrame(
    {
        "point": ["Q1"],
        "new_value": [3.5 * 25.4],
        "shop_limit": [float("nan")],
        "condemning_limit": [1.5 * 25.4],
        "condemned_when": ["at"],
        "per_base": [1 / 25.4],
    }
)
"""A tire, in inches: new 3.5, limit 1.5."""


@pytest.mark.parametrize(
    ("changes", "state"),
    [
        ({}, "year"),
        ({"date_p05": AS_OF + pd.DateOffset(years=1, days=-1)}, "year"),
        ({"date_p05": pd.Timestamp("2027-11-02")}, "three"),
        ({"date_p05": pd.Timestamp("2029-11-02")}, "later"),
        ({"p_beyond_now": 0.5}, "past"),
        ({"p_beyond_now": 0.49}, "year"),
        ({"miles_p50": float("nan")}, "unknown"),
        ({"miles_p50": float("nan"), "p_beyond_now": 0.9}, "unknown"),
        ({"last_value": 1.5}, "past"),  # whatever the forecast makes of it
        ({"last_value": 1.5, "miles_p50": float("nan")}, "past"),
        ({"last_value": 33.3, "date_p05": pd.Timestamp("2029-11-02")}, "implausible"),
        ({"last_value": 33.3}, "year"),  # never less urgent than the forecast
        ({"last_value": float("nan")}, "year"),
        ({"date_p05": pd.NaT}, "unknown"),  # a vehicle without any date: nothing can be said of seasons
    ],
)
def test_state_of_a_wear_point(changes, state):
    assert with_state(forecast(**changes), POINTS)["state"].tolist() == [state]


def test_miles_that_planned_usage_never_runs_come_late_where_the_vehicle_has_dates():
    both = pd.concat([forecast(), forecast(date_p05=pd.NaT, miles_p05=9e5)], ignore_index=True)
    assert with_state(both, POINTS)["state"].tolist() == ["year", "later"]


def usage(miles=100.0):
    months = pd.date_range("2026-11-01", "2031-12-01", freq="MS")
    return pd.DataFrame({"vehicle": "Quillon", "month": months, "miles_planned": miles, "miles_sd": 0.0})


MILEAGE = pd.DataFrame(
    {"vehicle": ["Quillon"], "date": [AS_OF], "odometer": [5000.0], "service_days": [float("nan")]}
)


def test_the_careful_date_is_when_planned_usage_has_run_the_careful_miles():
    made = forecast(miles_p05=1000.0, miles_p50=1000.0).drop(columns="date_p05")
    found = with_careful_date(made, usage(), MILEAGE)["date_p05"].iloc[0]
    assert found == pd.Timestamp("2027-09-01")  # 100 miles a month from 1 November: ten whole months


def test_what_was_run_since_the_last_entry_of_the_log_is_not_run_again():
    """The engine was read in February; by the log it stood at 5,000 mi since October, by its plan it ran."""
    late = pd.Timestamp("2027-02-28")
    made = forecast(miles_p05=1000.0, miles_p50=1000.0, as_of=late).drop(columns="date_p05")
    assert with_careful_date(made, usage(), MILEAGE)["date_p05"].iloc[0] == pd.Timestamp("2027-09-01")
    at_limit = made.assign(miles_p05=100.0, miles_p50=100.0)
    assert with_careful_date(at_limit, usage(), MILEAGE)["date_p05"].iloc[0] == late
    noted = made.assign(as_of_odometer=5400.0)
    assert with_careful_date(noted, usage(), MILEAGE)["date_p05"].iloc[0] == pd.Timestamp("2028-01-01")


def test_without_usage_and_log_there_is_no_date():
    made = forecast().drop(columns="date_p05")
    found = with_careful_date(made, usage().head(0), MILEAGE.head(0))
    assert found["date_p05"].isna().all()


def test_a_forecast_that_has_the_date_keeps_it():
    made = forecast()
    assert with_careful_date(made, usage(), MILEAGE) is made
