"""CRPS of known distributions.

Sources
-------
Gneiting & Raftery (2007), J. Am. Stat. Assoc. 102:359-378: standard normal at 0, (sqrt 2 - 1)/sqrt(pi).
R package scoringRules, as kept in the tests of the Python package scoringrules: gamma, t; read.
scoringrules 0.10: lognormal, mixture of normals; computed.
Equal to numerical integration of (F - 1{y <= x})^2 to all printed digits.
"""

import numpy as np
import pytest
import scoringrules
from scipy import stats

from models.score.scoring_rules import crps

# Finer toward the ends, where the quantile function runs steepest.
P = stats.beta(0.5, 0.5).ppf(np.linspace(0, 1, 200_001)[1:-1])
P = np.unique(P[(P > 1e-9) & (P < 1 - 1e-9)])


@pytest.mark.parametrize(
    ("distribution", "outcome", "expected"),
    [
        (stats.norm(), 0.0, (np.sqrt(2) - 1) / np.sqrt(np.pi)),
        (stats.norm(), 0.0, 0.233694977255109),
        (stats.norm(), 1.0, 0.602441357627616),
        (stats.gamma(1.1, scale=1 / 0.7), 0.2, 0.6343718),
        (stats.t(5.2, loc=13.8, scale=2.3), 11.1, 1.658226),
        (stats.lognorm(1.0), 3.0, 1.19651566921),
    ],
)
def test_printed_values(distribution, outcome, expected):
    # 2e-7: the printed digits, and the tails beyond 1e-9 held at their ends.
    assert crps(distribution.ppf(P), P, outcome) == pytest.approx(expected, abs=5e-7)


def test_a_mixture_of_two_normals_against_scoringrules():
    weights, means, sds = np.array([0.3, 0.7]), np.array([-2.0, 1.0]), np.array([0.5, 1.5])
    x = np.linspace(-12, 14, 400_001)
    cdf = (weights * stats.norm.cdf(x[:, None], means, sds)).sum(axis=1)
    quantiles = np.interp(P, cdf, x)
    for outcome in (-3.0, 0.0, 2.5):
        expected = scoringrules.crps_mixnorm(outcome, means, sds, weights)
        assert crps(quantiles, P, outcome) == pytest.approx(expected, abs=1e-6)
