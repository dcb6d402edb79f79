"""The chance that the wear has reached its limit: closed forms and drawn paths.

Sources
-------
Chhikara & Folks (1989), The Inverse Gaussian Distribution: known rate; values by scipy.stats.invgauss.
Meeker & Escobar (1998), Table C.17 (GaAs lasers): Wiener process fitted to the 240 increments, drift 2.0379,
    sigma 0.4003 per 1,000 h, and its chances of 10 % by four times: computed by scipy and by surpyval 0.25.
Fieller (1954): the limit of no Brownian part.
"""

import numpy as np
import pytest
from scipy import stats

from models.laws.crossing import crossing_chance
from models.rivals.lines import Lines, crossing_quantiles


def chance(d, h, rate, rate_var, tau2):
    """Chance of having reached a limit h away at a distance d."""
    d = np.asarray(d, dtype=float)
    return crossing_chance(rate * d, rate_var * d**2, tau2 * d, np.full(d.shape, float(h)))


def test_known_rate_is_the_inverse_gaussian():
    # Drift 2, sigma 0.5, limit 10: mean 5, shape 400. IG(mean m, shape s) is scipy's invgauss(m/s, scale=s).
    d = np.array([4.5, 5.0, 5.5])
    expected = stats.invgauss(5 / 400, scale=400).cdf(d)
    np.testing.assert_allclose(expected, [0.1871247, 0.5222325, 0.8185531], atol=5e-8)
    np.testing.assert_allclose(chance(d, 10, 2, 0, 0.25), expected, rtol=1e-10)


@pytest.mark.parametrize("sigma", [0.05, 0.5, 2.0, 8.0])
def test_known_rate_over_the_whole_range(sigma):
    d = np.geomspace(0.05, 100, 60)
    mean, shape = 5.0, (10 / sigma) ** 2
    np.testing.assert_allclose(
        chance(d, 10, 2, 0, sigma**2), stats.invgauss(mean / shape, scale=shape).cdf(d), atol=1e-12
    )


def test_lasers_as_one_wiener_process(published):
    table = published("gaas_laser").sort_values(["unit", "hours"])
    increments = table.groupby("unit")["increase"].diff().dropna()
    drift, sigma = increments.mean() / 0.25, np.sqrt(increments.var(ddof=0) / 0.25)
    assert drift == pytest.approx(2.0379067, abs=5e-8)
    assert sigma == pytest.approx(0.4003340, abs=5e-8)
    expected = [0.01170737, 0.17531515, 0.60110299, 0.90868168]
    np.testing.assert_allclose(chance([4.0, 4.5, 5.0, 5.5], 10, drift, 0, sigma**2), expected, atol=1e-7)


def test_without_a_brownian_part_it_is_fieller():
    p = np.array([0.05, 0.25, 0.5, 0.75, 0.95])
    one = np.ones(1)
    lines = Lines(2 * one, 0.5 * one, 0 * one, 0.01 * one, 0 * one, one, 0 * one)
    d = crossing_quantiles(lines, 10 * one, 0 * one, stats.norm.ppf(p))[0]
    np.testing.assert_allclose(chance(d, 8, 0.5, 0.01, 1e-10), p, atol=1e-6)


@pytest.mark.parametrize(
    ("h", "rate", "rate_sd", "tau"), [(10.0, 2.0, 0.5, 0.8), (10.0, 1.0, 0.8, 2.0), (3.0, 0.5, 0.2, 0.3)]
)
def test_uncertain_rate_against_drawn_paths(h, rate, rate_sd, tau):
    rng = np.random.default_rng(17)
    n, end = 200_000, 2 * h / rate
    b = rng.normal(rate, rate_sd, n)
    # Draws the first passage itself, not a path on a grid: at d the path has crossed if it ends beyond, or
    # touched on its way there, with the chance of a Brownian bridge.
    for d in np.array([0.3, 0.5, 0.8, 1.0]) * end:
        x = b * d + tau * np.sqrt(d) * rng.standard_normal(n)
        touched = np.exp(-2 * h * np.maximum(h - x, 0) / (tau**2 * d))
        expected = np.where(x >= h, 1.0, touched).mean()
        assert float(chance(d, h, rate, rate_sd**2, tau**2)) == pytest.approx(expected, abs=0.004)


def test_a_path_walked_step_by_step():
    """No bridge, no formula: 20,000 paths of 4,000 steps. Crossings between steps are missed: late."""
    rng = np.random.default_rng(3)
    n, steps, h, tau = 20_000, 4_000, 10.0, 0.8
    b = rng.normal(2.0, 0.5, n)
    d = 8.0 / steps
    x, crossed, at = np.zeros(n), np.full(n, np.inf), 0.0
    for _ in range(steps):
        at += d
        x += b * d + tau * np.sqrt(d) * rng.standard_normal(n)
        crossed = np.where((x >= h) & np.isinf(crossed), at, crossed)
    for when in (3.5, 5.0, 7.0):
        # A grid sees a limit that is 0.5826 tau sqrt(d) higher (Broadie, Glasserman, Kou 1997).
        higher = h + 0.5826 * tau * np.sqrt(d)
        expected = float(chance(when, higher, 2.0, 0.25, tau**2))
        assert (crossed <= when).mean() == pytest.approx(expected, abs=0.011)  # 3 standard errors
