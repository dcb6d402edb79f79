"""The mixed model that we compare with, against lme4's published and recomputed fits.

Sources
-------
Bates, Maechler, Bolker, Walker (2015), Fitting Linear Mixed-Effects Models Using lme4, J. Stat. Softw. 67(1),
    and the tests of lme4 (REMLdev.R, lmer-1.R): sleepstudy by REML and ML; read.
lme4 1.1-31 and nlme 3.1-162 under R 4.2.2, ``lmer(distance ~ age + (age | Subject), Orthodont)`` and
    ``lmer(increase ~ k + (k | unit), laser)`` with k = hours/1000 > 0: computed, both agree.
Henderson (1975), Best Linear Unbiased Estimation and Prediction, Biometrics 31:423-447:
    error of prediction, by dense matrices.
Tolerances: statsmodels and lme4 agree to 1e-9 in fixed effects and 3e-4 in variances (the optimum is flat).
"""

import numpy as np
import pytest
from scipy import stats

from models.laws.crossing import crossing_chance
from models.rivals.mixed import fit_mixed, lines_of_lives


def numbered(column):
    return np.unique(column, return_inverse=True)[1]


def parts(fit):
    sd = np.sqrt(np.diag(fit.between))
    return sd, fit.between[0, 1] / sd.prod()


@pytest.fixture(scope="module")
def sleep(published):
    table = published("sleepstudy")
    return numbered(table["Subject"]), table["Days"].to_numpy(float), table["Reaction"].to_numpy()


def test_sleepstudy_by_restricted_likelihood(sleep):
    fit = fit_mixed(*sleep)
    np.testing.assert_allclose(fit.mean, [251.4051048485, 10.4672859596], rtol=1e-8)
    sd, correlation = parts(fit)
    np.testing.assert_allclose(sd, [24.740658, 5.922138], rtol=3e-4)
    assert correlation == pytest.approx(0.0655512, abs=5e-4)
    assert np.sqrt(fit.noise) == pytest.approx(25.591796, rel=3e-5)
    assert fit.criterion == pytest.approx(1743.628272, abs=1e-5)


def test_sleepstudy_by_maximum_likelihood(sleep):
    fit = fit_mixed(*sleep, restricted=False)
    sd, correlation = parts(fit)
    np.testing.assert_allclose(sd, [23.77976, 5.716799], rtol=3e-4)
    assert correlation == pytest.approx(0.0813211, abs=5e-4)
    assert np.sqrt(fit.noise) == pytest.approx(25.591907, rel=3e-5)
    assert fit.criterion == pytest.approx(1751.939344, abs=1e-5)


def test_sleepstudy_lines_of_subjects_308_and_309(sleep):
    life, days, reaction = sleep
    fit = fit_mixed(life, days, reaction)
    rows = np.array([reaction[life == i] for i in range(18)])
    lines = lines_of_lives(fit, np.tile(np.arange(10.0), (18, 1)), rows)
    deviations = np.column_stack([lines.level, lines.rate]) - fit.mean
    np.testing.assert_allclose(deviations[0], [2.258551, 9.198976], atol=3e-3)
    np.testing.assert_allclose(deviations[1], [-40.398738, -8.619681], atol=3e-3)


def test_error_of_the_lines_is_that_of_hendersons_equations(sleep):
    """Variance of (mean + deviation) - truth by the dense mixed-model equations (Henderson 1975)."""
    life, days, reaction = sleep
    fit = fit_mixed(life, days, reaction)
    rows = np.array([reaction[life == i] for i in range(18)])
    lines = lines_of_lives(fit, np.tile(np.arange(10.0), (18, 1)), rows)
    x = np.column_stack([np.ones(180), days])
    z = np.zeros((180, 36))
    for i in range(18):
        z[life == i, 2 * i : 2 * i + 2] = x[life == i]
    all_columns = np.hstack([x, z])
    equations = all_columns.T @ all_columns / fit.noise
    equations[2:, 2:] += np.kron(np.eye(18), np.linalg.inv(fit.between))
    error = np.linalg.inv(equations)
    for i in (0, 7):
        pick = np.zeros((2, 38))
        pick[:, :2] = pick[:, 2 + 2 * i : 4 + 2 * i] = np.eye(2)
        expected = pick @ error @ pick.T
        assert lines.level_var[i] == pytest.approx(expected[0, 0], rel=1e-8)
        assert lines.rate_var[i] == pytest.approx(expected[1, 1], rel=1e-8)
        assert lines.covariance[i] == pytest.approx(expected[0, 1], rel=1e-8)


def test_orthodont(published):
    table = published("orthodont")
    fit = fit_mixed(numbered(table["Subject"]), table["age"].to_numpy(float), table["distance"].to_numpy())
    np.testing.assert_allclose(fit.mean, [16.761111, 0.6601852], rtol=1e-6)
    sd, correlation = parts(fit)
    np.testing.assert_allclose(sd, [2.32703, 0.226428], rtol=1e-3)
    assert correlation == pytest.approx(-0.60933, abs=1e-3)
    assert np.sqrt(fit.noise) == pytest.approx(1.31004, rel=3e-4)
    assert fit.criterion == pytest.approx(442.636686, abs=1e-4)


@pytest.fixture(scope="module")
def laser(published):
    table = published("gaas_laser").query("hours > 0")
    return numbered(table["unit"]), table["hours"].to_numpy() / 1000, table["increase"].to_numpy()


def test_laser(laser):
    fit = fit_mixed(*laser)
    np.testing.assert_allclose(fit.mean, [0.0121045, 2.0422506], atol=5e-7)
    sd, correlation = parts(fit)
    np.testing.assert_allclose(sd, [0.2088863, 0.4858182], rtol=3e-4)
    assert correlation == pytest.approx(-0.3808874, abs=5e-4)
    assert np.sqrt(fit.noise) == pytest.approx(0.1801078, rel=3e-4)
    assert fit.criterion == pytest.approx(-15.1865768, abs=1e-5)


def test_another_scale_of_hours_gives_the_same_fit(laser):
    life, k, increase = laser
    by_five = fit_mixed(life, 5 * k / k.max(), increase)
    assert np.sqrt(by_five.between[1, 1]) * 5 / k.max() == pytest.approx(0.4858182, rel=3e-4)


def test_chance_of_crossing_under_random_slopes():
    """Rates 2.0466523 +- 0.4621399 % per 1,000 h between units (lme4 REML, line through 0; computed).

    The chance of 10 % by 4,000 to 5,500 h is that of a rate above 10 / t. A pooled process without a rate of
    its own for each unit says 0.0117 for the first: far too sure.
    """
    hours = np.array([4.0, 4.5, 5.0, 5.5])
    drift, drift_var = 2.04665226 * hours, (0.46213988 * hours) ** 2
    chance = crossing_chance(drift, drift_var, 1e-12 * hours, np.full(4, 10.0))
    np.testing.assert_allclose(chance, [0.1633, 0.3520, 0.5402, 0.6895], atol=5e-5)
    np.testing.assert_allclose(chance, stats.norm.sf((10 / hours - 2.04665226) / 0.46213988), atol=1e-6)
