"""What the families of a store teach each other before their own readings are weighed."""

import numpy as np
import pytest

from models.wear.hyper import learn_start
from models.wear.priors import Priors
from models.wear.shapes import SHAPES, STRAIGHT


def test_where_wear_is_straight_the_spread_of_mean_starts_is_learned():
    """Forty families whose readings tell their mean start to 0.005. Where all start alike 0.006 is about what
    two families' worth of the assumed spread leave (0.007 in 200 draws); tolerance: three standard errors of
    the spread of forty."""
    rng = np.random.default_rng(5)
    var = np.full(40, 1.0 / (1.0 / 0.005**2 + 1.0 / 0.03**2))
    for true in (0.0, 0.01, 0.06):
        said = true * rng.standard_normal(40) + 0.005 * rng.standard_normal(40)
        learned = learn_start(said * var / 0.005**2, var, np.ones(40), Priors()).straight_start_sd
        assert learned == pytest.approx(np.hypot(true, 0.006), rel=0.4)
        bent = learn_start(said * var / 0.005**2, var, np.full(40, 0.6), Priors())
        assert bent.straight_start_sd == pytest.approx(0.03)
    assert Priors(straight_start_sd=0.004).under(SHAPES[1], np.ones(1)).start_sd == 0.03
    assert Priors(straight_start_sd=0.004).under(STRAIGHT, np.ones(1)).start_sd == 0.004


@pytest.mark.parametrize("start", [0.0, 0.02])
def test_a_single_family_teaches_the_spread_of_mean_starts_nothing(start):
    var = np.array([1.0 / (1.0 / 0.005**2 + 1.0 / 0.03**2)])
    learned = learn_start(np.array([start]), var, np.ones(1), Priors())
    assert learned.straight_start_sd == pytest.approx(0.03)
