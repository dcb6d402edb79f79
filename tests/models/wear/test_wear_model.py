"""The wear model on simulated fleets: units do not matter, truth is covered, the odd reading is named."""

from dataclasses import replace

import numpy as np
import pytest
from fleets.simulate import FleetPlan, simulate_fleet
from numpy.testing import assert_allclose

from models.distribution import PROBABILITIES
from models.lives.table import Lives
from models.wear import shape_fits
from models.wear.model import PooledWear

TEN, HALF, NINETY = (int(np.flatnonzero(p == PROBABILITIES)[0]) for p in (0.1, 0.5, 0.9))


def fleet(seed=11, **plan):
    return simulate_fleet(np.random.default_rng(seed), FleetPlan(**{"n_families": 12, **plan}))


def lives_of(fleet):
    return Lives(**fleet.arrays)


def forecast(lives):
    return PooledWear().fit(lives).predict_remaining(PROBABILITIES)


@pytest.fixture(scope="module")
def straight():
    return fleet()


@pytest.fixture(scope="module")
def forecast_of_straight(straight):
    return forecast(lives_of(straight))


@pytest.mark.parametrize(("distance", "wear"), [(1.609344, 1.0), (1.0, 1 / 25.4), (1e-6, 1e5)])
def test_units_of_distance_and_of_wear_do_not_matter(straight, forecast_of_straight, distance, wear):
    lives = lives_of(straight)
    other = replace(
        lives,
        miles=lives.miles * distance,
        as_of_miles=lives.as_of_miles * distance,
        wear=lives.wear * wear,
        limit=lives.limit * wear,
        gauge_sd=lives.gauge_sd * wear,
    )
    assert_allclose(forecast(other) / distance, forecast_of_straight, rtol=1e-6, atol=1e-6)


def test_order_of_the_lives_does_not_matter(straight, forecast_of_straight):
    lives = lives_of(straight)
    order = np.random.default_rng(3).permutation(len(lives.family))
    shuffled = Lives(**{k: v[order] for k, v in straight.arrays.items()})
    assert_allclose(forecast(shuffled), forecast_of_straight[order], rtol=1e-5, atol=1.0)


def test_quantiles_grow_and_are_never_negative(forecast_of_straight):
    assert (np.diff(forecast_of_straight, axis=1) >= 0).all()
    assert (forecast_of_straight >= 0).all()


@pytest.mark.parametrize("shape", ["straight", "accelerating", "decelerating"])
def test_the_80_per_cent_interval_covers_about_80_per_cent(shape):
    # 40 families x 8 lives: binomial sd of the cover 2.2 %, more within a family; three of those each way.
    simulated = fleet(seed=5, n_families=40, shape=shape)
    served = ~simulated.arrays["ended"]
    found, truth = forecast(lives_of(simulated))[served], simulated.remaining[served]
    inside = (truth >= found[:, TEN]) & (truth <= found[:, NINETY])
    assert 0.72 < inside.mean() < 0.9


def test_a_nearly_noise_free_family_stays_finite():
    miles = np.tile(np.arange(1.0, 7.0) * 1000, (5, 1))
    rate = np.linspace(0.9, 1.1, 5)[:, None] / 20_000
    lives = Lives(
        family=np.zeros(5, int),
        miles=miles,
        wear=rate * miles,
        limit=np.ones(5),
        gauge_sd=np.full(miles.shape, np.nan),
        as_of_miles=miles[:, -1],
        ended=np.zeros(5, bool),
        day=miles,
    )
    found = forecast(lives)
    truth = 1 / rate[:, 0] - 6000
    assert np.isfinite(found).all()
    assert_allclose(found[:, HALF], truth, rtol=0.1)
    assert (found[:, NINETY] - found[:, TEN] < 0.6 * truth).all()


def test_a_wild_reading_is_named_and_hardly_moves_the_forecast(straight):
    lives = lives_of(straight)
    current = np.flatnonzero(~lives.ended & (lives.count >= 6))
    life = current[0]
    gauge = straight.families.gauge[lives.family[life]] * lives.limit[life]
    wear = lives.wear.copy()
    wear[life, 3] += 12 * gauge
    model = PooledWear().fit(replace(lives, wear=wear))
    assert model.wild_[model.row_of_[life], 3] > 0.9
    before = PooledWear().fit(lives).predict_remaining(PROBABILITIES)[life]
    after = model.predict_remaining(PROBABILITIES)[life]
    blind = PooledWear(wild_rounds=0).fit(replace(lives, wear=wear)).predict_remaining(PROBABILITIES)[life]
    assert abs(after[HALF] - before[HALF]) < 0.1 * (before[NINETY] - before[TEN])
    assert abs(blind[NINETY] - before[NINETY]) > abs(after[NINETY] - before[NINETY])


def test_more_wear_is_never_more_miles(straight, forecast_of_straight):
    lives = lives_of(straight)
    life = np.flatnonzero(~lives.ended & (lives.count >= 4))[0]
    last = lives.count[life] - 1
    wear = lives.wear.copy()
    wear[life, last] += 0.02 * lives.limit[life]
    assert forecast(replace(lives, wear=wear))[life, HALF] < forecast_of_straight[life, HALF]


def test_a_new_part_lives_about_the_family_s_mean_life(straight):
    lives = lives_of(straight)
    model = PooledWear().fit(lives)
    families = np.arange(lives.n_families)
    limit = np.array([lives.limit[lives.family == f][0] for f in families])
    found = model.new_lives(families, limit, PROBABILITIES)
    # Eight lives of spread up to 50 %: the mean life is known to about 20 %.
    assert_allclose(found[:, HALF], straight.families.mean_life, rtol=0.6)
    assert (found[:, NINETY] > found[:, TEN]).all()


def test_readings_ahead_are_covered(straight):
    lives = lives_of(straight)
    found = PooledWear().fit(lives).predict_readings(straight.later_miles, [0.1, 0.9])
    known = np.isfinite(straight.later_wear)
    inside = (straight.later_wear >= found[..., 0]) & (straight.later_wear <= found[..., 1])
    # 96 lives x 3 readings, the three of one life not independent: sd about 4 %.
    assert 0.68 < inside[known].mean() < 0.92


def test_shapes_given_up_early_would_have_weighed_nothing(monkeypatch):
    """Twelve families of every shape: looking at every shape of every family changes no weight by 2 %."""
    lives = lives_of(fleet(8, shape="mixed"))
    quick = PooledWear().fit(lives).shape_weight_
    monkeypatch.setattr(shape_fits, "GIVE_UP", np.inf)
    whole = PooledWear().fit(lives).shape_weight_
    assert (whole[1:] > 0.5).any()  # some bent shape is found
    assert_allclose(quick, whole, atol=0.02)
