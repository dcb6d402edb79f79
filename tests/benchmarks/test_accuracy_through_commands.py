"""Accuracy from outside: a fleet as files, ``milesleft add``, ``milesleft forecast``, against its truth."""

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from fleets.fleet_tables import write_fleet
from fleets.simulate import FleetPlan, simulate_fleet

from dashboard.cli import main
from models.lives.table import Lives
from models.rivals.least_squares import LeastSquares
from models.score.scoring_rules import pinball

P = np.array([0.05, 0.10, 0.50, 0.90, 0.95])
COLUMNS = ["miles_p05", "miles_p10", "miles_p50", "miles_p90", "miles_p95"]
CAP = 3.0  # mean lives


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
    return LeastSquares().fit(lives).predict_remaining(P)[~lives.ended]


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
    came = np.minimum(truth["remaining_miles"] / scale, CAP).to_numpy()
    ours = np.minimum(forecast[COLUMNS].to_numpy() / scale[:, None], CAP)
    line = np.minimum(line_of_each_life(fleet) / scale[:, None], CAP)
    assert not np.isnan(ours).any()
    both = ~np.isnan(line).any(axis=1)
    ratio = pinball(ours, P, came)[both].mean() / pinball(line, P, came)[both].mean()
    cover = ((ours[:, 1] <= came) & (came <= ours[:, 3])).mean()
    print(f"\n{shape}, wild {wild:.0%}: pinball / least squares {ratio:.3f}, 80 % interval holds {cover:.1%}")
    assert ratio <= most
    # 320 lives in 40 families that err together: three standard errors are some 9 points.
    assert 0.71 <= cover <= 0.89
