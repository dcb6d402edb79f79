"""The two commands on published degradation, as if it were wear: forecast at 2,000 h against what came.

Source
------
Meeker & Escobar (1998), Statistical Methods for Reliability Data, Wiley, Table C.17: 15 GaAs lasers,
increase of the operating current in per cent, read every 250 h to 4,000 h (read; two R packages agree).

Hours stand for miles, ten a day. The limit is 6 % instead of the authors' 10 %, so that what came after
2,000 h is in the data: each laser's first crossing of 6 %, straight between two readings.
"""

import json

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from dashboard.cli import main
from models.lives.table import Lives
from models.rivals.least_squares import LeastSquares
from models.score.scoring_rules import pinball

LIMIT, AS_OF = 6.0, 2000
FIRST_DAY = pd.Timestamp("2020-01-01")
PROBABILITIES = np.array([0.05, 0.10, 0.50, 0.90, 0.95])
COLUMNS = ["miles_p05", "miles_p10", "miles_p50", "miles_p90", "miles_p95"]


def day(hours):
    return (FIRST_DAY + pd.to_timedelta(hours / 10, unit="D")).strftime("%Y-%m-%d")


def tables(laser):
    """The public tables of a bench of 15 lasers."""
    units = sorted(laser["unit"].unique())
    hours = sorted(laser["hours"].unique())
    return {
        "vehicles": pd.DataFrame({"vehicle": ["bench"], "class": ["laser"], "service_from": [day(0)]}),
        "wear_points": pd.DataFrame(
            {
                "point": [f"laser-{u}" for u in units],
                "vehicle": "bench",
                "component": "laser",
                "position": [str(u) for u in units],
                "quantity": "current increase",
                "unit": "%",
                "new_value": 0.0,
                "condemning_limit": LIMIT,
                "limit_source": "chosen so that the data hold what came after",
                "access": "in_place",
            }
        ),
        "mileage": pd.DataFrame(
            {"vehicle": "bench", "date": [day(h) for h in hours], "odometer": hours, "unit": "mi"}
        ),
        "readings": pd.DataFrame(
            {
                "point": [f"laser-{u}" for u in laser["unit"]],
                "date": [day(h) for h in laser["hours"]],
                "value": laser["increase"].to_numpy(),
                "unit": "%",
                "odometer": laser["hours"].to_numpy(),
            }
        ),
    }


def run(*words):
    result = CliRunner().invoke(main, [str(w) for w in words])
    assert result.exit_code == 0, result.output
    return result


@pytest.fixture(scope="module")
def laser(published):
    return published("gaas_laser")


@pytest.fixture(scope="module")
def forecast(laser, tmp_path_factory):
    """Forecast from what was known at 2,000 h; a row a laser."""
    folder = tmp_path_factory.mktemp("lasers")
    for name, table in tables(laser[laser["hours"] <= AS_OF]).items():
        table.to_csv(folder / f"{name}.csv", index=False)
    added = run("add", *sorted(folder.glob("*.csv")), "--db", folder / "store.duckdb", "--json")
    assert json.loads(added.stdout)
    run("forecast", "--db", folder / "store.duckdb", "--out", folder / "forecast.csv", "--quiet")
    return pd.read_csv(folder / "forecast.csv").set_index("point").sort_index()


@pytest.fixture(scope="module")
def came(laser):
    """Hours from 2,000 h to the first crossing of 6 %; negative for the one that had crossed by then."""
    crossing = {}
    for unit, path in laser.groupby("unit"):
        beyond = path[path["increase"] >= LIMIT].iloc[0]
        before = path[path["hours"] < beyond["hours"]].iloc[-1]
        share = (LIMIT - before["increase"]) / (beyond["increase"] - before["increase"])
        crossing[f"laser-{unit}"] = before["hours"] + share * (beyond["hours"] - before["hours"]) - AS_OF
    return pd.Series(crossing).sort_index()


def test_every_laser_is_forecast_as_of_2000_hours(forecast):
    assert len(forecast) == 15
    assert (forecast["as_of_odometer"] == AS_OF).all()
    assert forecast[COLUMNS].notna().all(axis=None)
    assert (forecast["unit"] == "%").all()
    assert (forecast["condemning_limit"] == LIMIT).all()


def test_fifteen_lives_alone_in_their_store_are_forecast_with_a_mixed_model_beside(forecast):
    assert forecast["method"].str.contains(r"mixed model counts \d+ %").all()


def test_the_laser_that_had_crossed_has_nothing_left(forecast, came):
    crossed = came.index[came <= 0]
    assert list(crossed) == ["laser-110"]  # read at 6.x % at 2,000 h
    assert forecast.loc["laser-110", "miles_p50"] == 0
    assert forecast.loc["laser-110", "p_beyond_now"] > 0.5


def test_what_came_lies_within_the_intervals(forecast, came):
    later = came[came > 0]
    told = forecast.loc[later.index]
    inside = (told["miles_p10"] <= later) & (later <= told["miles_p90"])
    # 14 lasers: a right 80 % interval holds 9 or more of them in 96 of 100 such tables (binomial).
    assert inside.sum() >= 9
    off = (told["miles_p50"] - later).abs()
    assert off.median() < later.mean() / 5


def test_better_than_a_straight_line_through_each_laser(laser, forecast, came):
    later = came[came > 0]
    known = laser[laser["hours"] <= AS_OF].pivot_table(index="unit", columns="hours", values="increase")
    n, k = known.shape
    hours = np.tile(np.array(known.columns, dtype=float), (n, 1))
    lives = Lives(
        family=np.zeros(n, dtype=int),
        miles=hours,
        wear=known.to_numpy(),
        limit=np.full(n, LIMIT),
        gauge_sd=np.full((n, k), np.nan),
        as_of_miles=np.full(n, float(AS_OF)),
        ended=np.zeros(n, dtype=bool),
        day=hours,
    )
    line = LeastSquares().fit(lives).predict_remaining(PROBABILITIES)
    line = pd.DataFrame(line, index=[f"laser-{u}" for u in known.index]).loc[later.index].to_numpy()
    ours = forecast.loc[later.index, COLUMNS].to_numpy()
    truth = later.to_numpy()
    ratio = pinball(ours, PROBABILITIES, truth).mean() / pinball(line, PROBABILITIES, truth).mean()
    assert ratio <= 0.80


def test_later_readings_do_not_change_a_forecast_as_of_an_earlier_day(laser, forecast, tmp_path):
    for name, table in tables(laser).items():
        table.to_csv(tmp_path / f"{name}.csv", index=False)
    run("add", *sorted(tmp_path.glob("*.csv")), "--db", tmp_path / "store.duckdb")
    out = tmp_path / "then.csv"
    run("forecast", "--as-of", day(AS_OF), "--db", tmp_path / "store.duckdb", "--out", out, "--quiet")
    then = pd.read_csv(out).set_index("point").sort_index()
    np.testing.assert_allclose(then[COLUMNS], forecast[COLUMNS], rtol=1e-9)
