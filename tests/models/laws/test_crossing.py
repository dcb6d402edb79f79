"""The closed form against quadrature and its own limits; published cases are in ``tests/published``."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from models.laws.crossing import crossing_chance, ever_crossing_chance, near_limit

NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(80)
WEIGHTS = WEIGHTS / WEIGHTS.sum()


def by_quadrature(d, h, b, level_var, rate_var, cov, tau2):
    """Level integrated over its normal, the rate's normal given the level in closed form."""
    sd = np.sqrt(level_var)
    total = np.zeros_like(d)
    for node, weight in zip(NODES, WEIGHTS, strict=True):
        rate, var = b + cov / sd * node, rate_var - cov**2 / level_var
        total += weight * crossing_chance(rate * d, var * d**2, tau2 * d, np.full(d.shape, h - sd * node))
    return total


# Level's spread over the wear left, and the largest error that the docstring admits for it.
@pytest.mark.parametrize(
    ("left", "level_sd", "error"), [(0.5, 0.04, 0.001), (0.1, 0.04, 0.006), (0.05, 0.05, 0.025)]
)
def test_a_doubtful_level_is_carried_as_the_docstring_says(left, level_sd, error):
    d = np.linspace(0.005, 1.5, 60)
    b, rate_var, tau2 = 1.0, 0.04, 0.005
    cov = 0.4 * level_sd * np.sqrt(rate_var)
    exact = by_quadrature(d, left, b, level_sd**2, rate_var, cov, tau2)
    var = rate_var * d**2 + 2 * cov * d + level_sd**2
    found = crossing_chance(b * d, var, tau2 * d, np.full(d.shape, left))
    assert np.abs(found - exact).max() < error


def test_without_brownian_part_it_is_fieller():
    d = np.array([0.5, 1.0, 2.0])
    found = crossing_chance(1.0 * d, 0.09 * d**2, 1e-14 * d, np.ones(3))
    # Rate normal, path straight: crossed by d when the rate exceeds 1/d; Phi((1 - 1/d)/0.3).
    assert_allclose(found, [0.00042906, 0.5, 0.95220965], atol=1e-6)


def test_chance_grows_with_distance_and_ends_at_ever():
    d = np.geomspace(1e-3, 1e7, 200)
    chance = crossing_chance(0.4 * d, 0.09 * d**2, 0.01 * d, np.full(d.shape, 0.7))
    assert (np.diff(chance) >= -1e-12).all()
    ever = ever_crossing_chance(np.array(0.4), np.array(0.09), np.array(0.01), np.array(0.7))
    assert_allclose(chance[-1], ever, rtol=1e-5)
    assert ever < 1


def test_past_the_limit_it_is_certain_and_at_no_distance_impossible():
    assert crossing_chance(np.array(0.0), np.array(0.0), np.array(0.0), np.array(-0.1)) == 1
    assert crossing_chance(np.array(0.0), np.array(0.0), np.array(0.0), np.array(0.1)) == 0


def test_tiny_brownian_part_does_not_overflow():
    chance = crossing_chance(np.array(1e3), np.array(1e-20), np.array(1e-290), np.array(0.5))
    assert chance == pytest.approx(1.0)


@pytest.mark.parametrize("left", [-0.04, -0.01, 0.0, 0.02, 0.05])
def test_a_level_near_the_limit_has_reached_it_by_its_own_chance(left):
    """Against drawn levels, rates and paths; the level is known to 0.02, its covariance with the rate
    counts."""
    rng = np.random.default_rng(3)
    motion = tuple(np.array([x]) for x in (1.0, 0.04, 0.001, 0.02**2))
    d = np.array([[0.0, 0.005, 0.02, 0.05]])
    reached, ever = near_limit(np.array([left]), motion, np.array([0.01]), d, d)
    n = 20_000
    level, rate = rng.multivariate_normal([0.0, 1.0], [[0.02**2, 0.001], [0.001, 0.04]], n).T
    gone = level >= left
    assert reached[0, 0] == pytest.approx(gone.mean(), abs=0.012)
    steps, before = 40, 0.0
    for i, at in enumerate(d[0, 1:], start=1):
        for step in np.diff(np.linspace(before, at, steps + 1)):
            here, level = level, level + rate * step + 0.1 * np.sqrt(step) * rng.standard_normal(n)
            bridge = np.exp(-2 * np.maximum(left - here, 0) * np.maximum(left - level, 0) / (0.01 * step))
            gone |= (level >= left) | (rng.random(n) < bridge)
        before = at
        assert reached[0, i] == pytest.approx(gone.mean(), abs=0.015)
    assert ever[0] > 0.999
