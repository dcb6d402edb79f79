"""Engines whose parts share their seasons, from outside: their files, ``milesleft add`` and ``milesleft
forecast``, against what then happened."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from fleets.accuracy_table import PINBALL_AT, in_lives
from fleets.engine_seasons import EnginePlan, simulate_engines, write_engines

from dashboard.cli import main
from models.score.scoring_rules import pinball

COLUMNS = ["miles_p05", "miles_p10", "miles_p50", "miles_p90", "miles_p95"]
QUIET, CHANGED, RESTLESS = EnginePlan(), EnginePlan(change=1.6, since=(1.0, 2.0)), EnginePlan(shock=0.4)
FLEETS = 12


def run(*words):
    result = CliRunner().invoke(main, [str(w) for w in words])
    assert result.exit_code == 0, result.output


def forecast_and_truth(seed, plan, folder):
    """The forecast with the truth beside it, a row a wear point, and the engines simulated."""
    engines = simulate_engines(np.random.default_rng(seed), plan)
    write_engines(engines, folder)
    run("add", *sorted(folder.glob("*.csv")), "--db", folder / "store.duckdb", "--quiet")
    run("forecast", "--db", folder / "store.duckdb", "--out", folder / "forecast.csv", "--quiet")
    table = pd.read_csv(folder / "forecast.csv", keep_default_na=False, na_values=[""])
    table = table.merge(engines.truth, on="point", validate="1:1")
    engine = table["vehicle"].str[1:].astype(int) - 1
    return table.assign(engine=engine, changed_in=engines.changed_in[engine])


def scored(table):
    """Pinball loss in mean lives, and whether the truth lay in the 80 % interval and below its start."""
    truth = table["remaining_miles"].to_numpy(), table["mean_life"].to_numpy()
    said, came = in_lives(table[COLUMNS].to_numpy(float), *truth)
    inside = (said[:, 1] <= came) & (came <= said[:, 3])
    return table.assign(loss=pinball(said, PINBALL_AT, came), inside=inside, below=came < said[:, 1])


def named(table):
    """Of each engine: whether it changed, and whether the flags of its parts say so."""
    says = table["flags"].fillna("").str.contains("faster since")
    return (
        table.assign(says=says)
        .groupby("engine")
        .agg(changed_in=("changed_in", "first"), says=("says", "mean"))
    )


def told(name, table):
    print(
        f"\n{name}: {len(table)} parts, loss {table['loss'].mean():.4f}, 80 % interval holds"
        f" {table['inside'].mean():.1%}, below its start {table['below'].mean():.1%}"
    )


def test_a_change_of_whole_engines(tmp_path):
    """Cheap form, one fleet: the tolerance is two standard errors of 100 parts of four engines."""
    table = scored(forecast_and_truth(3, CHANGED, tmp_path))
    engines, changed = named(table), table[table["changed_in"] > 0]
    told("changed", changed)
    assert (engines["says"] > 0.9)[engines["changed_in"] > 0].mean() >= 0.75
    assert (engines["says"] > 0)[engines["changed_in"] == 0].mean() <= 0.25
    assert changed["inside"].mean() > 0.70
    assert changed["below"].mean() < 0.20


@pytest.mark.long
@pytest.mark.parametrize("one_class", [False, True])
@pytest.mark.parametrize(
    ("name", "plan", "cover", "below"),
    [("quiet", QUIET, 0.78, 0.13), ("changed", CHANGED, 0.75, 0.15), ("restless", RESTLESS, 0.70, 0.16)],
)
def test_worlds_of_many_fleets(name, plan, cover, below, one_class, tmp_path):
    plan = replace(plan, one_class=one_class)
    tables = [scored(forecast_and_truth(s, plan, tmp_path / str(s))) for s in range(100, 100 + FLEETS)]
    table, engines = pd.concat(tables), pd.concat([named(t) for t in tables])
    judged = table[table["changed_in"] > 0] if name == "changed" else table
    told(f"{name}, one class: {one_class}", judged)
    assert judged["inside"].mean() > cover
    assert judged["below"].mean() < below
    quiet = engines["changed_in"] == 0
    says = engines["says"] > 0
    print(f"named {says[~quiet].sum()} of {(~quiet).sum()}, falsely {says[quiet].sum()} of {quiet.sum()}")
    assert says[quiet].mean() < 0.05
    if name == "changed":
        assert says[~quiet].mean() >= 0.8
