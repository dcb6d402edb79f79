"""Miles by month ahead and the dates on which they are run."""

import numpy as np
import pandas as pd
import pytest

from models.running.ahead import dates_at, dates_with_spread, usage_ahead, usage_plan

NO_USAGE = pd.DataFrame(
    {"vehicle": pd.Series([], dtype=object), "month": pd.to_datetime([]), "miles_planned": [], "miles_sd": []}
)
NO_LOG = pd.DataFrame(
    {"vehicle": pd.Series([], dtype=object), "date": pd.to_datetime([]), "odometer": [], "service_days": []}
)


def log(*rows):
    return pd.DataFrame(rows, columns=["vehicle", "date", "odometer", "service_days"]).assign(
        date=lambda frame: pd.to_datetime(frame["date"])
    )


def usage(*rows):
    return pd.DataFrame(rows, columns=["vehicle", "month", "miles_planned", "miles_sd"]).assign(
        month=lambda frame: pd.to_datetime(frame["month"])
    )


def monthly_log(vehicle, years, miles_of, service=10.0):
    """A log with a row at the end of each month; miles_of(year, month) in the month."""
    rows, odometer = [], 1000.0
    for day in pd.date_range(f"{years[0]}-01-31", f"{years[-1]}-12-31", freq="ME"):
        run = miles_of(day.year, day.month)
        odometer += run
        rows.append((vehicle, day, odometer, service if run else 0.0))
    return log(*rows)


def test_planned_months_stand_as_planned_and_months_without_a_row_are_not_run():
    plan = usage_plan(
        usage(("A", "2027-05-01", 500, 50), ("A", "2027-06-01", 700, np.nan)),
        NO_LOG,
        pd.Timestamp("2026-12-31"),
        13,
    )
    assert plan["month"].iloc[[0, 12]].tolist() == [pd.Timestamp("2026-12-01"), pd.Timestamp("2027-12-01")]
    year = plan[plan["month"].dt.year == 2027]
    year = year.set_index(year["month"].dt.month)
    assert year.loc[5, ["miles", "miles_sd"]].tolist() == [500, 50]
    assert year.loc[6, "miles"] == 700
    assert year.loc[6, "miles_sd"] == pytest.approx(0.25 * 700)  # no spread stated: the prior's
    assert year.loc[[1, 2, 3, 4, 7, 8, 9, 10, 11, 12], "miles"].eq(0).all()
    assert set(year["source"]) == {"planned"}


def test_no_running_planned_cannot_come_out_otherwise():
    plan = usage_plan(usage(("A", "2027-03-01", 0, 100)), NO_LOG, pd.Timestamp("2026-12-31"), 13)
    assert plan["miles_sd"].iloc[1:].eq(0).all()


def test_mean_season_of_the_log_stands_in_for_years_without_a_plan():
    mileage = monthly_log(
        "A", range(2021, 2027), lambda year, month: 100.0 * month if 5 <= month <= 9 else 0.0
    )
    plan = usage_plan(NO_USAGE, mileage, pd.Timestamp("2026-12-31"), 25)
    season = plan.iloc[1:13].set_index(plan["month"].iloc[1:13].dt.month)
    assert season.loc[7, "miles"] == pytest.approx(700, rel=1e-9)
    assert season.loc[2, "miles"] == 0
    assert (plan["source"] == "from log").all()
    assert season.loc[7, "service_days"] == pytest.approx(700 * 50 / 3500)
    # Five equal seasons: only the prior's spread is left, with the weight of two seasons against five.
    assert season.loc[7, "miles_sd"] == pytest.approx(700 * 0.25 * np.sqrt(2 / 6))


def test_spread_comes_from_season_to_season():
    mileage = monthly_log(
        "A", range(2021, 2027), lambda year, month: (year - 2019) * 100.0 if month == 6 else 0.0
    )
    plan = usage_plan(NO_USAGE, mileage, pd.Timestamp("2026-12-31"), 8)
    june = plan[plan["month"].dt.month == 6].iloc[0]
    seasons = np.array([300, 400, 500, 600, 700.0])
    spread = np.sqrt((2 * 0.25**2 + ((seasons / 500 - 1) ** 2).sum()) / (2 + 4))
    assert june["miles"] == pytest.approx(500)
    assert june["miles_sd"] == pytest.approx(500 * spread)


