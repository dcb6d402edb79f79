"""Mixtures of distributions: held against normal mixtures worked out on a fine grid."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from models.combined.pool import pooled, pooled_miles
from models.distribution import PROBABILITIES


def test_a_mixture_of_normals_has_the_quantiles_of_its_distribution_function():
    """The chance below each quantile is the weighed chance of the two."""
    one, other = norm(0.0, 1.0), norm(3.0, 0.5)
    said = np.stack([one.ppf(PROBABILITIES), other.ppf(PROBABILITIES)])[:, None]
    found = pooled(said, np.array([[0.7], [0.3]]), PROBABILITIES)[0]
    chance = 0.7 * one.cdf(found) + 0.3 * other.cdf(found)
    inside = (PROBABILITIES > 0.005) & (PROBABILITIES < 0.995)
    np.testing.assert_allclose(chance[inside], PROBABILITIES[inside], atol=0.004)


@given(st.floats(0.0, 1.0), st.integers(0, 2**32 - 1))
def test_quantiles_stay_ordered_and_between_those_of_the_two(weight, seed):
    rng = np.random.default_rng(seed)
    said = np.sort(rng.lognormal(9, 2, (2, 4, len(PROBABILITIES))), axis=2)
    said[0, 0, :5], said[1, 1, -6:] = 0.0, np.inf
    share = np.full((1, 4), weight)
    found = pooled_miles(said, np.concatenate([1 - share, share]), np.zeros(4), PROBABILITIES)
    assert (found[:, 1:] >= found[:, :-1]).all()
    assert (found >= said.min(axis=(0, 2))[:, None] * 0.999 - 1e-5).all()


def test_the_whole_weight_on_one_is_that_one_and_what_is_over_is_nothing_left():
    said = np.stack([np.linspace(10, 50, 33), np.linspace(100, 900, 33)])[:, None]
    alone = pooled_miles(said, np.array([[1.0], [0.0]]), np.zeros(1), PROBABILITIES)
    np.testing.assert_allclose(alone, said[0], rtol=1e-6)
    over = pooled_miles(said, np.array([[0.5], [0.5]]), np.array([0.3]), PROBABILITIES)[0]
    assert (over[PROBABILITIES <= 0.3] == 0).all()
    assert (over[PROBABILITIES > 0.3] > 0).all()


def test_a_forecaster_that_never_gets_there_takes_its_weight_out_of_the_far_end_alone():
    never = np.full(33, np.inf)
    said = np.stack([np.linspace(10, 50, 33), never])[:, None]
    found = pooled_miles(said, np.array([[0.6], [0.4]]), np.zeros(1), PROBABILITIES)[0]
    assert found[PROBABILITIES == 0.3][0] == pytest.approx(30, rel=0.1)
    assert np.isinf(found[PROBABILITIES == 0.9][0])
