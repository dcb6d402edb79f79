"""When to renew a part that ages: an example with printed inputs, its root found independently.

Source: the worked example of age replacement in ReliaWiki, *Introduction to Repairable Systems*, "Optimum
Replacement Time": Weibull, shape 2.5, scale 1000 h, cost of a planned replacement 1, of an unplanned one 5;
printed optimum 493.0470 (recalled), formula and inputs read. The root and its cost, 493.04696 and
0.00346204274, were found by solving the formula with numerical integration; block replacement of the same
part (renewal function by convolution): 478.41.
"""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.stats import weibull_min

from models.distribution import PROBABILITIES
from models.plan.economics import cheapest_age, cost_per_mile

LIFE = weibull_min(2.5, scale=1000.0)
PLANNED, UNPLANNED = 1.0, 5.0


def test_cheapest_age_and_cost_equal_the_published_example():
    age = np.linspace(0.0, 3000.0, 300_001)
    rate = cost_per_mile(age, LIFE.sf(age), PLANNED, UNPLANNED)
    best = int(np.argmin(rate))
    assert age[best] == pytest.approx(
        493.04696, abs=0.5
    )  # the minimum is flat: cost differs in the 7th digit
    assert rate[best] == pytest.approx(0.00346204274, abs=1e-10)
    assert rate[-1] == pytest.approx(UNPLANNED / LIFE.mean(), rel=1e-6)  # run to the limit


def test_root_of_the_formula_is_the_published_one():
    def slope(age):
        area = quad(LIFE.sf, 0, age)[0]
        hazard = LIFE.pdf(age) / LIFE.sf(age)
        return (UNPLANNED - PLANNED) * (hazard * area - LIFE.cdf(age)) - PLANNED

    assert brentq(slope, 100, 1000) == pytest.approx(493.04696, abs=5e-6)


def test_stored_quantiles_give_the_same_age_within_their_grid():
    # 33 stored quantiles, straight between them: the flat optimum moves by some per cent, its cost by far
    # less.
    found = cheapest_age(LIFE.ppf(PROBABILITIES)[None, :], np.array([PLANNED]), np.array([UNPLANNED]))[0]
    assert found == pytest.approx(493.04696, rel=0.05)
    area = quad(LIFE.sf, 0, found)[0]
    cost = (PLANNED * LIFE.sf(found) + UNPLANNED * LIFE.cdf(found)) / area
    assert cost == pytest.approx(0.00346204274, rel=2e-3)


def test_no_reason_to_renew_early_without_ageing_or_without_extra_cost():
    assert cheapest_age(LIFE.ppf(PROBABILITIES)[None, :], np.array([5.0]), np.array([5.0]))[0] == np.inf
