"""What may have happened to a vehicle: evidence against dense normals, means against conditioning."""

import numpy as np
from scipy.stats import multivariate_normal

from models.seasons.sensitivity import Sensitivity
from models.seasons.severity import explain

SEASONS = 6


def measured(log_factors, sd=0.08):
    """Seasons whose log factors were measured with a spread, one vehicle."""
    values = np.asarray(log_factors, float)[None]
    information = np.eye(SEASONS)[None] / sd**2
    return Sensitivity(np.zeros((1, SEASONS)), information, values / sd**2, np.zeros((0, SEASONS)))


def test_evidence_and_change_are_those_of_the_normal_distribution():
    rng = np.random.default_rng(1)
    root = rng.standard_normal((SEASONS, SEASONS)) + 3.0 * np.eye(SEASONS)
    information, values = root @ root.T, rng.normal(0.0, 0.4, SEASONS)
    sensed = Sensitivity(
        np.zeros((1, SEASONS)), information[None], (information @ values)[None], np.zeros((0, SEASONS))
    )
    found = explain(sensed)
    noise = np.linalg.inv(information)
    nothing = multivariate_normal(cov=noise).logpdf(values)
    pattern = found.kinds.pattern(SEASONS)
    for e in range(0, len(pattern), 17):
        prior = found.kinds.shock[e] ** 2 * np.eye(SEASONS)
        change = found.kinds.size[e] ** 2 * pattern[e]
        whole = noise + prior + np.outer(change, pattern[e])
        expected = multivariate_normal(cov=whole).logpdf(values) - nothing
        np.testing.assert_allclose(found.evidence[0, e], expected, atol=1e-8)
        np.testing.assert_allclose(found.change[0, e], change @ np.linalg.solve(whole, values), atol=1e-8)


def test_quiet_seasons_stay_quiet():
    found = explain(measured([0.05, -0.08, 0.02, 0.1, -0.05, 0.03]))
    assert found.quiet[0] > 0.8
    assert np.abs(found.severity).max() < 0.02


def test_a_change_is_seen_with_its_season_and_size():
    found = explain(measured([0.0, 0.05, -0.05, 0.0, 0.5, 0.45]))
    assert found.changed[0] > 0.9
    of_change = found.kinds.size > 0
    began = np.bincount(found.kinds.began[of_change], found.weight[0, of_change])
    assert began.argmax() == 4
    np.testing.assert_allclose(found.severity[0, 4:], 0.47, atol=0.08)
    assert np.abs(found.severity[0, :4]).max() < 0.05


def test_shocks_are_seen_as_such():
    found = explain(measured([0.5, -0.4, 0.45, -0.5, 0.4, -0.45]))
    assert found.quiet[0] < 1e-6
    assert found.changed[0] < 0.5
    np.testing.assert_allclose(found.severity[0], [0.5, -0.4, 0.45, -0.5, 0.4, -0.45], atol=0.06)


def test_a_vehicle_that_says_nothing_is_as_restless_as_its_sisters():
    """A gap makes the forecast more careful: it takes the shocks that the others show."""
    silent = np.zeros((1, SEASONS, SEASONS))
    for shocks, least, most in ((0.0, 0.8, 1.0), (0.45, 0.0, 0.6)):
        signs = np.where(np.arange(SEASONS) % 2, -shocks, shocks)
        sisters = [measured(signs) for _ in range(12)]
        information = np.concatenate([silent, *(one.information for one in sisters)])
        score = np.concatenate([np.zeros((1, SEASONS)), *(one.score for one in sisters)])
        found = explain(Sensitivity(np.zeros(score.shape), information, score, np.zeros((0, SEASONS))))
        assert least <= found.quiet[0] <= most
        np.testing.assert_allclose(found.severity[0], 0.0, atol=1e-12)