def test_a_year_out_of_service_is_no_season():
    mileage = monthly_log("A", range(2021, 2027), lambda year, month: 0.0 if year == 2024 else 120.0)
    plan = usage_plan(NO_USAGE, mileage, pd.Timestamp("2026-12-31"), 13)
    assert plan["miles"].iloc[1:].to_numpy() == pytest.approx(np.full(12, 120.0))


def test_first_entry_after_a_lay_up_is_not_spread_over_it():
    rows = [("A", "2025-10-31", 1000.0, 8), ("A", "2026-05-03", 1100.0, 2), ("A", "2026-10-31", 4100.0, 60)]
    plan = usage_plan(NO_USAGE, log(*rows), pd.Timestamp("2026-10-31"), 8)
    by_month = plan.set_index(plan["month"].dt.month)["miles"]
    assert by_month[[1, 2, 3]].eq(0).all()
    assert by_month[[4, 5]].sum() > 100


def test_the_miles_of_an_entry_are_run_within_three_days_for_each_service_day():
    rows = [("A", "2025-10-31", 1000.0, 8), ("A", "2026-05-31", 1600.0, 20), ("A", "2026-10-31", 4600.0, 60)]
    plan = usage_plan(NO_USAGE, log(*rows), pd.Timestamp("2026-10-31"), 8)
    by_month = plan.set_index(plan["month"].dt.month)["miles"]
    assert by_month[[4, 5]].to_numpy() == pytest.approx([290.0, 310.0])  # 600 miles from 1 April on
    assert by_month[3] == pytest.approx(0.0)


def test_month_of_as_of_counts_its_days_left():
    half = usage_plan(usage(("A", "2027-06-01", 300, 0)), NO_LOG, pd.Timestamp("2027-06-15"), 1)
    assert half["miles"].tolist() == pytest.approx([150.0])
    full = usage_plan(usage(("A", "2027-06-01", 300, 0)), NO_LOG, pd.Timestamp("2027-06-30"), 1)
    assert full["miles"].tolist() == [0.0]


def test_plan_carries_on_where_there_is_no_log_and_nothing_is_invented_without_both():
    rows = [("A", f"2027-{m:02d}-01", 100.0 * (m == 7), 0) for m in range(1, 13)]
    plan = usage_plan(
        usage(*rows),
        NO_LOG,
        pd.Series({"A": pd.Timestamp("2026-12-31"), "B": pd.Timestamp("2026-12-31")}),
        25,
    )
    later = plan[(plan["vehicle"] == "A") & (plan["month"] >= "2028-01-01")]
    assert later["miles"].sum() == 100
    assert set(later["source"]) == {"as planned before"}
    assert plan.loc[plan["vehicle"] == "B", "miles"].isna().all()
    assert set(plan.loc[plan["vehicle"] == "B", "source"]) == {"unknown"}


def test_each_vehicle_counts_from_its_own_date():
    mileage = pd.concat([monthly_log(v, range(2021, 2027), lambda y, m: 100.0) for v in ("A", "B")])
    as_of = pd.Series({"A": pd.Timestamp("2026-12-31"), "B": pd.Timestamp("2026-06-30")})
    plan = usage_plan(NO_USAGE, mileage, as_of, 3)
    assert plan.groupby("vehicle")["month"].min().to_dict() == {
        "A": pd.Timestamp("2026-12-01"),
        "B": pd.Timestamp("2026-06-01"),
    }


def ahead_of(*rows, as_of="2026-12-31", months=37):
    day = pd.Timestamp(as_of)
    return usage_ahead(usage_plan(usage(*rows), NO_LOG, day, months), day)


def test_date_at_which_miles_are_run_and_none_beyond_the_usage():
    ahead = ahead_of(
        *[("A", f"2027-{m:02d}-01", 310.0 if m in (7, 8) else 0.0, 0) for m in range(1, 13)], months=13
    )
    dates = dates_at(ahead, np.array(["A"] * 5), np.array([0.0, 155.0, 310.0, 465.0, 621.0]))
    told = pd.to_datetime(dates)
    assert told[0] == pd.Timestamp("2026-12-31")
    assert abs(told[1] - pd.Timestamp("2027-07-16")) <= pd.Timedelta(days=1)
    assert told[2] <= pd.Timestamp("2027-08-01")
    assert abs(told[3] - pd.Timestamp("2027-08-16")) <= pd.Timedelta(days=1)
    assert pd.isna(told[4])


