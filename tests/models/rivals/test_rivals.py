"""The rivals: what each says of lives that can be worked by hand, and where it has no answer."""

from dataclasses import replace

import numpy as np
import pytest
from fleets.simulate import FleetPlan, simulate_fleet
from scipy import stats
from sklearn.base import clone
from sklearn.exceptions import ConvergenceWarning
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, DotProduct, WhiteKernel
from sklearn.utils.estimator_checks import (
    check_get_params_invariance,
    check_no_attributes_set_in_init,
    check_parameters_default_constructible,
    check_set_params,
)

from models.lives.table import Lives
from models.rivals.gaussian_process import GaussianProcess, _fit_life
from models.rivals.last_two import LastTwoReadings
from models.rivals.least_squares import LeastSquares
from models.rivals.lines import Lines, crossing_quantiles
from models.rivals.mixed import MixedModel

RIVALS = [LastTwoReadings(), LeastSquares(), MixedModel(), GaussianProcess()]
P = np.array([0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95])


def lives_of(miles, wear, limit=10.0, as_of=None, family=None):
    """Lives of rows of readings; NaN where there is none."""
    miles, wear = np.array(miles, dtype=float), np.array(wear, dtype=float)
    n = len(miles)
    return Lives(
        family=np.zeros(n, dtype=int) if family is None else np.array(family),
        miles=miles,
        wear=wear,
        limit=np.full(n, limit),
        gauge_sd=np.full_like(miles, np.nan),
        as_of_miles=np.nanmax(miles, axis=1) if as_of is None else np.array(as_of, dtype=float),
        ended=np.zeros(n, dtype=bool),
        day=miles.copy(),
    )


@pytest.fixture(scope="module")
def fleet():
    plan = FleetPlan(n_families=4, n_lives=8, readings=(4, 12))
    return simulate_fleet(np.random.default_rng(11), plan)


def test_the_ruler_carries_the_last_two_readings_on():
    lives = lives_of([[0, 1000, 3000]], [[0.0, 2.0, 3.0]], as_of=[3500])
    ruler = LastTwoReadings().fit(lives)
    # 1 unit in 2,000 miles; 7 units to go from 3,000: at 17,000, which is 13,500 from now.
    np.testing.assert_allclose(ruler.predict_remaining(P), np.full((1, 7), 13_500))
    np.testing.assert_allclose(ruler.predict_readings([[5000]], P), np.full((1, 1, 7), 4.0))


def test_the_ruler_has_no_answer_from_one_reading_and_no_end_where_wear_went_back():
    lives = lives_of(
        [[1000, np.nan], [1000, 2000], [1000, 2000]],
        [[1.0, np.nan], [2.0, 1.5], [12.0, 11.0]],
        as_of=[1000, 2000, 2000],
    )
    remaining = LastTwoReadings().fit(lives).predict_remaining([0.5])[:, 0]
    assert np.isnan(remaining[0])
    assert remaining[1] == np.inf
    assert remaining[2] == 0.0


def test_least_squares_agrees_with_scipy_line_by_line(fleet):
    lives = Lives(**fleet.arrays)
    fitted = LeastSquares().fit(lives)
    for i in np.flatnonzero(lives.count >= 3)[:10]:
        k = lives.count[i]
        expected = stats.linregress(lives.miles[i, :k], lives.wear[i, :k])
        line = fitted.lines_.moved_to(np.zeros(len(lives.family)))
        assert line.rate[i] == pytest.approx(expected.slope, rel=1e-9)
        assert line.level[i] == pytest.approx(expected.intercept, rel=1e-9, abs=1e-12)
        assert np.sqrt(line.rate_var[i]) == pytest.approx(expected.stderr, rel=1e-9)
        assert np.sqrt(line.level_var[i]) == pytest.approx(expected.intercept_stderr, rel=1e-9)


def test_least_squares_has_no_answer_from_two_readings_or_one_distance():
    lives = lives_of([[1000, 2000, np.nan], [1000, 1000, 1000]], [[1.0, 2.0, np.nan], [1.0, 2.0, 3.0]])
    assert np.isnan(LeastSquares().fit(lives).predict_remaining(P)).all()
    assert np.isnan(LeastSquares().fit(lives).predict_readings([[3000], [3000]], P)).all()


def test_a_slope_that_is_not_significant_gives_no_bound():
    lives = lives_of([[0, 1000, 2000, 3000]], [[1.0, 1.2, 0.9, 1.15]])
    q = LeastSquares().fit(lives).predict_remaining(P)[0]
    assert q[0] > 0
    assert np.isfinite(q[0])
    assert np.isinf(q[-3:]).all()


def test_crossing_quantiles_agree_with_drawn_lines():
    unit = np.ones(1)
    lines = Lines(
        level=2.0 * unit,
        rate=1e-3 * unit,
        level_var=0.04 * unit,
        rate_var=1.6e-8 * unit,
        covariance=-1e-5 * unit,
        reading_var=0.1 * unit,
        origin=0.0 * unit,
    )
    q = crossing_quantiles(lines, 10.0 * unit, 1000.0 * unit, stats.norm.ppf(P))[0]
    rng = np.random.default_rng(4)
    cov = np.array([[0.04, -1e-5], [-1e-5, 1.6e-8]])
    level, rate = rng.multivariate_normal([2.0, 1e-3], cov, 200_000).T
    # Every rate drawn is positive (eight standard deviations), so each line crosses once.
    drawn = (10.0 - level) / rate - 1000.0
    np.testing.assert_allclose(q, np.quantile(drawn, P), rtol=0.005)  # 3 standard errors of 200,000 draws


