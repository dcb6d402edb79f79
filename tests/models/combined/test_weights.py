"""Weights: the wear model has all of it where it has much to learn from; what came true moves them."""

import numpy as np
import pytest

from models.combined.weights import (
    GRID,
    LEAST,
    MOST,
    Evidence,
    evidence_of,
    losses,
    posterior_mean,
    prior_mean,
)
from models.score.scoring_rules import crps


def test_the_rival_counts_less_the_more_lives_are_known():
    means = [prior_mean(np.array([n]))[0] for n in (1, 8, 20, 40, 200)]
    assert means[0] == MOST
    assert (np.diff(means) <= 0).all()
    assert means[-1] < LEAST
    # Lives of other quantities teach too, less.
    assert prior_mean(np.array([8, 400]))[0] < prior_mean(np.array([8]))[0] / 3


def test_what_came_true_counts_as_lives_and_not_as_readings():
    rng = np.random.default_rng(3)
    outcome = rng.normal(0, 1, 200)
    right, wrong = np.sort(rng.normal(0, 1, (2, 200, 21)), axis=2) + np.array([0.0, 4.0])[:, None, None]
    loss = losses(wrong, right, outcome)
    every = evidence_of(loss, np.arange(200), np.zeros(200, dtype=int), 1)[0]
    five = evidence_of(loss, np.arange(200) % 5, np.zeros(200, dtype=int), 1)[0]
    assert (every.lives, five.lives) == (200, 5)
    assert posterior_mean(0.2, []) == pytest.approx(0.2, abs=0.02)
    assert posterior_mean(0.2, [every]) > 0.9
    assert 0.2 < posterior_mean(0.2, [five]) < 0.9
    assert posterior_mean(0.2, [Evidence(200, every.loss[::-1])]) < 0.02


def test_the_loss_at_either_end_is_the_crps_of_that_forecaster():
    rng = np.random.default_rng(1)
    said = np.sort(rng.normal(0, 1, (2, 30, 401)), axis=2)
    outcome = rng.normal(0, 1.5, 30)
    found = losses(said[0], said[1], outcome)
    at = (np.arange(401) + 0.5) / 401
    for end, own in ((0, said[0]), (len(GRID) - 1, said[1])):
        np.testing.assert_allclose(found[:, end], crps(own, at, outcome), atol=0.01)
    # Proper: a mixture of two that are both right is right, whatever the weight.
    assert np.ptp(losses(said[0], said[0], outcome), axis=1) == pytest.approx(0.0, abs=1e-12)


def test_a_record_without_anything_leaves_the_prior():
    assert posterior_mean(0.1, [Evidence(0, np.ones(len(GRID)))]) == posterior_mean(0.1, [])