def test_miles_of_unknown_vehicles_or_unknown_miles_have_no_date():
    ahead = ahead_of(("A", "2027-07-01", 100.0, 0))
    assert np.isnat(dates_at(ahead, np.array(["A", "Z"]), np.array([np.nan, 10.0]))).all()


def test_service_days_have_dates_too():
    mileage = monthly_log("A", range(2021, 2027), lambda y, m: 100.0, service=5.0)
    day = pd.Timestamp("2026-12-31")
    ahead = usage_ahead(usage_plan(NO_USAGE, mileage, day, 25), day)
    due = pd.to_datetime(dates_at(ahead, np.array(["A"]), np.array([31.0]), column="service_days"))[0]
    assert pd.Timestamp("2027-07-01") <= due <= pd.Timestamp("2027-07-31")  # five a month: in the seventh


def test_planned_months_deviate_by_themselves_so_their_variances_add_up():
    rows = [("A", f"{y}-{m:02d}-01", 100.0, 10.0) for y in (2027, 2028) for m in range(1, 13)]
    ahead = ahead_of(*rows, months=25)
    assert ahead.miles_sd[0, 13] == pytest.approx(10.0 * np.sqrt(12))
    assert ahead.miles_sd[0, 25] == pytest.approx(10.0 * np.sqrt(24))


def test_the_spread_of_logged_seasons_is_shared_by_the_months_of_a_year():
    rows = [("A", f"{y}-{m:02d}-01", 100.0, np.nan) for y in (2027, 2028) for m in range(1, 13)]
    ahead = ahead_of(*rows, months=25)  # no spread stated: 25 % of a season
    assert ahead.miles_sd[0, 13] == pytest.approx(300.0)
    assert ahead.miles_sd[0, 25] == pytest.approx(np.hypot(300.0, 300.0))


def test_date_quantiles_agree_with_a_monte_carlo_of_miles_and_usage():
    """Normal remaining miles and normal months, 40,000 futures: quantiles within 16 days.

    The futures' own error at 10 % is about 2 days; the rest is the months' steps, which no quadrature of two
    spreads can follow exactly.
    """
    rows = [("A", f"{y}-{m:02d}-01", 500.0, 60.0) for y in range(2027, 2041) for m in range(1, 13)]
    ahead = ahead_of(*rows, months=169)
    z = np.array([-1.2815516, 0.0, 1.2815516])
    mean, sd = 20_000.0, 4_000.0
    told = dates_with_spread(ahead, np.array(["A"]), mean + sd * z[None, :], z)[0]
    rng = np.random.default_rng(1)
    months = 500.0 + 60.0 * rng.standard_normal((40_000, 168))
    run = np.concatenate([np.zeros((40_000, 1)), np.cumsum(months, axis=1)], axis=1)
    wanted = mean + sd * rng.standard_normal(40_000)
    month = np.array([np.interp(w, r, np.arange(169)) for w, r in zip(wanted, run, strict=True)])
    expected = np.quantile(month, [0.1, 0.5, 0.9]) * 30.4369
    days = (told - np.datetime64("2027-01-01")) / np.timedelta64(1, "D")
    assert days == pytest.approx(expected, abs=16)


def test_thousands_of_vehicles_give_what_each_gives_alone():
    rng = np.random.default_rng(2)
    logs = [
        monthly_log(
            f"V{i}", range(2021, 2027), lambda y, m, i=i: (100.0 + 10 * i) * (m > 3) * rng.uniform(0.8, 1.2)
        )
        for i in range(12)
    ]
    day = pd.Timestamp("2026-11-30")
    together = usage_plan(NO_USAGE, pd.concat(logs).sample(frac=1, random_state=0), day, 40)
    for i in (0, 5, 11):
        alone = usage_plan(NO_USAGE, logs[i], day, 40)
        mine = together[together["vehicle"] == f"V{i}"].reset_index(drop=True)
        pd.testing.assert_frame_equal(mine, alone, check_exact=False, rtol=1e-9)
