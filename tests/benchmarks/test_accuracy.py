"""How accurate the forecast is, against every rival, where the truth is known.

    pytest tests/benchmarks/test_accuracy.py -m "long or not long" -s      prints the whole table
    pytest tests/benchmarks/test_accuracy.py --benchmark-enable            times one fleet

What is asserted by default is one fleet of each kind with room for its noise: 40 families are few, the ratio
moves by some 0.04 from seed to seed, the cover by 3 points. The long test takes five fleets
and asserts the aims.
"""

import importlib.util
from pathlib import Path

import pandas as pd
import pytest
from fleets.accuracy_table import accuracy_table, losses_by_family

from models.distribution import PROBABILITIES

_SPEC = importlib.util.spec_from_file_location("accuracy_cases", Path(__file__).with_name("accuracy.py"))
cases = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(cases)

REFERENCE = "least squares"


def scored(name, *, n_fleets=1, seed=1, slow=False):
    case = cases.laser() if name == "laser" else cases.simulated(name, n_fleets, seed)
    table = accuracy_table(cases.ours() | cases.rivals(slow), [case], REFERENCE)
    with pd.option_context("display.width", 200, "display.max_columns", 20):
        print("\n" + table.round(3).to_string(index=False))
    return table.set_index("forecaster")


@pytest.mark.parametrize(
    ("name", "most", "cover"),
    [
        ("straight", 0.75, (0.73, 0.89)),
        ("wild 5 %", 0.70, (0.73, 0.89)),
        ("accelerating", 0.75, (0.68, 0.92)),
        ("decelerating", 0.75, (0.68, 0.92)),
        ("many lives", 0.75, (0.70, 0.90)),
        ("uneven start", 0.90, (0.70, 0.90)),
        ("no Brownian part", 0.90, (0.70, 0.97)),
        ("strong Brownian part", 0.90, (0.70, 0.90)),
        ("four lives", 0.85, (0.70, 0.90)),
        ("every shape", 0.75, (0.62, 0.92)),
    ],
)
def test_one_fleet(name, most, cover):
    own = scored(name, seed=11).loc["milesleft"]
    assert own["answered"] == 1.0
    assert own["ratio"] <= most
    assert cover[0] <= own["cover_80"] <= cover[1]


def test_lasers():
    own = scored("laser", slow=True).loc["milesleft"]
    assert own["lives"] == 14
    assert own["ratio"] <= 0.80


@pytest.mark.long
@pytest.mark.parametrize(
    ("name", "most", "cover"),
    [
        ("straight", 0.70, (0.78, 0.84)),
        ("wild 5 %", 0.65, (0.76, 0.86)),
        ("accelerating", 0.75, (0.75, 0.88)),
        ("decelerating", 0.75, (0.75, 0.88)),
    ],
)
def test_five_fleets_against_every_rival(name, most, cover):
    table = scored(name, n_fleets=5, seed=101, slow=True)
    own, mixed = table.loc["milesleft"], table.loc["mixed model"]
    best = min(1.0, mixed["ratio"]) if name in ("accelerating", "decelerating") else 1.0
    assert own["ratio"] <= most * best
    assert own["ratio"] < mixed["ratio"]
    assert cover[0] <= own["cover_80"] <= cover[1]


def losses_of_families(name, times):
    """Each family's loss over that of least squares, summed over fleets with the same families."""
    own, other = 0.0, 0.0
    for case in cases.replicated(name, times, seed=3):
        ours = cases.ours()["milesleft"].fit(case.lives).predict_remaining(PROBABILITIES)
        line = cases.rivals()[REFERENCE].fit(case.lives).predict_remaining(PROBABILITIES)
        here = losses_by_family(case, ours, line)
        own, other = own + here[0], other + here[1]
    return own / other


def test_no_family_is_forecast_worse_than_by_least_squares():
    """Eight lives are few: with the parameters learned from sixty lives, one family of 23 still is worse than
    1.1 by luck of its lives. So the same families are scored over several fleets."""
    assert losses_of_families("straight", times=6).max() <= 1.1


@pytest.mark.long
@pytest.mark.parametrize("name", ["straight", "wild 5 %", "accelerating", "decelerating"])
def test_no_family_is_forecast_worse_in_the_long_run(name):
    assert losses_of_families(name, times=24).max() <= 1.0


def test_time_of_one_fleet(benchmark):
    """320 lives: fit, and quantiles of the remaining miles. Timed with --benchmark-enable; never asserted."""
    case = cases.simulated("straight")
    model = cases.ours()["milesleft"]
    quantiles = benchmark(lambda: model.fit(case.lives).predict_remaining([0.05, 0.5, 0.95]))
    assert quantiles.shape == (len(case.lives.family), 3)
