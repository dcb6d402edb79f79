"""The laws of rates as sums of normals, against scipy's lognormal and against drawn families."""

import numpy as np
import pytest
from scipy.stats import lognorm, norm

from models.laws.rate_law import both_laws, chance_lognormal, lognormal_parts


@pytest.mark.parametrize("cv", [0.1, 0.3, 0.6, 0.9])
def test_three_normals_follow_the_lognormal_law(cv):
    parts = lognormal_parts(np.array(cv))
    assert (parts.weight * parts.shift).sum() == pytest.approx(0.0, abs=1e-12)
    assert (parts.weight * (parts.keep + parts.shift**2)).sum() == pytest.approx(1.0)
    x = np.linspace(-3.0, 5.0, 400)
    own = (parts.weight * norm.cdf((x[:, None] - parts.shift) / np.sqrt(parts.keep))).sum(axis=1)
    width = np.sqrt(np.log1p(cv**2))
    law = lognorm.cdf(1.0 + cv * x, s=width, scale=np.exp(-(width**2) / 2))
    assert np.abs(own - law).max() < {0.1: 0.015, 0.3: 0.024, 0.6: 0.04, 0.9: 0.08}[cv]


def test_a_family_of_many_lives_tells_its_law():
    rng = np.random.default_rng(1)
    width = np.sqrt(np.log1p(0.35**2))
    skew = (np.exp(width * rng.standard_normal(400) - width**2 / 2) - 1) / 0.35
    said = np.concatenate([skew, rng.standard_normal(400)])
    chance = chance_lognormal(np.full(800, 0.35), said, np.full(800, 0.02), np.array([0, 400]))
    assert chance[0] > 0.99
    assert chance[1] < 0.05


def test_what_a_place_remembers_moves_and_narrows_both_laws():
    """With the normal law alone the sum is what was said; told nothing, the law is as it was."""
    none, shift, keep = np.zeros(1), np.array([0.4]), np.array([0.6])
    told = both_laws(np.array([0.3]), none).after(shift, keep)
    assert told.weight[0] == pytest.approx(1.0)
    assert told.shift[0] == pytest.approx(0.4)
    assert told.keep[0] == pytest.approx(0.6)
    parts = both_laws(np.array([0.3]), np.array([0.5]))
    same = parts.after(none, np.ones(1))
    assert np.allclose(same.weight, parts.weight)
    assert np.allclose(same.shift, parts.shift)
