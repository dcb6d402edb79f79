"""The second-order likelihood of the seasons against the likelihood itself, written out with dense
matrices."""

import numpy as np
import pytest
from fleets.engine_seasons import EnginePlan
from fleets.engine_tables import lives_of
from scipy.stats import multivariate_normal

from models.seasons.effective import effective_lives
from models.seasons.season_table import season_table
from models.seasons.sensitivity import sensitivity
from models.wear.heaviest import under_heaviest
from models.wear.model import PooledWear


@pytest.fixture(scope="module")
def engine():
    """One engine, three families, and the model without seasons."""
    tables, table = lives_of(3, EnginePlan(engines=1, families=3, parts=(3, 3), seasons=5, shock=0.3))
    model = PooledWear(shapes=False).fit(table.lives, table.scale.quantity)
    return table, season_table(table, tables["mileage"]), model


def log_likelihood(engine, severity, rate_factor):
    """Of all readings under the model's own parameters; the mean rate and its spread times ``rate_factor`` of
    each family."""
    table, seasons, model = engine
    rel = model.relative_
    _, nodes = under_heaviest(rel, model.shaped_)
    miles = effective_lives(table, seasons, severity).miles[rel.order] / rel.per_life(rel.life)[:, None]
    family = np.repeat(np.arange(len(rel.starts)), rel.sizes)
    total = 0.0
    for i in range(len(rel.order)):
        read = np.isfinite(rel.w[i])
        if not read.any():
            continue
        u, s2, by = (
            miles[i, read] * model.fits_[0].factor[family[i]],
            nodes.sigma2[0, i],
            rate_factor[family[i]],
        )
        plain = rel.m[i, read] * model.fits_[0].factor[family[i]]
        cov = np.diag(rel.noise[i, read]) + nodes.q[0, i] * np.minimum.outer(plain, plain)
        cov = cov + nodes.ra[0, i] + by**2 * nodes.rb[0, i] * np.outer(u, u)
        mean = nodes.a0[0, i] + by * nodes.mu[0, i] * u
        total += multivariate_normal(mean, s2 * cov).logpdf(rel.w[i, read])
    return total


def test_the_score_is_the_slope_of_the_likelihood(engine):
    """Before the families' rates are integrated out; that part is checked by the next test."""
    _, seasons, model = engine
    none = np.zeros(seasons.year.shape)
    sensed = sensitivity(model, engine[0], seasons, none)
    ones, step = np.ones(3), 1e-4
    slope = np.empty(5)
    for s in range(5):
        moved = none.copy()
        moved[0, s] = step
        slope[s] = (log_likelihood(engine, moved, ones) - log_likelihood(engine, -moved, ones)) / (2 * step)
    by_family = np.empty(3)
    for f in range(3):
        up, down = np.ones(3), np.ones(3)
        up[f], down[f] = np.exp(step), np.exp(-step)
        by_family[f] = (log_likelihood(engine, none, up) - log_likelihood(engine, none, down)) / (2 * step)
    # The fit has put the families' rates where their own slopes are small, so little is integrated out.
    assert np.abs(by_family).max() < 3.0
    np.testing.assert_allclose(sensed.score[0], slope, atol=0.12 * np.abs(slope).max() + 1.0)


def test_all_seasons_alike_are_the_rate_of_the_families(engine):
    """Nothing tells a vehicle whose seasons are all harder from one whose families wear faster."""
    table, seasons, model = engine
    sensed = sensitivity(model, table, seasons, np.zeros(seasons.year.shape))
    every = np.ones(5)
    assert every @ sensed.information[0] @ every < 0.02 * np.trace(sensed.information[0])
    assert np.linalg.eigvalsh(sensed.information[0]).min() > -1e-6 * np.trace(sensed.information[0])


def test_a_harder_past_makes_a_slower_part(engine):
    table, seasons, model = engine
    sensed = sensitivity(model, table, seasons, np.zeros(seasons.year.shape))
    read = table.lives.count >= 3
    assert (sensed.of_rate[read].sum(axis=1) < -0.5).all()
