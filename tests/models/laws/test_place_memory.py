"""What a position remembers: learned when it is there, not seen when it is not, used rightly."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from models.distribution import PROBABILITIES
from models.laws.place_memory import LifeRates, learn_memory, remembered
from models.lives.table import Lives
from models.wear.model import PooledWear

HALF = int(np.flatnonzero(PROBABILITIES == 0.5)[0])


def rates(share, places=300, lives=3, noise=0.3, seed=1):
    """Rates of mean 1 and spread 0.25 with sampling errors, and the place of each life."""
    rng = np.random.default_rng(seed)
    place = np.repeat(np.arange(places), lives)
    own = rng.standard_normal(len(place))
    true = 1 + 0.25 * (np.sqrt(share) * rng.standard_normal(places)[place] + np.sqrt(1 - share) * own)
    sampling = (noise * 0.25) ** 2
    seen = true + np.sqrt(sampling) * rng.standard_normal(len(place))
    n = len(place)
    return LifeRates(seen, np.full(n, sampling), np.ones(n), np.full(n, 0.25)), place


@pytest.mark.parametrize("share", [0.0, 0.3, 0.6])
def test_the_share_is_learned(share):
    # 900 pairs: standard deviation of the share about 0.05; three of them.
    assert learn_memory(*rates(share)) == pytest.approx(share, abs=0.15)


def test_a_fast_place_shifts_its_next_part_and_makes_it_surer():
    found = LifeRates(
        rate=np.array([1.5, 1.5, 1.0, 1.0]),
        var=np.array([1e-6, 1e-6, np.inf, np.inf]),
        mean=np.ones(4),
        spread=np.full(4, 0.25),
    )
    shift, keep = remembered(found, np.array([0, 0, 0, 1]), 0.5)
    # Two exact lives 2 spreads fast, weight 2/0.5 against 1/0.5: place 2 x 4/6 fast, variance 0.5 + 1/6.
    assert_allclose([shift[2], keep[2]], [4 / 3, 0.5 + 1 / 6], rtol=1e-4)
    assert_allclose([shift[3], keep[3]], [0, 1])
    assert 0 < shift[0] < shift[2]


def test_without_memory_nothing_changes():
    found, place = rates(0.3)
    shift, keep = remembered(found, place, 0.0)
    assert not shift.any()
    assert (keep == 1).all()


def record(share, seed=4):
    """Eight places, four lives each; three ended, one just begun without a reading."""
    rng = np.random.default_rng(seed)
    families, places, lives = 12, 8, 4
    family = np.repeat(np.arange(families), places * lives)
    place = np.repeat(np.arange(families * places), lives)
    own = rng.standard_normal(len(place))
    of_place = rng.standard_normal(families * places)[place]
    speed = 1 + 0.3 * (np.sqrt(share) * of_place + np.sqrt(1 - share) * own)
    speed = np.maximum(speed, 0.2) / 40_000
    miles = np.tile(np.linspace(3000, 24_000, 6), (len(place), 1))
    wear = speed[:, None] * miles + 0.01 * rng.standard_normal(miles.shape)
    new = np.tile([False, False, False, True], families * places)
    wear[new] = np.nan
    lives = Lives(
        family=family,
        miles=np.where(new[:, None], np.nan, miles),
        wear=wear,
        limit=np.ones(len(place)),
        gauge_sd=np.full(miles.shape, np.nan),
        as_of_miles=np.where(new, 0.0, np.nan),
        ended=~new,
        day=miles,
        place=place,
    )
    return lives, new, speed


def test_forecasts_of_new_parts_are_nearer_the_truth_with_memory():
    lives, new, speed = record(share=0.7)
    truth = 1 / speed[new]
    with_memory = PooledWear(shapes=False).fit(lives)
    without = PooledWear(shapes=False).fit(replace(lives, place=None))
    error = [
        np.abs(m.predict_remaining(PROBABILITIES)[new, HALF] - truth).mean() for m in (with_memory, without)
    ]
    assert with_memory.memory_share_ == pytest.approx(0.7, abs=0.2)
    assert error[0] < 0.85 * error[1]
