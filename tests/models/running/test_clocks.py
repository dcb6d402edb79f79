"""Inspections by service days and by the calendar: dates that can be counted on the fingers."""

import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.catalogue import clocks as catalogue_clocks
from models.running.ahead import usage_ahead, usage_plan
from models.running.clocks import due_dates, service_days_on_record

AS_OF = pd.Series({"M1": pd.Timestamp("2025-06-28")})  # the last entry of the log


def day(text):
    return pd.Timestamp(text)


def log(*rows):
    table = pd.DataFrame(rows, columns=["date", "odometer", "service_days"])
    return table.assign(vehicle="M1", date=pd.to_datetime(table["date"]))


# Ten miles to the service day, thirty days a month from May to September, every year.
SEASONS = log(
    *[
        (f"{year}-{month:02d}-28", 1000.0 + ((year - 2020) * 5 + month - 4) * 300.0, 30.0)
        for year in range(2020, 2026)
        for month in range(5, 10)
        if (year, month) <= (2025, 6)
    ]
)
USAGE = pd.DataFrame(
    [("M1", f"{year}-{month:02d}-01", 300.0, 30.0) for year in (2025, 2026, 2027) for month in range(5, 10)],
    columns=["vehicle", "month", "miles_planned", "miles_sd"],
).assign(month=lambda table: pd.to_datetime(table["month"]))


def ahead(months=36, mileage=SEASONS, as_of=AS_OF):
    return usage_ahead(usage_plan(USAGE, mileage, as_of, months), as_of)


def clock(name="31", service_days=None, days=None, months=None):
    return pd.DataFrame(
        {"clock": [name], "title": name, "service_days": [service_days], "days": [days], "months": [months]}
        | {"citation": "49 CFR", "note": ""}
    ).astype({"service_days": float, "days": float, "months": float})


def done(date, name="31"):
    return pd.DataFrame({"vehicle": ["M1"], "clock": [name], "date": [day(date)]})


def due(clocks, last, mileage=SEASONS, months=36, as_of=None):
    as_of = pd.Series({"M1": as_of or mileage["date"].max()})
    return due_dates(clocks, last, mileage, ahead(months, mileage, as_of), as_of).iloc[0]


def test_service_days_are_counted_from_the_log_and_carried_on_by_the_plan():
    row = due(clock(service_days=40), done("2025-05-28"))
    assert row["service_days_since"] == 30.0  # the entry of 28 June
    assert row["service_days_left"] == 10.0
    # Thirty a month: two in the last two days of June, the eighth of July's is 8/30 of 31 days on.
    assert row["due"] == day("2025-07-09")
    assert (row["decided_by"], row["state"]) == ("service days", "to come")


def test_what_stands_through_the_winter_falls_due_in_the_next_season():
    # 95 after 28 June: the season gives 92 more, the rest comes in May.
    row = due(clock(service_days=95), done("2025-06-28"))
    assert row["service_days_since"] == 0.0
    assert row["due"].to_period("M") == pd.Period("2026-05", "M")


def test_the_calendar_runs_also_when_nothing_runs():
    row = due(clock(days=368), done("2024-07-10"))
    assert row["due"] == day("2025-07-13")
    assert row["decided_by"] == "calendar"
    row = due(clock(months=180), done("2012-02-29"))
    assert row["due"] == day("2027-02-28")


def test_whichever_comes_first():
    # 780 service days are on the log, 150 a season follow: 1,472 in 2029, a hundred months in 2028.
    row = due(clock(service_days=1472, months=100), done("2020-05-28"), months=120)
    assert row["service_days_since"] == 780.0
    assert row["due"] == day("2028-09-28")
    assert row["decided_by"] == "calendar"
    assert (
        due(clock(service_days=1472, months=180), done("2020-05-28"), months=120)["decided_by"]
        == "service days"
    )
    row = due(clock(service_days=100, months=180), done("2025-05-28"))
    assert row["decided_by"] == "service days"


def test_a_clock_that_has_run_out_is_overdue_now():
    row = due(clock(service_days=31), done("2025-04-30"))  # 60 since
    assert (row["state"], row["due"], row["service_days_left"]) == ("overdue", AS_OF["M1"], -29.0)
    row = due(clock(days=368), done("2024-01-01"))
    assert (row["state"], row["due"]) == ("overdue", AS_OF["M1"])


def test_an_overdue_clock_says_since_when():
    row = due(clock(service_days=31), done("2025-04-30"))  # 30 on 28 May, 60 on 28 June
    assert (row["overdue_since"], row["decided_by"]) == (day("2025-06-28"), "service days")
    row = due(clock(service_days=31), done("2024-04-30"))  # 60 on 28 June of the year before
    assert row["overdue_since"] == day("2024-06-28")
    row = due(clock(service_days=400, days=368), done("2024-01-01"))
    assert (row["overdue_since"], row["decided_by"]) == (day("2025-01-03"), "calendar")
    row = due(clock(service_days=31, days=368), done("2024-01-01"))
    assert (row["overdue_since"], row["decided_by"]) == (day("2024-06-28"), "service days")
    assert pd.isna(due(clock(days=368), done("2025-01-01"))["overdue_since"])


