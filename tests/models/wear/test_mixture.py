"""Quantiles of a mixture: against many more distances, against known normals, against scipy's own cubic."""

import numpy as np
import pytest
from fleets.simulate import FleetPlan, simulate_fleet
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import stats
from scipy.interpolate import PchipInterpolator

from models.distribution import PROBABILITIES
from models.lives.table import Lives
from models.wear import mixture
from models.wear.mixture import FINE_POINTS, crossing_quantiles, reading_quantiles
from models.wear.model import PooledWear

BETWEEN = (PROBABILITIES >= 0.01) & (PROBABILITIES <= 0.99)
SCORES = stats.norm.ppf(PROBABILITIES)


def fit(shape):
    fleet = simulate_fleet(np.random.default_rng(11), FleetPlan(n_families=12, shape=shape))
    return PooledWear().fit(Lives(**fleet.arrays))


@pytest.fixture(scope="module", params=["straight", "accelerating", "mixed"])
def fitted(request):
    return fit(request.param)


def test_few_distances_give_what_many_give(fitted, monkeypatch):
    as_of = fitted.relative_.as_of
    found, before = crossing_quantiles(fitted.components_, as_of, SCORES)
    monkeypatch.setattr(mixture, "LOOK_POINTS", 60)
    exact, certain = crossing_quantiles(fitted.components_, as_of, SCORES, 800)
    assert_allclose(before, certain, rtol=1e-12)
    width = exact[:, PROBABILITIES == 0.9] - exact[:, PROBABILITIES == 0.1]
    ahead = exact[:, np.flatnonzero(PROBABILITIES == 0.1)[0]] > 0  # those that may still be in order
    away = (np.abs(found - exact) / np.where(width > 0, width, 1.0))[ahead][:, BETWEEN]
    # Twice what the docstring states of the mean and of the largest, for twelve families instead of forty.
    assert away.mean() < 0.008
    assert (away > 0.05).mean() < 0.006


def test_a_life_of_one_normal_has_its_quantiles_to_the_last_digit():
    model = fit("straight")
    straight = model.components_[0].heaviest(1)
    at = model.relative_.as_of[:, None] * np.array([1.0, 1.5])
    found = reading_quantiles([straight], at, SCORES, with_gauge=True)
    searched = mixture._searched([straight], at, SCORES, True, 2000)
    assert_allclose(found, searched, atol=1e-6)
    away = found - found[..., PROBABILITIES == 0.5]
    assert_allclose(away, -away[..., ::-1], atol=1e-12)  # a normal is even


def test_lives_of_one_and_of_several_normals_are_told_apart(fitted):
    at = fitted.relative_.as_of[:, None]
    together = reading_quantiles(fitted.components_, at, SCORES, with_gauge=False)
    assert np.isfinite(together).all()
    assert (np.diff(together, axis=-1) >= 0).all()


rising = st.lists(st.floats(0.01, 3.0), min_size=4, max_size=12)


@given(rising, rising)
def test_the_slopes_are_those_of_scipy_s_monotone_cubic(steps, rises):
    n = min(len(steps), len(rises))
    x, y = np.cumsum(steps[:n]), np.cumsum(rises[:n])
    slopes = mixture._rising_slopes(x[None], y[None], 0)[0]
    expected = PchipInterpolator(x, y).derivative()(x)
    assert_allclose(slopes[1:-1], expected[1:-1], rtol=1e-9)
    # At the ends scipy looks at two steps, here the end's own step is carried on.
    assert slopes[0] == pytest.approx((y[1] - y[0]) / (x[1] - x[0]))


@given(
    st.lists(st.floats(0.0, 1.0), min_size=3, max_size=20).map(sorted),
    st.lists(st.floats(1e-3, 2.0), min_size=20, max_size=20),
)
def test_quantiles_only_rise_and_meet_the_grid(chance, steps):
    chance = np.array([chance])
    at = np.concatenate([[0.0], np.cumsum(steps)[: chance.shape[1] - 1]])[None]
    for geometric in (False, True):
        found = mixture._invert(chance, at, SCORES, geometric=geometric)[0]
        assert np.isfinite(found).all()
        assert (np.diff(found) >= -1e-9 * found[1:]).all()
        inside = (chance[0, 0] < PROBABILITIES) & (chance[0, -1] > PROBABILITIES)
        place = np.searchsorted(chance[0], PROBABILITIES[inside])
        assert (found[inside] <= at[0, place] * (1 + 1e-6) + 1e-9).all()
        assert (found[inside] >= at[0, place - 1] * (1 - 1e-6) - 1e-9).all()


def test_what_few_lives_will_read_is_found_between_close_wears():
    """Three lives leave some light pairs of great spread: with even steps over all that these reach, the
    median of the next reading was off by more than the whole interval."""
    miles = np.array([[4000.0, 9000, 15_000], [5000.0, 11_000, 14_000], [3000.0, 8000, 16_000]])
    lives = Lives(
        family=np.zeros(3, dtype=int),
        miles=miles,
        wear=np.array([[0.11, 0.22, 0.39], [0.09, 0.23, 0.27], [0.09, 0.20, 0.42]]),
        limit=np.ones(3),
        gauge_sd=np.full((3, 3), 0.01),
        as_of_miles=miles[:, -1],
        day=miles,
        ended=np.zeros(3, dtype=bool),
    )
    model = PooledWear().fit(lives)
    at = (miles[:, -1:] + 10_000) / model.relative_.life[0]
    scores = np.array([-1.3, 0.0, 1.3])
    usual, exact = (reading_quantiles(model.components_, at, scores, True, n) for n in (32, 3000))
    assert usual == pytest.approx(exact, abs=0.01 * (exact[0, 0, 2] - exact[0, 0, 0]))
    far = crossing_quantiles(model.components_, model.relative_.as_of, scores, 3000)[0]
    said = crossing_quantiles(model.components_, model.relative_.as_of, scores, FINE_POINTS)[0]
    assert said == pytest.approx(far, rel=0.012)
