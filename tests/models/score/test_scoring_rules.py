"""Scoring rules: worked by hand, against a library, and for the properties that make them rules."""

import numpy as np
import pytest
import scoringrules
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from models.score.scoring_rules import covered, crps, pinball, pit

FIVE = np.array([0.05, 0.1, 0.5, 0.9, 0.95])


def test_pinball_of_one_quantile_worked_by_hand():
    # The 10 % quantile is 3 above the outcome: each unit costs 0.9. It is 3 below: each costs 0.1.
    assert pinball([8.0], [0.1], 5.0) == pytest.approx(2.7)
    assert pinball([2.0], [0.1], 5.0) == pytest.approx(0.3)
    assert pinball([5.0], [0.1], 5.0) == 0.0


def test_pinball_agrees_with_scoringrules():
    rng = np.random.default_rng(1)
    q, y = np.sort(rng.normal(size=(50, 5)), axis=1), rng.normal(size=50)
    expected = scoringrules.quantile_score(y[:, None], q, FIVE[None, :]).mean(axis=1)
    np.testing.assert_allclose(pinball(q, FIVE, y), expected, rtol=1e-12)


def test_crps_of_a_point_is_the_distance():
    assert crps([4.0, 4.0, 4.0], [0.25, 0.5, 0.75], 7.0) == pytest.approx(3.0)
    assert crps([4.0, 4.0, 4.0], [0.25, 0.5, 0.75], 4.0) == 0.0


def test_crps_of_a_uniform_worked_by_hand():
    # Uniform on [0, 1], outcome 0.5: integral of F^2 to 0.5 and (1 - F)^2 from there = 2 * 1/24.
    tiny = 1e-9
    assert crps([tiny, 1 - tiny], [tiny, 1 - tiny], 0.5) == pytest.approx(1 / 12, rel=1e-6)
    # Outcome 2, beyond it: 1/3 + 1.
    assert crps([tiny, 1 - tiny], [tiny, 1 - tiny], 2.0) == pytest.approx(4 / 3, rel=1e-6)


@pytest.mark.parametrize("outcome", [-5.0, -1.0, 0.0, 0.3, 2.0, 6.0])
def test_crps_of_a_normal_from_a_fine_grid_agrees_with_scoringrules(outcome):
    p = np.linspace(0, 1, 20_001)[1:-1]
    expected = scoringrules.crps_normal(outcome, 0.0, 1.0)
    assert crps(stats.norm.ppf(p), p, outcome) == pytest.approx(expected, abs=4e-5)  # two tails of 5e-5 held


@given(
    q=st.lists(st.floats(-50, 50), min_size=5, max_size=5).map(sorted),
    y=st.floats(-60, 60),
    shift=st.floats(-100, 100),
    scale=st.floats(0.01, 100),
)
def test_crps_moves_and_scales_with_its_unit(q, y, shift, scale):
    q = np.array(q)
    score = crps(q, FIVE, y)
    assert score >= -1e-9
    assert crps(scale * q + shift, FIVE, scale * y + shift) == pytest.approx(
        scale * score, rel=1e-6, abs=1e-6
    )


def test_the_true_distribution_scores_best_on_average():
    rng = np.random.default_rng(2)
    y = rng.normal(size=20_000)
    true = np.broadcast_to(stats.norm.ppf(FIVE), (len(y), 5))
    for wrong in (0.7 * true, 1.4 * true, true + 0.3, true - 0.3):
        assert pinball(true, FIVE, y).mean() < pinball(wrong, FIVE, y).mean()
        assert crps(true, FIVE, y).mean() < crps(wrong, FIVE, y).mean()


def test_missing_quantiles_and_outcomes_score_as_missing():
    q = np.array([[1.0, 2.0, 3.0], [np.nan, 2.0, 3.0], [1.0, 2.0, 3.0]])
    y = np.array([2.0, 2.0, np.nan])
    p = [0.1, 0.5, 0.9]
    for value in (pinball(q, p, y), crps(q, p, y), covered(q, p, y, 0.8), pit(q, p, y)):
        np.testing.assert_array_equal(np.isnan(value), [False, True, True])


def test_cover_counts_the_bounds_in():
    q = np.tile([1.0, 2.0, 3.0], (4, 1))
    np.testing.assert_array_equal(covered(q, [0.1, 0.5, 0.9], [0.9, 1.0, 3.0, 3.1], 0.8), [0, 1, 1, 0])


def test_cover_of_a_level_without_its_bounds_is_refused():
    with pytest.raises(ValueError, match="50% interval"):
        covered(np.zeros((1, 3)), [0.1, 0.5, 0.9], [0.0], 0.5)


def test_pit_is_uniform_where_the_forecast_is_right_and_piles_up_where_it_is_too_sure():
    rng = np.random.default_rng(3)
    y = rng.normal(size=5000)
    p = np.linspace(0.01, 0.99, 99)
    q = np.broadcast_to(stats.norm.ppf(p), (len(y), len(p)))
    assert stats.kstest(pit(q, p, y), "uniform").statistic < 0.02
    ends = np.histogram(pit(0.5 * q, p, y), bins=10, range=(0, 1))[0][[0, 9]]
    assert (ends > 2 * len(y) / 10).all()


def test_pit_of_an_outcome_on_equal_quantiles_stands_in_their_middle():
    assert pit([0.0, 0.0, 0.0, 5.0], [0.2, 0.4, 0.6, 0.8], 0.0) == pytest.approx(0.4)
    assert pit([0.0, 1.0, 2.0], [0.25, 0.5, 0.75], 1.5) == pytest.approx(0.625)
    assert pit([0.0, 1.0, 2.0], [0.25, 0.5, 0.75], -1.0) == pytest.approx(0.125)
    assert pit([0.0, 1.0, np.inf], [0.25, 0.5, 0.75], 9.0) == pytest.approx(0.625)
