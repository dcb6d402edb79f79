"""Differences within a family: found where they are, left alone where not, put back into the forecast."""

import numpy as np
import pandas as pd
import pytest

from models.distribution import PROBABILITIES
from models.laws.place_memory import LifeRates
from models.laws.rate_covariates import covariates_of_positions, screen
from models.lives.table import Lives
from models.score.scoring_rules import pinball
from models.wear.model import PooledWear

HALF = int(np.flatnonzero(PROBABILITIES == 0.5)[0])


@pytest.mark.parametrize(
    ("position", "wheelset", "side"),
    [
        ("driver 2 left", "2", "left"),
        ("#3 driver R.H.", "3", "right"),
        ("engine truck 1 right", "1", "right"),
        ("L2", "2", "left"),
        ("dome", "", ""),
        (None, "", ""),
    ],
)
def test_positions_tell_wheelset_and_side(position, wheelset, side):
    found = covariates_of_positions(pd.Series([position])).iloc[0]
    assert (found["wheelset"], found["side"]) == (wheelset, side)


def rates(effect, families=30, lives=16, seed=0):
    rng = np.random.default_rng(seed)
    n = families * lives
    family = np.repeat(np.arange(families), lives)
    wheelset = np.tile(np.repeat([1, 2], lives // 2), families).astype(str)
    true = 1 + 0.1 * rng.standard_normal(n) + np.where(wheelset == "1", effect, -effect)
    seen = LifeRates(true + 0.03 * rng.standard_normal(n), np.full(n, 9e-4), np.ones(n), np.full(n, 0.1))
    return seen, family, pd.DataFrame({"wheelset": wheelset, "side": ""})


def test_nothing_is_kept_where_nothing_differs():
    offset, kept = screen(*rates(0.0))
    assert kept == []
    assert not offset.any()


def test_a_difference_is_kept_and_about_right():
    offset, kept = screen(*rates(0.3))
    assert len(kept) == 30
    # Mean of eight rates known to 0.104: standard deviation 0.04, shrunk a little; four of those.
    assert np.abs(offset).mean() == pytest.approx(0.3, abs=0.05)
    assert all(abs(e.levels["1"] - 1.3) < 0.16 and abs(e.levels["2"] - 0.7) < 0.16 for e in kept)


FEW = 6


def two_wheelsets(seed):
    """One family of 24 parts, those of one wheelset twice as fast; the first six are read once, the others
    five times. Lives, wheelsets, miles left to each."""
    rng = np.random.default_rng(seed)
    n = 24
    fast = np.arange(n) % 2 == 0
    speed = np.where(fast, 1.4, 0.7) * (1 + 0.05 * rng.standard_normal(n)) / 40_000
    miles = np.tile(np.linspace(2000, 12_000, 5), (n, 1))
    wear = speed[:, None] * miles + 0.01 * rng.standard_normal(miles.shape)
    wear[:FEW, 1:] = np.nan
    lives = Lives(
        family=np.zeros(n, int),
        miles=np.where(np.isfinite(wear), miles, np.nan),
        wear=wear,
        limit=np.ones(n),
        gauge_sd=np.full(miles.shape, np.nan),
        as_of_miles=np.full(n, 12_000.0),
        ended=np.zeros(n, bool),
        day=miles,
    )
    wheelsets = pd.DataFrame({"wheelset": np.where(fast, "1", "2"), "side": ""})
    return lives, wheelsets, 1 / speed - 12_000


def test_a_kept_difference_sharpens_the_forecast():
    """Ten fleets, each beside itself: the parts that are read once lose 0.61 (standard error 0.04) of what
    they lose where nobody tells the wheelsets, two families of their own 0.58; with four fifths of the
    difference 0.86, with half of it 1.02."""
    ratios = []
    for seed in range(10):
        lives, wheelsets, truth = two_wheelsets(seed)
        model = PooledWear().fit(lives, covariates=wheelsets)
        assert [e.covariate for e in model.effects_] == ["wheelset"]
        found = model.predict_remaining(PROBABILITIES)
        blind = PooledWear().fit(lives).predict_remaining(PROBABILITIES)
        loss = [pinball(said[:FEW], PROBABILITIES, truth[:FEW]).mean() for said in (found, blind)]
        ratios.append(loss[0] / loss[1])
        assert (np.abs(found[FEW:, HALF] / truth[FEW:] - 1) < 0.2).all()
    assert max(ratios) < 1.0
    assert np.mean(ratios) < 0.73  # three standard errors more
