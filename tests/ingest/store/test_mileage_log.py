"""One count of miles across instruments, trips and gaps."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.problems import Problems
from ingest.store.mileage import MI_PER_KM, carry_on, counted, instruments, place, shown
from ingest.store.unlogged import run_since_last_entry
from ingest.verdicts.log_check import check_log


def log(*rows: tuple, unit: str = "mi") -> pd.DataFrame:
    """A log of (date, odometer, distance, event)."""
    frame = pd.DataFrame(rows, columns=["date", "odometer_read", "distance", "event"])
    frame["date"] = pd.to_datetime(frame["date"]).astype("datetime64[us]")
    frame = frame.astype({"odometer_read": "float64", "distance": "float64", "event": "str"})
    return frame.assign(vehicle="A", unit=unit, service_days=np.nan, source_file="log.csv", source_row=2)


def readings(*rows: tuple) -> pd.DataFrame:
    """Readings of (date, odometer) on vehicle A."""
    frame = pd.DataFrame(rows, columns=["date", "odometer_read"])
    frame["date"] = pd.to_datetime(frame["date"]).astype("datetime64[us]")
    return frame.astype({"odometer_read": "float64"}).assign(vehicle="A")


NAN = np.nan


def test_an_odometer_alone_counts_as_it_stands():
    out = carry_on(log(("2001-01-01", 100, NAN, ""), ("2001-02-01", 250, NAN, "")))
    assert out["odometer"].tolist() == [100, 250]
    assert out["odometer_sd"].tolist() == [0, 0]
    assert out["odometer_source"].tolist() == ["read", "read"]


def test_trips_add_up_between_odometer_entries_and_never_pass_the_next():
    out = carry_on(
        log(
            ("2001-01-01", 100, NAN, ""),
            ("2001-01-05", NAN, 40, ""),
            ("2001-01-09", NAN, 40, ""),
            ("2001-01-20", 170, NAN, ""),
        )
    )
    assert out["odometer"].tolist() == [100, 140, 170, 170]


def test_a_sheet_of_trips_alone_counts_from_its_first_trip():
    out = carry_on(log(("2001-01-01", NAN, 30, ""), ("2001-01-02", NAN, 45, "")))
    assert out["odometer"].tolist() == [30, 75]


def test_trips_before_the_first_odometer_count_back_from_it():
    out = carry_on(
        log(("2001-01-01", NAN, 30, ""), ("2001-01-02", NAN, 45, ""), ("2001-01-03", 1000, NAN, ""))
    )
    assert out["odometer"].tolist() == [955, 1000, 1000]


def test_a_rollover_adds_the_next_power_of_ten():
    out = carry_on(log(("2001-01-01", 99900, NAN, ""), ("2001-02-01", 50, NAN, "rolled_over")))
    assert out["odometer"].tolist() == [99900, 100050]


def test_an_instrument_in_km_rolls_over_in_km():
    out = carry_on(
        log(
            ("2001-01-01", 99900 * MI_PER_KM, NAN, ""),
            ("2001-02-01", 50 * MI_PER_KM, NAN, "rolled_over"),
            unit="km",
        )
    )
    assert out["odometer"].tolist() == pytest.approx([99900 * MI_PER_KM, 100050 * MI_PER_KM])


def test_a_replacement_with_its_miles_known_leaves_no_doubt():
    out = carry_on(
        log(("2001-01-01", 5000, NAN, ""), ("2001-02-01", 0, 120, "replaced"), ("2001-03-01", 80, NAN, ""))
    )
    assert out["odometer"].tolist() == [5000, 5120, 5200]
    assert out["odometer_sd"].tolist() == [0, 0, 0]


def test_a_replacement_without_is_estimated_from_the_other_years_and_doubted():
    rows = [
        (f"{year}-{month:02}-01", 1200 * (year - 2001) + 100 * (month - 1), NAN, "")
        for year in (2001, 2002, 2003)
        for month in range(1, 13)
    ]
    rows += [("2003-12-31", 3600, NAN, ""), ("2004-12-31", 0, NAN, "replaced"), ("2005-12-31", 1200, NAN, "")]
    out = carry_on(log(*rows))
    assert out["odometer"].iloc[-2] - out["odometer"].iloc[-3] == pytest.approx(1200, rel=0.01)
    assert (out["odometer_sd"].iloc[:-2] > 0).all()
    assert out["odometer_sd"].iloc[-2:].tolist() == [0, 0]
    assert out["odometer_source"].iloc[0] == "estimated"


def test_miles_not_on_record_of_a_young_log_are_as_uncertain_as_they_are_many():
    out = carry_on(
        log(("2001-01-01", 0, NAN, ""), ("2001-03-02", 600, NAN, ""), ("2001-05-01", 0, NAN, "replaced"))
    )
    run = out["odometer"].iloc[2] - 600
    assert run == pytest.approx(600, rel=0.05)  # 60 days at the 10 miles a day that the log shows
    assert out["odometer_sd"].iloc[0] == pytest.approx(run)


def test_a_noted_odometer_is_put_on_the_one_count_by_the_instrument_of_that_day():
    entries = carry_on(
        log(("2001-01-01", 5000, NAN, ""), ("2001-02-01", 0, 120, "replaced"), ("2001-03-01", 80, NAN, ""))
    )
    out = place(readings(("2001-01-10", 5040), ("2001-02-10", 30), ("2001-02-01", 5119)), entries)
    assert out["odometer"].tolist() == [5040, 5150, 5119]
    assert out["odometer_source"].tolist() == ["read"] * 3


def test_before_the_log_nothing_is_told_and_after_it_the_last_entry_holds():
    entries = carry_on(log(("2001-01-01", 100, NAN, ""), ("2001-02-01", 250, NAN, "")))
    out = place(readings(("2000-12-31", NAN), ("2001-02-02", NAN), ("2001-01-16", NAN)), entries)
    assert np.isnan(out["odometer"]).tolist() == [True, False, False]
    assert out["odometer"].iloc[1] == 250
    assert out["odometer_source"].tolist()[1:] == ["last entry", "interpolated"]


def seasons(*years: int) -> pd.DataFrame:
    """A log that runs 600 mi from April to September of each year and stands in winter."""
    rows = [
        (f"{year}-{day}", 600 * (year - years[0] + part), NAN, "")
        for year in years
        for day, part in (("04-01", 0), ("10-01", 1))
    ]
    return carry_on(log(*rows))


@pytest.mark.parametrize(
    ("day", "share"),
    [("2003-10-01", 0.0), ("2004-03-31", 0.0), ("2004-07-01", 0.5), ("2004-12-31", 1.0), ("2005-10-01", 2.0)],
)
def test_what_has_been_run_since_the_last_entry_follows_the_seasons_of_the_log(day, share):
    asked = readings((day, NAN))
    since = run_since_last_entry(asked["vehicle"], asked["date"], seasons(2001, 2002, 2003)).iloc[0]
    assert since["share"] == pytest.approx(share, abs=0.02)
    assert since["miles"] == pytest.approx(600 * share, abs=12)


def test_planned_running_goes_before_the_seasons_of_the_log():
    asked = readings(("2004-03-01", NAN), ("2004-12-31", NAN))
    plan = pd.DataFrame({"vehicle": "A", "month": [pd.Timestamp("2004-02-01")], "miles_planned": [150.0]})
    since = run_since_last_entry(asked["vehicle"], asked["date"], seasons(2001, 2002, 2003), plan)
    assert since["miles"].tolist() == pytest.approx([150, 150])
    assert since["share"].tolist() == pytest.approx([0.25, 0.25], abs=0.01)


def test_where_nothing_says_how_it_runs_the_calendar_counts():
    asked = readings(("2001-07-02", NAN))
    since = run_since_last_entry(asked["vehicle"], asked["date"], carry_on(log(("2001-01-01", 5, NAN, ""))))
    assert np.isnan(since["miles"].iloc[0])
    assert since["share"].iloc[0] == pytest.approx(0.5, abs=0.01)


def test_the_doubt_of_a_reading_after_the_log_is_what_it_runs_in_that_part_of_the_year():
    entries = seasons(2001, 2002, 2003)
    out = place(readings(("2004-02-01", NAN), ("2004-07-01", NAN)), entries)
    assert out["odometer"].tolist() == [1800, 1800]
    assert out["odometer_sd"].tolist() == pytest.approx([0, 300], abs=6)


@settings(max_examples=25, deadline=None)
@given(
    st.floats(0, 200_000),
    st.sampled_from(["mi", "km"]),
    st.sampled_from(["2001-01-20", "2001-02-01", "2001-02-20", "2001-05-01"]),
)
def test_what_an_instrument_shows_and_the_count_turn_into_each_other(miles, unit, day):
    entries = log(
        ("2001-01-01", 5000, NAN, ""), ("2001-02-01", 0, 120, "replaced"), ("2001-03-01", 80, NAN, "")
    )
    entries = carry_on(entries.assign(unit=unit))
    asked = readings((day, NAN))
    its = instruments(asked["vehicle"], asked["date"], entries)
    assert its["unit"].tolist() == [unit]
    assert counted(shown(pd.Series([miles]), its), its).tolist() == pytest.approx([miles], abs=1e-6)
    figure = shown(pd.Series([5150.0]), its)
    noted = asked.assign(odometer_read=figure * (MI_PER_KM if unit == "km" else 1.0))
    if day != "2001-02-01":  # on the day of a change the figure itself tells which of the two it is of
        assert place(noted, entries)["odometer"].iloc[0] == pytest.approx(5150.0)


def test_the_last_entry_is_that_of_the_instrument_in_use():
    rows = (("2001-01-01", 5000, NAN, ""), ("2001-02-01", 0, 120, "replaced"), ("2001-03-01", NAN, 80, ""))
    asked = readings(("2001-01-20", NAN), ("2001-03-05", NAN), ("2000-12-01", NAN))
    its = instruments(asked["vehicle"], asked["date"], carry_on(log(*rows)))
    assert its["last_shown"].tolist()[:2] == [5000, 0]
    assert its["offset"].tolist() == [0, 5120, 0]
    assert its["last_date"].isna().tolist() == [False, False, True]


def test_a_vehicle_without_a_log_keeps_noted_odometers_only():
    out = place(readings(("2001-01-10", 5040), ("2001-01-11", NAN)), carry_on(log()))
    assert out["odometer"].iloc[0] == 5040
    assert np.isnan(out["odometer"].iloc[1])


def test_service_days_make_interpolation_surer_but_never_more_than_one_lump_a_month():
    entries = log(("2001-01-01", 0, NAN, ""), ("2001-12-31", 1200, NAN, ""))
    sure = place(readings(("2001-07-02", NAN)), carry_on(entries.assign(service_days=200.0)))
    unsure = place(readings(("2001-07-02", NAN)), carry_on(entries.assign(service_days=2.0)))
    assert sure["odometer_sd"].iloc[0] == pytest.approx(1200 * np.sqrt(0.25 / (364 / 30.44)), rel=1e-3)
    assert unsure["odometer_sd"].iloc[0] == pytest.approx(1200 * np.sqrt(0.25 / 2), rel=1e-3)


@settings(deadline=None, max_examples=40)
@given(
    st.lists(
        st.tuples(st.integers(0, 3000), st.integers(0, 300)),
        min_size=2,
        max_size=40,
        unique_by=lambda t: t[0],
    ),
    st.randoms(use_true_random=False),
)
def test_the_order_of_the_entries_does_not_matter_and_the_count_never_goes_back(steps, rng):
    steps = sorted(steps)
    start = pd.Timestamp("2001-01-01")
    rows = [
        (start + pd.Timedelta(days=day), total, NAN, "")
        for day, total in zip([d for d, _ in steps], np.cumsum([m for _, m in steps]), strict=True)
    ]
    shuffled = rng.sample(rows, len(rows))
    out = carry_on(log(*shuffled))
    pd.testing.assert_frame_equal(out, carry_on(log(*rows)))
    assert (np.diff(out["odometer"]) >= 0).all()
    at = place(readings(*[(date, NAN) for date, *_ in rows]), out)
    assert at["odometer"].tolist() == out["odometer"].tolist()


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.integers(0, 400), min_size=3, max_size=25),
    st.integers(0, 24),
    st.sampled_from([-400_000, 400_000]),
)
def test_one_wild_entry_is_the_one_that_is_held_back(steps, at, by):
    """Steps below 400 miles a week; an entry off by more than all that can be run around it cannot fit."""
    total = 500_000 + np.cumsum(steps).astype(float)
    at %= len(steps)
    start = pd.Timestamp("2001-01-01")
    rows = [(start + pd.Timedelta(days=7 * i), value, NAN, "") for i, value in enumerate(total)]
    entries = log(*rows)
    entries.loc[at, "odometer_read"] += by
    problems = Problems()
    check_log(entries, entries.iloc[:0], pd.Series("", entries.index), problems)
    if len(steps) == 3 or at in (0, len(steps) - 1):
        assert len(problems.rows()) <= 1  # at an end, a wild first entry may stand alone against the rest
    else:
        assert problems.rows().tolist() == [at]