@pytest.mark.parametrize("rival", RIVALS, ids=lambda r: type(r).__name__)
def test_quantiles_do_not_cross_and_start_at_zero(rival, fleet):
    lives = Lives(**fleet.arrays)
    fitted = clone(rival).fit(lives)
    remaining = fitted.predict_remaining(P)
    assert remaining.shape == (len(lives.family), len(P))
    assert not (remaining[:, :-1] > remaining[:, 1:] * (1 + 1e-9) + 1e-6).any()
    assert not (remaining < 0).any()
    readings = fitted.predict_readings(lives.as_of_miles[:, None] + [0.0, 5000.0], P)
    assert readings.shape == (len(lives.family), 2, len(P))
    assert not (np.diff(readings, axis=-1) < -1e-9).any()
    assert np.isfinite(remaining[:, 3]).mean() > 0.7


@pytest.mark.parametrize("rival", RIVALS, ids=lambda r: type(r).__name__)
def test_another_unit_of_distance_or_wear_gives_the_same_forecast(rival, fleet):
    lives = Lives(**fleet.arrays)
    km, inch = 1.609344, 1 / 25.4
    other = replace(
        lives,
        miles=lives.miles * km,
        as_of_miles=lives.as_of_miles * km,
        wear=lives.wear * inch,
        limit=lives.limit * inch,
    )
    own_unit, other_unit = (
        clone(rival).fit(lives).predict_remaining(P),
        clone(rival).fit(other).predict_remaining(P),
    )
    both = np.isfinite(own_unit) & np.isfinite(other_unit)
    assert both.sum() > 0.7 * (~np.isnan(own_unit)).sum()
    np.testing.assert_array_equal(np.isnan(own_unit), np.isnan(other_unit))
    # The optimisers of the last two stop where rounding lets them.
    loose = isinstance(rival, (MixedModel, GaussianProcess))
    np.testing.assert_allclose(other_unit[both] / km, own_unit[both], rtol=2e-2 if loose else 1e-8)


@pytest.mark.parametrize("rival", RIVALS, ids=lambda r: type(r).__name__)
def test_rivals_follow_scikit_learns_rules_for_parameters(rival):
    name = type(rival).__name__
    for check in (
        check_no_attributes_set_in_init,
        check_get_params_invariance,
        check_set_params,
    ):
        check(name, clone(rival))
    check_parameters_default_constructible(name, rival)


def test_an_unknown_parameter_is_refused():
    with pytest.raises(ValueError, match="no parameter 'reml'"):
        MixedModel().set_params(reml=False)
    assert repr(MixedModel(restricted=False)) == "MixedModel(most_families=1000, restricted=False)"


def test_mixed_model_leans_on_the_family_where_a_life_says_little(fleet):
    lives = Lives(**fleet.arrays)
    wear = lives.wear.copy()
    wear[0, 1:] = np.nan
    thinned = replace(lives, wear=wear, miles=np.where(np.isnan(wear), np.nan, lives.miles))
    q = MixedModel().fit(thinned).predict_remaining(P)[0]
    assert np.isfinite(q[:4]).all()
    assert np.isnan(LeastSquares().fit(thinned).predict_remaining(P)[0]).all()


def test_mixed_model_of_a_family_of_one_life_has_no_answer():
    lives = lives_of([[0, 1000, 2000, 3000]], [[0.0, 1.1, 1.9, 3.0]])
    assert np.isnan(MixedModel().fit(lives).predict_remaining(P)).all()


def test_gaussian_process_predicts_as_scikit_learn_does():
    miles, wear = np.array([1000.0, 2500, 4000, 7000, 9000]), np.array([0.9, 2.6, 4.1, 6.8, 9.1])
    line = Lines(**{k: np.array([v]) for k, v in _fit_life(miles, wear, 20.0).items()})
    ahead = line.moved_to(np.array([15_000.0]))

    kernel = ConstantKernel(0.3, (1e-3, 10.0)) * DotProduct(0.3, (1e-3, 10.0)) + WhiteKernel(
        1e-3, (1e-7, 0.1)
    )
    with pytest.warns(ConvergenceWarning, match="lower bound"):  # these readings ask for no level at all
        process = GaussianProcessRegressor(kernel, random_state=0).fit(miles[:, None] / 9000, wear / 20)
    mean, sd = process.predict(np.array([[15_000 / 9000]]), return_std=True)
    assert ahead.level[0] / 20 == pytest.approx(mean[0], rel=1e-6)
    # scikit-learn's deviation is that of a reading: its white noise is in it.
    assert np.sqrt(ahead.level_var[0] + ahead.reading_var[0]) / 20 == pytest.approx(sd[0], rel=1e-5)
