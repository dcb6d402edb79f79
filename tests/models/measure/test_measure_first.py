"""What to measure first: what a reading saves, and that the first of the list hold most of it."""

from functools import cache

import numpy as np
import pandas as pd
import pytest
from fleets.planned_engines import railway

from models.measure.first import COLUMNS, measure_first
from models.measure.value import told_by_reading
from models.plan.planner import make_plan
from models.plan.rules import Rules

RULES = Rules(risk=0.5, stop_risk=0.1)
WALK = {f"A{number}": -number for number in range(48)}
"""Back along the engine."""
MINUTES = {"in_place": 5.0, "rods_down": 20.0, "wheels_out": 40.0}


def states(points, *, known_level=False, lately=0.0, seed=4):
    """``lately``: share of the wear points that were read last winter; another reading tells little there."""
    rng = np.random.default_rng(seed)
    n = len(points)
    level_var = np.full(n, 1e-8) if known_level else rng.uniform(0.01, 0.3, n)
    level_var = np.where(rng.random(n) < lately, 1e-3, level_var)
    return pd.DataFrame(
        {
            "point": points, "level": 3.0, "level_var": level_var, "rate": 4e-4, "rate_var": 1e-10,
            "level_rate_cov": 0.0, "tau": 1e-3, "sigma": 0.05, "limit": 5.0,
        }
    )  # fmt: skip


@cache
def planned(parts):
    inputs = railway(parts)
    return inputs, make_plan(inputs, RULES)


def listed(parts=24, **more):
    inputs, plan = planned(parts)
    points = inputs.simulation.points["point"]
    dates = pd.Series(pd.Timestamp("2024-05-01"), index=points.to_numpy())
    return measure_first(
        list(plan.chosen), inputs.simulation, states(points, **more), dates, MINUTES, plan.scope, RULES, WALK
    )


def test_a_reading_tells_nothing_where_the_level_is_known_and_nearly_all_where_only_it_is_not():
    known = told_by_reading(states(["A"], known_level=True))
    unknown = states(["A"]).assign(level_var=1.0, rate_var=0.0, tau=0.0, sigma=0.01)
    assert known["A"] < 0.01
    assert told_by_reading(unknown)["A"] > 0.99


@pytest.mark.parametrize("parts", [24, 36])
def test_the_first_fifth_of_the_list_saves_most_of_what_all_readings_save(parts):
    """Half of the wear points were read last winter, as at railways (the demo's first fifth holds 100 %)."""
    saved = []
    for seed in range(8):
        table = listed(parts, lately=0.5, seed=seed)
        assert list(table.columns) == COLUMNS
        assert (table["saves"] > 0).all()
        assert table["saves_per_minute"].is_monotonic_decreasing
        first = table.head(int(np.ceil(0.2 * parts)))  # a fifth of all that could be measured
        saved.append(first["saves"].sum() / table["saves"].sum())
    assert np.mean(saved) >= 0.6


def test_readings_that_tell_nothing_save_next_to_nothing():
    told, untold = listed()["saves"].sum(), listed(known_level=True)["saves"].sum()
    assert untold < 0.2 * told


def test_the_walk_is_the_one_that_is_given_among_what_is_listed():
    table = listed()
    assert table.sort_values("stop")["point"].tolist() == sorted(table["point"], key=WALK.__getitem__)
    assert sorted(table["stop"]) == list(range(1, len(table) + 1))
