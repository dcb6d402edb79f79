"""Tables in, frames out: every wear point is in the table, with miles or with a reason."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from models.distribution import PROBABILITIES
from models.forecast.paths import _spread_out
from models.forecast.public import PUBLIC
from models.forecast.run import make_forecast

POINTS = [("A", 0.0, 4.0), ("B", 0.0, 4.0), ("C", 0.0, 4.0), ("D", 0.0, np.nan), ("E", 0.0, 4.0)]


@pytest.fixture(scope="module")
def given(tables):
    rng = np.random.default_rng(2)
    readings = []
    for point, rate in (("A", 0.25), ("B", 0.3), ("C", 0.2)):
        for day in range(100, 1000, 100):
            readings.append((point, day, max(rate * day / 100 + 0.03 * rng.standard_normal(), 0), day * 10))
    work = [("E", 500, "renewed", None, None)]
    return tables(readings, work, points=POINTS)


@pytest.fixture(scope="module")
def found(given):
    return make_forecast(given)


def test_every_point_is_there_with_miles_or_a_reason(found):
    table = found.frames["forecast"].set_index("point")
    assert list(found.frames["forecast"].columns) == list(PUBLIC)
    assert table.index.tolist() == ["A", "B", "C", "D", "E"]
    assert table.loc["D", "flags"] == "cannot be forecast: no condemning limit is stated"
    assert np.isnan(table.loc["D", "miles_p50"])
    assert table.loc[["A", "B", "C", "E"], "miles_p50"].notna().all()


def test_a_part_renewed_and_not_yet_read_is_forecast_from_its_family(found):
    table = found.frames["forecast"].set_index("point")
    assert "no reading since renewal" in table.loc["E", "flags"]
    assert table.loc["E", "readings_used"] == 0
    # 4 mm at the slowest and at the fastest rate, less the 5,000 mi that are run.
    assert 4 / 0.3 * 1000 - 5000 < table.loc["E", "miles_p50"] < 4 / 0.2 * 1000 - 5000


def test_miles_agree_with_the_line_where_the_line_is_plain(found):
    table = found.frames["forecast"].set_index("point")
    for point, rate in (("A", 0.25), ("B", 0.3), ("C", 0.2)):
        assert table.loc[point, "miles_p50"] == pytest.approx(4 / rate * 1000 - 10_000, rel=0.12, abs=400)
        assert table.loc[point, "rate_per_1000_mi"] == pytest.approx(rate, rel=0.1)
        assert table.loc[point, "miles_p05"] < table.loc[point, "miles_p50"] < table.loc[point, "miles_p95"]


def test_last_reading_and_as_of(found, given):
    table = found.frames["forecast"].set_index("point")
    last = given["readings"][given["readings"]["point"] == "B"].iloc[-1]
    assert table.loc["B", "last_value"] == pytest.approx(last["value"])
    assert table.loc["B", "last_date"] == last["date"]
    assert table.loc["B", "as_of"] == pd.Timestamp("2000-01-01") + pd.Timedelta(days=1000)
    assert table.loc["B", "as_of_odometer"] == 10_000


def test_dates_follow_the_miles_at_the_logged_pace(found):
    table = found.frames["forecast"].set_index("point")
    # 10 miles a day on average; the months of the log differ little.
    days = (table.loc["A", "date_p50"] - table.loc["A", "as_of"]).days
    assert days == pytest.approx(table.loc["A", "miles_p50"] / 10, rel=0.2)
    assert table.loc["A", "date_p10"] < table.loc["A", "date_p50"] < table.loc["A", "date_p90"]


def test_distribution_and_table_are_one_forecast(found):
    table = found.frames["forecast"].set_index("point")
    for row in found.frames["distribution"].itertuples():
        assert row.remaining[PROBABILITIES == 0.5][0] == pytest.approx(table.loc[row.point, "miles_p50"])
        assert (np.diff(row.new_life) >= 0).all()


def test_state_speaks_in_the_point_s_units(found):
    state = found.frames["state"].set_index("point")
    assert state.loc["A", "level"] == pytest.approx(2.5, rel=0.1)
    assert state.loc["A", "rate"] * 1000 == pytest.approx(0.25, rel=0.1)
    assert state.loc["A", "limit"] == 4
    assert state.loc["A", "sign"] == 1
    weights = state.filter(like="weight ")
    assert_allclose(weights.sum(axis=1), 1.0)


def test_reading_checks_name_what_the_others_expect(found, given):
    checks = found.frames["reading_check"]
    assert len(checks) == len(given["readings"])
    z = (checks["value"] - checks["expected"]) / checks["expected_sd"]
    assert z.abs().max() < 4
    assert set(checks["verdict"]) == {"sound"}


def test_path_passes_through_the_readings_and_reaches_the_limit(found):
    path = found.frames["path"]
    own = path[path["point"] == "A"]
    fitted, ahead = own[own["kind"] == "fitted"], own[own["kind"] == "ahead"]
    assert_allclose(fitted["p50"], 0.25 * fitted["odometer"] / 1000, atol=0.2)
    assert (own["p10"] <= own["p50"]).all()
    assert (own["p50"] <= own["p90"]).all()
    assert ahead["p90"].iloc[-1] > 4


@pytest.mark.parametrize("count", [1, 2, 5, 6, 7, 30])
def test_a_picture_of_few_strokes_keeps_the_ends_and_spreads_the_rest(count):
    present = np.zeros((2, 31), dtype=bool)
    present[0, :count] = present[1, 31 - count :] = True  # some begin late
    kept = _spread_out(present, 6)
    assert not (kept & ~present).any()
    for row, first in zip(kept, (0, 31 - count), strict=True):
        places = np.flatnonzero(row)
        assert len(places) == min(count, 6)
        assert {places[0], places[-1]} == {first, first + count - 1}
        assert np.ptp(np.diff(places)) <= 1 if count > 1 else True


def test_the_path_s_middle_meets_the_limit_where_half_have_reached_it(found):
    table = found.frames["forecast"].set_index("point")
    path = found.frames["path"]
    for point in ("A", "B", "C"):
        own = path[(path["point"] == point) & (path["kind"] == "ahead")]
        at = 10_000 + table.loc[point, "miles_p50"]
        middle, low, high = (np.interp(at, own["odometer"], own[name]) for name in ("p50", "p10", "p90"))
        # Half first reach it a little before half are beyond it; the band is about even on both sides.
        assert middle == pytest.approx(4.0, rel=0.03)
        assert 0.5 < (high - middle) / (middle - low) < 2


def test_a_point_in_another_unit_gets_the_same_miles(given, found):
    other = {name: frame.copy() for name, frame in given.items()}
    other["wear_points"] = other["wear_points"].assign(unit="in", per_base=1 / 25.4)
    again = make_forecast(other).frames["forecast"].set_index("point")
    table = found.frames["forecast"].set_index("point")
    assert_allclose(again["miles_p50"].dropna(), table["miles_p50"].dropna(), rtol=1e-9)
    assert again.loc["A", "condemning_limit"] == pytest.approx(4 / 25.4)
    assert again.loc["A", "last_value"] == pytest.approx(table.loc["A", "last_value"] / 25.4)


def test_without_any_reading_nothing_is_forecast(tables):
    found = make_forecast(tables([], points=[("A", 0.0, 4.0)]))
    assert found.frames["forecast"]["flags"].tolist() == [
        "cannot be forecast: no reading of this kind of part yet"
    ]
    assert found.frames["forecast"]["miles_p50"].isna().all()


def test_a_suspected_renewal_is_flagged(tables):
    values = [1.0, 2.0, 3.0, 0.3, 1.2, 2.1]
    found = make_forecast(tables([("A", 100 * (i + 1), v, 1000 * (i + 1)) for i, v in enumerate(values)]))
    flags = found.frames["forecast"]["flags"][0]
    assert "unrecorded renewal suspected between 2000-10-27 and 2001-02-04: confirm" in flags


def test_past_its_limit_is_said_first(tables):
    readings = [("A", d, 0.5 * d / 100, d * 10) for d in range(100, 1000, 100)]
    found = make_forecast(tables(readings))
    row = found.frames["forecast"].iloc[0]
    assert row["p_beyond_now"] > 0.99
    assert row["miles_p50"] == 0
    first = row["flags"].split("; ")[:2]
    assert first == [
        "last reading is at its limit or past it",
        "past its limit now more than 99 times in 100",
    ]
