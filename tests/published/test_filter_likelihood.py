"""The likelihood of the wear filter, against other programs and against a dense normal distribution.

Sources
-------
statsmodels 0.15, tsa.statespace: its Kalman filter with level and rate as states, irregular steps.
Bates, Maechler, Bolker, Walker (2015), Fitting Linear Mixed-Effects Models Using lme4, J. Stat. Softw. 67(1),
    section 5.2: sleepstudy with uncorrelated level and rate, deviance 1752.0 (from memory, reproduced).
lme4's Dyestuff by ML: sd 37.260345, sigma 49.5101, deviance 327.32706 (from memory, recomputed by lme4).
"""

import warnings

import numpy as np
import pytest
from scipy import stats
from statsmodels.regression.mixed_linear_model import MixedLM, MixedLMParams
from statsmodels.tools.sm_exceptions import SingularMatrixWarning
from statsmodels.tsa.statespace.kalman_filter import KalmanFilter

from models.wear.family_fit import family_sums
from models.wear.level_filter import level_filter


def deviance(u, y, q, ra, rb, sigma2, mean=None, noise=None):
    """-2 log likelihood of one family: lives' own starts and rates integrated out.

    ``mean``: start and rate of the family; None for their maximum likelihood (generalised least squares).
    """
    n = len(u)
    noise = np.ones_like(u) if noise is None else noise
    filtered = level_filter(u, y, noise, np.full((1, n), q))
    sums = family_sums(filtered, np.full((1, n), ra), np.full((1, n), rb), np.array([0]))
    m = np.array([[sums.info00[0, 0], sums.info01[0, 0]], [sums.info01[0, 0], sums.info11[0, 0]]])
    d = np.array([sums.cross0[0, 0], sums.cross1[0, 0]])
    if mean is None:
        mean = np.linalg.lstsq(m, d, rcond=None)[0]
    quad = sums.quad[0, 0] - 2 * d @ mean + mean @ m @ mean
    readings = np.isfinite(y).sum()
    return readings * np.log(2 * np.pi * sigma2) + sums.logdet[0, 0] + quad / sigma2


@pytest.fixture(scope="module")
def irregular():
    """Five lives of 4 to 9 readings at irregular distances, some missing."""
    rng = np.random.default_rng(12)
    u = np.sort(rng.uniform(0, 3, (5, 9)), axis=1)
    y = 0.2 + u * rng.normal(1, 0.3, (5, 1)) + 0.1 * rng.standard_normal((5, 9))
    for i in range(5):
        y[i, 4 + i :] = np.nan
    return u, y


A0, MU, S_A, S_B, TAU, SIGMA = 0.15, 1.1, 0.08, 0.3, 0.12, 0.1


def test_against_statsmodels_state_space(irregular):
    u, y = irregular
    total = 0.0
    for i in range(len(u)):
        k = int(np.isfinite(y[i]).sum())
        kalman = KalmanFilter(k_endog=1, k_states=2, k_posdef=1)
        kalman.bind(np.ascontiguousarray(y[i, :k, None]))
        step = np.diff(u[i, :k], append=u[i, k - 1])
        transition = np.tile(np.eye(2)[:, :, None], (1, 1, k))
        transition[0, 1] = step
        kalman["design"] = np.array([[1.0, 0.0]])
        kalman["obs_cov"] = np.array([[SIGMA**2]])
        kalman["transition"] = transition
        kalman["selection"] = np.array([[1.0], [0.0]])
        kalman["state_cov"] = (TAU**2 * step)[None, None, :]
        first = u[i, 0]
        # At the first reading: the level has run there with the rate and the Brownian part since new.
        cov = np.array(
            [[S_A**2 + first**2 * S_B**2 + TAU**2 * first, first * S_B**2], [first * S_B**2, S_B**2]]
        )
        kalman.initialize_known(np.array([A0 + MU * first, MU]), cov)
        total += -2 * kalman.loglike()
    ours = deviance(
        u, y, (TAU / SIGMA) ** 2, (S_A / SIGMA) ** 2, (S_B / SIGMA) ** 2, SIGMA**2, np.array([A0, MU])
    )
    assert ours == pytest.approx(total, rel=1e-10)


def test_against_the_dense_normal_distribution(irregular):
    u, y = irregular
    total = 0.0
    for x, z in zip(u, y, strict=True):
        x, z = x[np.isfinite(z)], z[np.isfinite(z)]
        cov = S_A**2 + S_B**2 * np.outer(x, x) + TAU**2 * np.minimum.outer(x, x) + SIGMA**2 * np.eye(len(x))
        total += -2 * stats.multivariate_normal(A0 + MU * x, cov).logpdf(z)
    ours = deviance(
        u, y, (TAU / SIGMA) ** 2, (S_A / SIGMA) ** 2, (S_B / SIGMA) ** 2, SIGMA**2, np.array([A0, MU])
    )
    assert ours == pytest.approx(total, rel=1e-10)


def sleep_rows(published):
    table = published("sleepstudy")
    y = table.pivot_table(index="Subject", columns="Days", values="Reaction").to_numpy()
    return np.tile(np.arange(10.0), (len(y), 1)), y


def test_without_brownian_part_it_is_the_random_slope_model(published):
    """Sleepstudy by maximum likelihood, level and rate uncorrelated."""
    u, y = sleep_rows(published)
    design = np.column_stack([np.ones(y.size), u.ravel()])
    model = MixedLM(y.ravel(), design, groups=np.repeat(np.arange(18), 10), exog_re=design)
    free = MixedLMParams.from_components(np.ones(2), np.eye(2))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SingularMatrixWarning)  # on its way, not where it ends
        fit = model.fit(reml=False, free=free, method="lbfgs")
    sigma2, between = fit.scale, np.diag(fit.cov_re)
    assert -2 * fit.llf == pytest.approx(1752.0, abs=0.05)
    ours = deviance(u, y, 0.0, between[0] / sigma2, between[1] / sigma2, sigma2)
    assert ours == pytest.approx(-2 * fit.llf, abs=1e-6)
    # It is the optimum of ours too: any other variance is worse.
    for a, b, s in ((1.3, 1, 1), (0.7, 1, 1), (1, 1.3, 1), (1, 0.7, 1), (1, 1, 1.1), (1, 1, 0.9)):
        other = deviance(u, y, 0.0, a * between[0] / sigma2 / s, b * between[1] / sigma2 / s, s * sigma2)
        assert other > ours + 0.02


def test_dyestuff(published):
    """Random level alone: six batches of five, all at distance 0."""
    table = published("dyestuff")
    y = np.array([batch["Yield"].to_numpy(float) for _, batch in table.groupby("Batch")])
    ours = deviance(np.zeros_like(y), y, 0.0, (37.260345 / 49.5101) ** 2, 0.0, 49.5101**2)
    assert ours == pytest.approx(327.32706, abs=5e-6)


def test_a_brownian_part_costs_likelihood_where_there_is_none_and_pays_where_there_is(irregular):
    rng = np.random.default_rng(1)
    u = np.tile(np.linspace(0.1, 3, 30), (20, 1))
    walk = np.cumsum(rng.standard_normal(u.shape) * np.sqrt(0.1) * 0.5, axis=1)
    line = u + 0.1 * rng.standard_normal(u.shape)
    assert deviance(u, line, 25.0, 0.0, 0.0, 0.01) > deviance(u, line, 0.0, 0.0, 0.0, 0.01) + 10
    assert deviance(u, line + walk, 25.0, 0.0, 0.0, 0.01) < deviance(u, line + walk, 0.0, 0.0, 0.0, 0.01) - 10
