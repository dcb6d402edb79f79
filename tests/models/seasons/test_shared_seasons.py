"""The forecast of engines whose parts share their seasons, through ``make_forecast``."""

import numpy as np
import pandas as pd
import pytest
from fleets.engine_seasons import EnginePlan
from fleets.engine_tables import simulated

from models.distribution import PROBABILITIES
from models.forecast.run import make_forecast
from models.forecast.worked import work_out
from models.gauges.gauges_read import gauges_read
from models.laws.rate_covariates import covariates_of_positions
from models.lives.build import build_lives
from models.wear.model import PooledWear

CHANGED = EnginePlan(engines=4, change=1.6, since=(1.8, 2.2))
FLAG = r"wears faster since (\d{4}) \(about (\d+) % faster, all parts of this engine\)"


@pytest.fixture(scope="module")
def changed():
    """Four engines of which two wear 60 % faster since two seasons, their tables and forecast."""
    engines, tables = simulated(11, CHANGED)
    return engines, tables, make_forecast(tables).frames


def test_a_change_of_a_whole_engine_is_named_with_its_year_and_size(changed):
    engines, _, frames = changed
    said = frames["forecast"]["flags"].str.extract(FLAG)
    for number, year in enumerate(engines.changed_in):
        of = said[frames["forecast"]["vehicle"] == f"E{number + 1:03d}"]
        if year == 0:
            assert of[0].isna().all(), "nothing is said of an engine that did not change"
        else:
            assert (of == of.iloc[0]).all(axis=None), "all parts say the same"
            assert abs(int(of[0].iloc[0]) - year) <= 1
            assert 40 <= int(of[1].iloc[0]) <= 85


def test_the_forecast_of_changed_parts_is_shortened(changed):
    engines, tables, frames = changed
    table = build_lives(tables)
    plain = PooledWear().fit(table.lives, table.scale.quantity, forecast=table.in_service)
    before, _ = plain.remaining(np.array([0.5]), table.in_service)
    of = (engines.changed_in > 0)[table.scale.vehicle] & (before[:, 0] > 100.0)
    ratio = frames["forecast"]["miles_p50"].to_numpy()[of] / before[of, 0]
    assert np.median(ratio) < 0.92


def test_a_quiet_engine_is_forecast_as_if_there_were_no_seasons():
    _, tables = simulated(12, EnginePlan(engines=3))
    table = build_lives(tables)
    plain = PooledWear().fit(
        table.lives,
        table.scale.quantity,
        forecast=table.in_service,
        covariates=covariates_of_positions(tables["wear_points"]["position"]).iloc[table.point],
    )
    quantiles, _ = plain.remaining(PROBABILITIES, table.in_service)
    worked = work_out(table, tables, gauges_read(table, tables["readings"], None))
    assert worked is not None
    np.testing.assert_allclose(worked.alone(), quantiles, rtol=1e-12)


def test_the_same_tables_give_the_same_digits(changed):
    _, tables, frames = changed
    again = make_forecast(tables).frames
    for name in ("forecast", "distribution", "path", "state"):
        pd.testing.assert_frame_equal(frames[name], again[name])


def test_path_and_miles_speak_of_the_same_forecast(changed):
    """Where the middle path meets the limit, the miles that are left at one half are used up."""
    _, tables, frames = changed
    limit = tables["wear_points"].set_index("point")["condemning_limit"]
    row = frames["forecast"].set_index("point")
    met = []
    for point, path in frames["path"][frames["path"]["kind"] == "ahead"].groupby("point", observed=True):
        p50, value = row.loc[point, "miles_p50"], path["p50"].to_numpy()
        if 500 < p50 < 60_000 and value[-1] > limit[point] > value[0]:
            where = np.interp(limit[point], value, path["odometer"])
            met.append((where - row.loc[point, "as_of_odometer"]) / p50)
    assert len(met) > 30
    assert 0.95 < np.median(met) < 1.1


def test_rate_and_state_are_of_the_present_wear(changed):
    """The rate of a changed engine's parts is the one that brings them to their limit."""
    engines, _, frames = changed
    row = frames["forecast"].set_index("point")
    state = frames["state"].set_index("point")
    of = row[row["vehicle"].isin([f"E{e + 1:03d}" for e in np.flatnonzero(engines.changed_in)])].index
    left = (state["limit"] - state["level"])[of] / state["rate"][of]
    ratio = (left / row.loc[of, "miles_p50"])[row.loc[of, "miles_p50"] > 2_000]
    assert 0.85 < ratio.median() < 1.15


def test_parts_that_wear_faster_with_age_are_no_change_of_their_engine():
    """All new on one day, all bent alike: what the shapes leave over looks like a change of 12 %."""
    _, tables = simulated(8, EnginePlan(engines=8, one_class=True, bend=(1.3, 2.2)))
    flags = make_forecast(tables).frames["forecast"]["flags"]
    assert not flags.str.contains("er since").any()


def test_a_change_is_an_alarm_with_the_readings_since(changed):
    engines, _, frames = changed
    alarms = frames["alarms"][frames["alarms"]["kind"] == "faster since"]
    named = {f"E{e + 1:03d}" for e in np.flatnonzero(engines.changed_in)}
    assert set(alarms["vehicle"]) == named
    read = alarms[alarms["row_id"] >= 0]
    assert (read["date"] >= read["since"]).all()
    assert len(read) > 20


def test_an_earlier_day_knows_nothing_of_the_change():
    engines, tables = simulated(11, CHANGED)
    day = pd.Timestamp(f"{engines.changed_in.max() - 1}-02-01")
    flags = make_forecast(tables, day).frames["forecast"]["flags"]
    assert not flags.str.contains("er since").any()


def test_wear_ahead_is_said_of_the_lives_that_are_asked_about_only(changed):
    """A life that is asked about at no mileage gets none, and changes nothing for those beside it."""
    _, tables, _ = changed
    table = build_lives(tables)
    worked = work_out(table, tables, gauges_read(table, tables["readings"], None))
    assert worked is not None
    miles = table.lives.as_of_miles[worked.life][:, None] + np.array([1_000.0, 2_000.0])
    asked = miles.copy()
    asked[::2] = np.nan
    whole, part = (worked.readings_ahead(m, np.array([0.1, 0.5, 0.9])) for m in (miles, asked))
    assert np.isnan(part[::2]).all()
    np.testing.assert_allclose(part[1::2], whole[1::2], rtol=1e-9)
