"""Laws of life against scipy, the posterior against what it was drawn from, miles left against the laws."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad
from scipy.stats import lognorm, weibull_min

from models.lifetimes.ahead import new_life, remaining
from models.lifetimes.laws import PER_SHAPE, Lognormal, Weibull
from models.lifetimes.posterior import Ended, Posterior, Prior, posterior

MEDIAN, SPREAD = 40_000.0, 0.3
SHAPE = 1.0 / (PER_SHAPE * SPREAD)
TRUE = {
    0: weibull_min(SHAPE, scale=MEDIAN / np.log(2) ** (1 / SHAPE)),
    1: lognorm(SPREAD, scale=MEDIAN),
}
LAW = {0: Weibull(), 1: Lognormal()}
PRIOR = Prior(float(np.log(0.39)), 0.48, 0.1)
MILES = np.array([0.0, 10.0, 10_000.0, 39_000.0, 60_000.0, 120_000.0])


def one_node(law):
    return Posterior(np.array([law]), np.log([MEDIAN]), np.array([SPREAD]), np.ones(1))


@pytest.mark.parametrize("law", [0, 1])
def test_laws_are_those_of_scipy(law):
    at = np.array(np.log(MEDIAN)), np.array(SPREAD)
    assert_allclose(LAW[law].log_survival(MILES, *at), TRUE[law].logsf(MILES), rtol=1e-10, atol=1e-300)
    low, high = MILES[1:], np.array([20.0, 11_000.0, 40_000.0, 90_000.0, np.inf])
    chance = TRUE[law].cdf(high) - TRUE[law].cdf(low)
    near = np.array([2, 3])  # where the difference of two chances keeps its digits
    assert_allclose(np.exp(LAW[law].log_chance(low, high, *at)[near]), chance[near], rtol=1e-9)
    assert_allclose(LAW[law].log_chance(low, high, *at)[-1], TRUE[law].logsf(low[-1]), rtol=1e-9)
    assert np.isfinite(LAW[law].log_chance(low, high, *at)).all()
    beyond = [quad(TRUE[law].sf, x, 1e6, points=[40_000])[0] for x in MILES]
    assert_allclose(LAW[law].miles_beyond(MILES, *at), beyond, rtol=1e-5, atol=1e-6)


@pytest.mark.parametrize("law", [0, 1])
def test_miles_left_are_those_of_the_law(law):
    p = np.array([0.05, 0.5, 0.95])
    found = one_node(law)
    assert_allclose(new_life(found, p), TRUE[law].ppf(p), rtol=1e-6)
    ran = 38_000.0
    left = remaining(found, ran, from_new=True, probabilities=p)
    assert_allclose(TRUE[law].sf(ran + left) / TRUE[law].sf(ran), 1 - p, rtol=1e-6)
    # Of unknown age: parts met at a random mile have the survival's own integral left.
    left = remaining(found, 0.0, from_new=False, probabilities=p)
    ahead = [quad(TRUE[law].sf, x, 1e6, points=[40_000])[0] for x in left]
    assert_allclose(np.array(ahead) / TRUE[law].mean(), 1 - p, rtol=1e-5)


def drawn(rng, law, median, spread, n):
    score = rng.standard_normal(n) if law else np.log(rng.exponential(size=n) / np.log(2)) * PER_SHAPE
    return median * np.exp(spread * score)


def test_next_lives_fall_where_they_are_said_to():
    """150 families of 6 lives and a part in service after so many miles, laws drawn from the prior.

    The share of next lives inside the interval from 10 to 90 % has the standard deviation 3.3 % by chance.
    """
    rng = np.random.default_rng(8)
    inside, below = [], []
    for i in range(150):
        law, spread = i % 2, float(np.exp(PRIOR.log_spread + PRIOR.log_spread_sd * rng.standard_normal()))
        lives, new = drawn(rng, law, MEDIAN, spread, 6), drawn(rng, law, MEDIAN, spread, 1)[0]
        ran = MEDIAN * rng.uniform()
        own = next(life for life in drawn(rng, law, MEDIAN, spread, 1000) if life > ran)
        found = posterior(
            Ended(
                np.append(lives * 0.999, ran),
                np.append(lives * 1.001, np.inf),
                np.zeros(7, dtype=bool),
            ),
            PRIOR,
        )
        p = np.array([0.1, 0.9])
        low, high = new_life(found, p)
        inside.append(low < new < high)
        low, high = remaining(found, ran, from_new=True, probabilities=p)
        below.append(own - ran < low)
    assert np.mean(inside) == pytest.approx(0.8, abs=0.08)
    assert np.mean(below) == pytest.approx(0.1, abs=0.06)


def test_posterior_finds_what_many_lives_have_and_the_law_they_follow():
    """1,000 lives: the median is known to 1 %, the spread to 3 %, and which law it was beyond doubt."""
    for law in (0, 1):
        lives = drawn(np.random.default_rng(3), law, MEDIAN, SPREAD, 1000)
        found = posterior(Ended(lives * 0.999, lives * 1.001, np.zeros(1000, bool)), PRIOR)
        assert found.weight[found.law == law].sum() > 0.99
        assert np.exp(found.weight @ found.log_median) == pytest.approx(MEDIAN, rel=0.03)
        assert found.weight @ found.spread == pytest.approx(SPREAD, rel=0.09)
        assert len(found.weight) > 50  # the grid has found its place


def test_one_part_that_came_off_after_a_few_miles_does_not_shorten_the_others():
    lives = np.full(10, MEDIAN)
    p = np.array([0.05, 0.5, 0.95])

    def said(ran, untold):
        return new_life(posterior(Ended(0.9 * ran, ran, np.full(len(ran), untold)), PRIOR), p)

    alone, beside = said(lives, True), said(np.append(lives, 10.0), True)
    assert_allclose(beside, alone, rtol=0.03)
    assert said(np.append(lives, 10.0), False)[0] < 0.5 * alone[0]  # told to be worn: it counts in full


def test_lives_that_are_not_over_make_them_longer():
    lives = np.full(4, MEDIAN)
    p = np.array([0.05, 0.5, 0.95])
    told = np.zeros(8, dtype=bool)
    short = posterior(Ended(0.9 * lives, 1.1 * lives, told[:4]), PRIOR)
    low = np.concatenate([0.9 * lives, 1.5 * lives])
    long = posterior(Ended(low, np.concatenate([1.1 * lives, np.full(4, np.inf)]), told), PRIOR)
    assert (new_life(long, p)[1:] > new_life(short, p)[1:]).all()


def test_same_lives_in_another_order_or_unit_give_the_same_miles():
    rng = np.random.default_rng(1)
    lives = drawn(rng, 0, MEDIAN, SPREAD, 12)
    p = np.array([0.05, 0.5, 0.95])
    first = new_life(posterior(Ended(0.9 * lives, lives, np.ones(12, bool)), PRIOR), p)
    turned = new_life(posterior(Ended(0.9 * lives[::-1], lives[::-1], np.ones(12, bool)), PRIOR), p)
    assert_allclose(turned, first, rtol=1e-9)
    km = lives * 1.609344
    in_km = new_life(posterior(Ended(0.9 * km, km, np.ones(12, bool)), PRIOR), p)
    assert_allclose(in_km / 1.609344, first, rtol=1e-6)
