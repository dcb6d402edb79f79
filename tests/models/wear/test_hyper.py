"""What the families of a store teach each other before their own readings are weighed."""

import numpy as np
import pytest

from models.wear.hyper import learn_start
from models.wear.priors import Priors
from models.wear.shapes import SHAPES, STRAIGHT


def fitted_starts(said, told_to):
    """Mean and variance of each family's start, fitted with what is assumed, where its readings say ``said``
    to within ``told_to``."""
    var = 1.0 / (1.0 / told_to**2 + 1.0 / 0.03**2)
    return said * var / told_to**2, np.full(len(said), var)


@pytest.mark.parametrize("told_to", [0.005, 0.02])
@pytest.mark.parametrize("true", [0.03, 0.06])
def test_where_wear_is_straight_the_spread_of_mean_starts_is_learned(true, told_to):
    """A thousand families; in sixty draws of them 0.030 and 0.060, by chance 0.0006 to 0.0013 off."""
    rng = np.random.default_rng(5)
    said = true * rng.standard_normal(1000) + told_to * rng.standard_normal(1000)
    fitted = fitted_starts(said, told_to)
    assert learn_start(*fitted, np.ones(1000), Priors()).straight_start_sd == pytest.approx(true, rel=0.08)
    bent = learn_start(*fitted, np.full(1000, 0.6), Priors())
    assert bent.straight_start_sd == pytest.approx(0.03)


def test_where_all_families_start_alike_little_is_left_of_the_assumed_spread():
    """Forty families that start as new: 0.0071 in 200 draws, by chance 0.0002 off."""
    said = 0.005 * np.random.default_rng(5).standard_normal(40)
    learned = learn_start(*fitted_starts(said, 0.005), np.ones(40), Priors())
    assert learned.straight_start_sd == pytest.approx(0.0071, abs=0.0008)


def test_the_spread_that_is_learned_holds_under_straight_wear_alone():
    assert Priors(straight_start_sd=0.004).under(SHAPES[1], np.ones(1)).start_sd == 0.03
    assert Priors(straight_start_sd=0.004).under(STRAIGHT, np.ones(1)).start_sd == 0.004


@pytest.mark.parametrize("start", [0.0, 0.02])
def test_a_single_family_teaches_the_spread_of_mean_starts_nothing(start):
    learned = learn_start(*fitted_starts(np.array([start]), 0.005), np.ones(1), Priors())
    assert learned.straight_start_sd == pytest.approx(0.03)
