"""The laws of rates as sums of normals, against scipy's lognormal and against drawn families."""

import numpy as np
import pytest
from scipy.stats import lognorm, norm

from models.laws.rate_law import RateLaw, law_of_rates, lognormal_parts, normal_law, parts_of, two_parts


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
    law = law_of_rates(np.full(800, 0.35), said, np.full(800, 0.02), np.array([0, 400]))
    assert law.lognormal[0] > 0.99
    assert law.lognormal[1] < 0.05
    assert (law.two < 0.05).all()


def test_a_law_that_is_out_of_the_question_leaves_the_others_finite():
    """Thirty thousand lives of one skew family: the chance of two populations is below the least number."""
    rng = np.random.default_rng(0)
    width = np.sqrt(np.log1p(0.9**2))
    skew = (np.exp(width * rng.standard_normal(30_000) - width**2 / 2) - 1) / 0.9
    law = law_of_rates(np.full(30_000, 0.9), skew, np.full(30_000, 0.005), np.array([0]))
    assert law.two[0] == 0.0
    parts = parts_of(np.array([0.9]), law)
    assert all(np.isfinite(values).all() for values in vars(parts).values())
    assert parts.weight.sum() == pytest.approx(1.0)


@pytest.mark.parametrize("cv", [0.1, 0.3, 0.6])
def test_two_populations_have_mean_and_spread_of_the_family(cv):
    parts = two_parts(np.array(cv), np.array(0.3), np.array(0.2))
    assert (parts.weight * parts.shift).sum() == pytest.approx(0.0, abs=1e-12)
    assert (parts.weight * (parts.keep + parts.shift**2)).sum() == pytest.approx(1.0)
    slow, fast = np.sqrt(parts.keep) / (1.0 / cv + parts.shift)
    assert slow == pytest.approx(fast)  # the same spread over the mean


@pytest.mark.parametrize(("share", "spread", "off"), [(0.3, 0.1, 0.05), (0.6, 0.2, 0.1)])
def test_two_populations_are_found(share, spread, off):
    """That share of the lives wears 1.8 times as fast, each population with that spread of its mean;
    tolerance: half a step of those that are tried."""
    rng = np.random.default_rng(2)
    fast = rng.random(400) < share
    rate = (1.0 + spread * rng.standard_normal(400)) * np.where(fast, 1.8, 1.0)
    said, cv = (rate - rate.mean()) / rate.std(), rate.std() / rate.mean()
    law = law_of_rates(np.full(400, cv), said, np.full(400, 0.05), np.array([0]))
    assert law.two[0] > 0.99
    assert law.faster[0] == pytest.approx(fast.mean(), abs=0.1)
    within = 1.0 - fast.mean() * (1.0 - fast.mean()) * 0.8**2 / rate.var()
    assert law.within[0] == pytest.approx(within, abs=off)


def test_a_law_is_usual_where_other_families_have_it():
    """A family of six lives says little alone: among thirty of two populations is taken for such
    sooner than among thirty of one."""
    rng = np.random.default_rng(3)
    rate = (1.0 + 0.12 * rng.standard_normal((30, 6))) * np.where(rng.random((30, 6)) < 0.5, 1.8, 1.0)
    two = ((rate - 1.4) / rate.std()).ravel()
    starts = np.arange(0, 180, 6)
    alone = law_of_rates(np.full(6, 0.35), two[:6], np.full(6, 0.05), np.array([0])).two[0]
    among = law_of_rates(np.full(180, 0.35), two, np.full(180, 0.05), starts).two[0]
    plain = np.concatenate([two[:6], rng.standard_normal(174)])
    other = law_of_rates(np.full(180, 0.35), plain, np.full(180, 0.05), starts).two[0]
    assert among > 1.5 * max(alone, other)


def test_what_a_place_remembers_moves_and_narrows_every_law():
    """With the normal law alone the sum is what was said; told nothing, the law is as it was."""
    none, shift, keep = np.zeros(1), np.array([0.4]), np.array([0.6])
    told = parts_of(np.array([0.3]), normal_law(1)).after(shift, keep)
    assert told.weight[0] == pytest.approx(1.0)
    assert told.shift[0] == pytest.approx(0.4)
    assert told.keep[0] == pytest.approx(0.6)
    law = RateLaw(*(np.array([share]) for share in (0.4, 0.2, 0.5, 0.3)))
    parts = parts_of(np.array([0.3]), law)
    same = parts.after(none, np.ones(1))
    assert np.allclose(same.weight, parts.weight)
    assert np.allclose(same.shift, parts.shift)
