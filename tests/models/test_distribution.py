"""Chances and miles read from stored quantiles, and the lower tail that the stored grid leaves open."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.special import ndtr, ndtri

from models.distribution import PROBABILITIES, chance_by, miles_at

N = len(PROBABILITIES)
ROWS = arrays(float, (3, N), elements=st.sampled_from([0.0, 0.5, 10.0, 4000.0, 1e9]) | st.floats(0.01, 1e6))
"""Three wear points: steps, equal quantiles and quantiles of zero miles among them."""
ASKED = np.concatenate([[0.0], np.logspace(-8, np.log10(0.999), 200)])


def lognormal(probability, median=30_000.0, spread=0.3):
    return median * np.exp(spread * ndtri(probability))


@given(ROWS)
def test_miles_rise_with_the_chance_and_chances_with_the_miles(rows):
    quantiles = np.sort(rows, axis=1)
    miles = miles_at(quantiles, ASKED)
    assert np.isfinite(miles).all()
    assert (miles[:, 0] == 0).all()
    # What is laid between two places differs from them in the last digits.
    assert (np.diff(miles, axis=1) >= -1e-9 * miles[:, 1:]).all()
    chance = chance_by(quantiles, np.concatenate([[0.0], np.logspace(-3, 9, 200)]))
    assert (np.diff(chance, axis=1) >= -1e-12).all()
    assert ((chance >= 0) & (chance <= 0.999)).all()


@given(ROWS)
def test_stored_quantiles_are_kept(rows):
    quantiles = np.sort(rows, axis=1)
    assert miles_at(quantiles, PROBABILITIES) == pytest.approx(quantiles, rel=1e-12)
    at = np.take_along_axis(chance_by(quantiles, quantiles.max(axis=1)[:, None]), np.zeros((3, 1), int), 1)
    assert at == pytest.approx(np.full((3, 1), 0.999))
    for row in range(3):
        told = chance_by(quantiles[[row]], quantiles[row])[0]
        assert (told >= PROBABILITIES - 1e-12).all()  # several chances at one distance: the greatest counts


@given(ROWS, st.integers(0, N))
def test_quantiles_of_zero_miles_count_at_zero_miles(rows, zeros):
    quantiles = np.sort(rows, axis=1) + 1.0
    quantiles[:, :zeros] = 0.0
    expected = PROBABILITIES[zeros - 1] if zeros else 0.0
    assert chance_by(quantiles, np.zeros(1))[:, 0] == pytest.approx(np.full(3, expected))


@given(ROWS, arrays(float, 3, elements=st.floats(0.0, 0.999)))
def test_no_chance_of_later_is_smaller_than_the_one_known_of_now(rows, now):
    quantiles = np.sort(rows, axis=1)
    chance = chance_by(quantiles, np.concatenate([[0.0], np.logspace(-3, 9, 50)]), now)
    assert (chance >= now[:, None]).all()
    assert (np.diff(chance, axis=1) >= -1e-12).all()
    miles = miles_at(quantiles, ASKED, now)
    assert (miles[ASKED[None, :] <= now[:, None]] == 0).all()
    beyond = ASKED[None, :] > now[:, None]
    assert (miles[beyond] == miles_at(quantiles, ASKED)[beyond]).all()


@pytest.mark.parametrize("spread", [0.05, 0.3, 1.0])
def test_far_tail_of_a_lognormal_is_its_own(spread):
    quantiles = lognormal(PROBABILITIES, spread=spread)[None, :]
    places = np.array([1e-6, 1e-5, 1e-4, 3e-4])
    assert miles_at(quantiles, places)[0] == pytest.approx(lognormal(places, spread=spread), rel=1e-9)
    # Between the places of the tail, up to ten times as likely as the one before, the chance is straight: it
    # lies above the true one by 1.75 times at most (halfway in the logarithm, 5.5 over the root of 10).
    between = np.logspace(-6, -3, 60)
    told = chance_by(quantiles, lognormal(between, spread=spread))[0]
    assert (told >= between * (1 - 1e-9)).all()
    assert (told <= 1.8 * between).all()


def test_sixty_fresh_parts_stop_an_engine_as_seldom_as_their_lives_say():
    # 60 parts, a season of a sixth of their median life: their true chance together is 7e-8; a straight line
    # from a thousandth to zero miles made it 2.6 in 100.
    quantiles = lognormal(PROBABILITIES)[None, :]
    season = np.array([5000.0])
    assert 60 * ndtr(np.log(5000 / 30_000) / 0.3) < 1e-7
    assert 60 * chance_by(quantiles, season)[0, 0] < 1e-4


def test_a_life_that_is_known_to_the_mile_has_no_tail():
    sure = np.full((1, N), 800.0)
    assert chance_by(sure, np.array([799.0, 800.0]))[0] == pytest.approx([1e-6, 0.999], abs=1e-6)
    assert miles_at(sure, np.array([1e-5, 0.5]))[0] == pytest.approx([800.0, 800.0])
