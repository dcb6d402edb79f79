"""The wear model and its rival together: where few lives are known, and nowhere else."""

import numpy as np
from fleets.simulate import FleetPlan, simulate_fleet

from models.combined.combine import combine
from models.combined.weights import GRID, LEAST, Evidence
from models.distribution import PROBABILITIES
from models.lives.table import Lives
from models.wear.model import PooledWear


def fleet(n_families, n_lives=8, seed=7):
    plan = FleetPlan(n_families=n_families, n_lives=n_lives)
    return Lives(**simulate_fleet(np.random.default_rng(seed), plan).arrays)


def together(lives, record=None, asked=None):
    life = np.flatnonzero(~lives.ended) if asked is None else asked
    quantity = np.zeros(lives.n_families, dtype=int)
    return combine(lives, quantity, life, lambda some, _: PooledWear().fit(some, quantity), record)


def test_where_many_families_teach_no_rival_is_asked():
    found = together(fleet(20))
    assert found.rival is None
    assert not found.asked.size


def test_a_family_alone_gets_a_rival_whose_weight_its_own_past_moves():
    lives = fleet(1)
    found = together(lives)
    assert (found.weight > LEAST).all()
    assert len(np.unique(found.weight)) == 1
    against = [Evidence(400, np.linspace(1.0, 3.0, len(GRID)))]
    assert not together(lives, against).asked.size
    assert (together(lives, [Evidence(400, np.linspace(3.0, 1.0, len(GRID)))]).weight > 0.7).all()


def test_a_track_record_brings_a_rival_in_where_many_lives_teach():
    proven = [Evidence(400, np.linspace(3.0, 1.0, len(GRID)))]
    assert (together(fleet(8), proven).weight > LEAST).all()


def test_quantiles_and_the_chance_that_it_is_over_fit_each_other():
    lives = fleet(1, seed=3)
    life = np.flatnonzero(~lives.ended)
    found = together(lives)
    own = PooledWear().fit(lives).remaining(PROBABILITIES, life)
    rows = found.asked
    miles, over = found.remaining(own[0][rows], own[1][rows], PROBABILITIES)
    assert (miles[:, 1:] >= miles[:, :-1]).all()
    np.testing.assert_array_equal(miles == 0, over[:, None] >= PROBABILITIES)
    assert ((over >= 0) & (over <= 1)).all()


def test_a_life_alone_is_forecast_with_a_straight_line_beside_the_wear_model():
    lives = fleet(1, n_lives=1)
    found = together(lives.take(np.flatnonzero(~lives.ended)[:1]))
    assert list(found.name) == ["straight line"] * len(found.asked)
