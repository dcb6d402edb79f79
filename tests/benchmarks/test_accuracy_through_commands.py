"""Accuracy from outside: a fleet as files, ``milesleft add``, ``milesleft forecast``, against its truth."""

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from fleets.accuracy_table import PINBALL_AT, in_lives
from fleets.fleet_tables import write_fleet
from fleets.simulate import FleetPlan, simulate_fleet

from dashboard.cli import main
from models.lives.table import Lives
from models.rivals.least_squares import LeastSquares
from models.score.scoring_rules import pinball

COLUMNS = ["miles_p05", "miles_p10", "miles_p50", "miles_p90", "miles_p95"]


def run(*words):
    result = CliRunner().invoke(main, [str(w) for w in words])
    assert result.exit_code == 0, result.output


def forecast_from_files(fleet, folder):
    """The forecast table and the truth, a row a wear point."""
    write_fleet(fleet, folder)
    run("add", *sorted(folder.glob("*.csv")), "--db", folder / "store.duckdb", "--quiet")
    run("forecast", "--db", folder / "store.duckdb", "--out", folder / "forecast.csv", "--quiet")
    truth = pd.read_csv(folder / "truth" / "truth.csv").set_index("point")
    return pd.read_csv(folder / "forecast.csv").set_index("point").loc[truth.index], truth


def line_of_each_life(fleet):
    """Least squares through each life in service, in the order of the truth table."""
    lives = Lives(**fleet.arrays)
    return LeastSquares().fit(lives).predict_remaining(PINBALL_AT)[~lives.ended]


@pytest.mark.parametrize(
    ("shape", "wild", "most"),
    [
        ("straight", 0.0, 0.75),
        pytest.param("straight", 0.05, 0.70, marks=pytest.mark.long),
        pytest.param("accelerating", 0.0, 0.75, marks=pytest.mark.long),
        pytest.param("decelerating", 0.0, 0.75, marks=pytest.mark.long),
    ],
)
def test_a_fleet_from_its_files(shape, wild, most, tmp_path):
    fleet = simulate_fleet(np.random.default_rng(23), FleetPlan(shape=shape, wild=wild))
    forecast, truth = forecast_from_files(fleet, tmp_path)
    scale = truth["mean_life"].to_numpy()
    remaining = truth["remaining_miles"].to_numpy()
    ours, came = in_lives(forecast[COLUMNS].to_numpy(), remaining, scale)
    line, _ = in_lives(line_of_each_life(fleet), remaining, scale)
    assert not np.isnan(ours).any()
    both = ~np.isnan(line).any(axis=1)
    ratio = pinball(ours, PINBALL_AT, came)[both].mean() / pinball(line, PINBALL_AT, came)[both].mean()
    cover = ((ours[:, 1] <= came) & (came <= ours[:, 3])).mean()
    print(f"\n{shape}, wild {wild:.0%}: pinball / least squares {ratio:.3f}, 80 % interval holds {cover:.1%}")
    assert ratio <= most
    # 320 lives in 40 families that err together: three standard errors are some 9 points.
    assert 0.71 <= cover <= 0.89
