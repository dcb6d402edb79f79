"""Futures of a vehicle, and the mixture of a forecast over them."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from models.distribution import PROBABILITIES
from models.seasons.ahead import FUTURES, draw_futures
from models.seasons.mixing import mixed
from models.seasons.season_table import SeasonTable
from models.seasons.sensitivity import Sensitivity
from models.seasons.severity import explain

NAMES = pd.Index(["Hob", "Nail", "Pin"])
S = 5


@pytest.fixture(scope="module")
def drawn():
    """Three vehicles with restless seasons, and the futures of any of them."""
    values = 0.4 * np.array([[1, -1, 1, -1, 1.0], [0, 0, 1, 1, 1.0], [-1, 1, 1, -1, -1.0]])
    information = np.repeat(np.eye(S)[None] / 0.1**2, 3, axis=0)
    sensed = Sensitivity(np.zeros((3, S)), information, values / 0.1**2, np.zeros((0, S)))
    seasons = SeasonTable(
        np.arange(2021, 2026) + np.zeros((3, 1), int),
        np.arange(1.0, S) * 4_000.0 + np.zeros((3, 1)),
        np.full(3, 19_000.0),
        np.full(3, 4_000.0),
        np.ones(3, bool),
    )
    found = explain(sensed)
    return lambda vehicle: draw_futures(NAMES, seasons, found, sensed, np.array(vehicle))


def test_futures_are_the_same_however_they_are_asked_for(drawn):
    every, alone = drawn([0, 1, 2]), drawn([1])
    np.testing.assert_array_equal(every.past[1], alone.past[0])
    np.testing.assert_array_equal(every.effective[1], alone.effective[0])
    assert not np.allclose(every.past[0], every.past[2])


def test_the_past_of_the_futures_is_what_the_readings_left(drawn):
    futures = drawn([0])
    np.testing.assert_allclose(futures.past[0].mean(axis=0), 0.38 * np.array([1, -1, 1, -1, 1]), atol=0.06)
    assert (futures.past[0].std(axis=0) < 0.2).all()


def test_seasons_ahead_have_the_shocks_of_those_behind(drawn):
    futures = drawn([0])
    step = np.diff(futures.effective[0], axis=1)[:, 1:20] / 4_000.0
    assert 0.2 < np.log(step).std() < 0.6


def test_miles_and_effective_miles_are_each_others_inverse(drawn):
    futures, miles = drawn([0, 2]), np.array([[0.0, 500.0, 9_000.0, 300_000.0]])
    row = np.array([1])
    back = futures.to_miles(row, futures.to_effective(row, miles))
    np.testing.assert_allclose(back, np.repeat(miles[:, None], FUTURES, axis=1), rtol=1e-9)
    never = futures.to_miles(row, np.full((1, FUTURES, 1), np.inf))
    assert np.isinf(never).all()


def test_equal_futures_change_nothing():
    quantiles = np.exp(norm.ppf(PROBABILITIES))[None]
    given = np.repeat(quantiles[:, None], 40, axis=1)
    np.testing.assert_allclose(mixed(given, PROBABILITIES, PROBABILITIES), quantiles)


def test_a_mixture_of_normals():
    """Means spread as a normal: the mixture is a normal of both variances."""
    means = 0.8 * norm.ppf((np.arange(400) + 0.5) / 400)
    given = means[None, :, None] + 0.6 * norm.ppf(PROBABILITIES)
    out = mixed(given, PROBABILITIES, np.array([0.05, 0.1, 0.5, 0.9]))
    np.testing.assert_allclose(out[0], norm.ppf([0.05, 0.1, 0.5, 0.9]), atol=0.02)


def test_what_never_comes_is_never_reached():
    given = np.full((1, 2, len(PROBABILITIES)), np.inf)
    given[0, 0] = np.linspace(1.0, 2.0, len(PROBABILITIES))
    out = mixed(given, PROBABILITIES, PROBABILITIES)[0]
    assert np.isfinite(out[PROBABILITIES < 0.4]).all()
    assert np.isinf(out[PROBABILITIES > 0.6]).all()
