"""A rate above zero: moments of the cut normal against scipy's, and nothing changed where it is sure."""

import numpy as np
import pytest
from scipy.stats import norm, truncnorm

from models.laws.never_back import never_back


@pytest.mark.parametrize("rate", [-8.0, -3.0, -1.0, 0.0, 0.5, 2.0, 5.0])
def test_mean_and_variance_are_those_of_the_normal_cut_at_zero(rate):
    p00, p01, p11 = np.array([4.0]), np.array([1.5]), np.array([3.0])
    a0, mu, cut, log_chance = never_back((np.array([0.2]), np.array([rate])), (p00, p01, p11))
    sd = np.sqrt(1.0 / (3.0 - 1.5**2 / 4.0))
    law = truncnorm(-rate / sd, np.inf, loc=rate, scale=sd)
    assert mu[0] == pytest.approx(law.mean(), rel=1e-6)
    assert 1.0 / (cut[0] - 1.5**2 / 4.0) == pytest.approx(law.var(), rel=1e-4)
    assert a0[0] == pytest.approx(0.2 - 1.5 / 4.0 * (law.mean() - rate))  # the start given the rate
    assert log_chance[0] == pytest.approx(norm.logsf(0.0, rate, sd))


def test_a_rate_far_below_zero_stays_finite_and_falls_off_as_an_exponential():
    one, none = np.ones(4), np.zeros(4)
    far = np.array([-20.0, -29.9, -30.1, -1e7])
    _, mu, precision, log_chance = never_back((none, far), (one, none, one))
    assert np.isfinite(log_chance).all()
    assert (mu > 0).all()
    np.testing.assert_allclose(mu[:3], -1.0 / far[:3], rtol=0.005)
    np.testing.assert_allclose(precision[:3], far[:3] ** 2, rtol=0.02)


def test_a_sure_rate_is_left_as_it_is_to_the_last_digit():
    mean = np.array([0.1, 0.2]), np.array([1.0, 0.8])
    precision = np.array([10.0, 20.0]), np.array([1.0, 2.0]), np.array([200.0, 300.0])
    a0, mu, p11, log_chance = never_back(mean, precision)
    for found, given in ((a0, mean[0]), (mu, mean[1]), (p11, precision[2]), (log_chance, np.zeros(2))):
        np.testing.assert_array_equal(found, given)