def test_on_the_day_the_last_service_day_is_accrued_it_is_due():
    # 230.14: after the locomotive has accrued 31 service days.
    row = due(clock(service_days=30), done("2025-05-28"))
    assert (row["state"], row["service_days_left"]) == ("overdue", 0.0)


def test_an_inspection_that_is_not_on_record_is_said_to_be_missing():
    row = due(clock(service_days=31), done("2025-05-28", "another"))
    assert row["state"] == "last one not on record"
    assert pd.isna(row["due"])


def test_an_inspection_after_as_of_does_not_count():
    both = pd.concat([done("2025-05-28"), done("2025-07-15")])
    assert due(clock(service_days=40), both)["last_done"] == day("2025-05-28")


def test_an_entry_that_spans_the_inspection_counts_whole():
    row = due(clock(service_days=100), done("2025-06-10"))
    assert row["service_days_since"] == 30.0


def test_before_the_log_begins_and_after_it_ends_its_own_pace_counts():
    mileage = log(("2025-01-01", 0.0, 0.0), ("2025-01-21", 100.0, 10.0))  # one service day in two
    late = day("2025-06-30")
    since = due(clock(service_days=500), done("2024-12-22"), mileage, as_of=late)
    # Ten days before it, 160 from 21 January to 30 June: 170/2 and the ten on record.
    assert since["service_days_since"] == 95.0
    assert "estimated carefully" in since["note"]
    assert due(clock(service_days=500), done("2025-06-20"), mileage, as_of=late)["service_days_since"] == 5.0


def test_half_a_service_day_outside_the_log_counts_as_a_whole_one():
    mileage = log(("2025-01-01", 0.0, 0.0), ("2025-01-21", 100.0, 10.0))  # one service day in two
    row = due(clock(service_days=500), done("2025-01-21"), mileage, as_of=day("2025-02-02"))
    assert row["service_days_since"] == 6.0
    row = due(clock(service_days=500), done("2025-01-21"), mileage, as_of=day("2025-02-03"))
    assert row["service_days_since"] == 7.0


def test_without_usage_ahead_no_date_is_invented():
    nothing = log(("2025-01-01", 100.0, 0.0), ("2025-06-01", 100.0, 0.0))
    plan = usage_ahead(usage_plan(USAGE.iloc[:0], nothing, AS_OF, 12), AS_OF)
    row = due_dates(clock(service_days=31), done("2025-01-01"), nothing, plan, AS_OF).iloc[0]
    assert row["state"] == "due date not known"


def test_service_days_that_are_missing_are_estimated_from_the_logs_own_days_to_the_mile():
    mileage = log(("2025-04-01", 0.0, None), ("2025-05-01", 100.0, 10.0), ("2025-06-01", 255.0, None))
    table = service_days_on_record(mileage)
    # 10 days for 100 miles; 155 miles are 15.5: sixteen. The first entry has nothing before it.
    assert table["service_days"].tolist() == [0.0, 10.0, 16.0]
    assert table["guessed"].tolist() == [False, False, True]
    row = due(clock(service_days=31), done("2025-05-15"), mileage)
    assert row["service_days_since"] == 16.0
    assert "estimated carefully" in row["note"]


def test_where_the_log_tells_none_every_calendar_day_counts():
    mileage = log(("2025-05-01", 0.0, None), ("2025-05-21", 100.0, None), ("2025-05-30", 100.0, None))
    assert service_days_on_record(mileage)["service_days"].tolist() == [0.0, 20.0, 0.0]


@settings(deadline=None)
@given(st.lists(st.integers(0, 400), min_size=2, max_size=8), st.lists(st.booleans(), min_size=8, max_size=8))
def test_what_is_missing_never_makes_a_clock_run_slower_than_miles_say(runs, known):
    odometer = pd.Series(runs).cumsum().astype(float)
    dates = pd.date_range("2024-01-01", periods=len(runs), freq="60D")
    full = pd.DataFrame(
        {"vehicle": "M1", "date": dates, "odometer": odometer, "service_days": pd.Series(runs) / 10.0}
    )
    holes = full.assign(service_days=full["service_days"].where(pd.Series(known[: len(runs)])))
    counted, whole = service_days_on_record(holes)["service_days"], full["service_days"].clip(upper=60)
    some = holes["service_days"].iloc[1:].gt(0).any() and holes["odometer"].diff().gt(0).any()
    if some:
        assert (counted.iloc[1:] >= whole.iloc[1:] - 1e-9).all()


def test_the_soonest_comes_first_and_every_clock_of_the_law_has_a_row():
    table = due_dates(catalogue_clocks(), done("2025-06-01", "annual"), SEASONS, ahead(), AS_OF)
    assert sorted(table["clock"]) == sorted(catalogue_clocks()["clock"])
    annual = table.set_index("clock").loc["annual"]
    assert annual["due"] == day("2026-06-04")
    assert annual["source"] == "49 CFR 230.16(a)(1)"
    assert table["state"].tolist()[:5] == ["last one not on record"] * 5


def test_tubes_and_flues_fall_due_at_fifteen_years():
    # Common practice, no source.
    table = due_dates(catalogue_clocks(), done("2015-09-01", "tubes and flues"), SEASONS, ahead(), AS_OF)
    row = table.set_index("clock").loc["tubes and flues"]
    assert row["due"] == day("2030-09-01")
    assert row["source"] == "common practice, no source"
