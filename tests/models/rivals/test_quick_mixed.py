"""The mixed model of all families at once against statsmodels' of one family at a time."""

import numpy as np
import pandas as pd
import pytest
from fleets.simulate import FleetPlan, simulate_fleet

from models.lives.table import Lives
from models.rivals.mixed import MixedModel
from models.rivals.quick_mixed import FamilyLines, QuickMixedModel


def lives_of(table, unit, x, y):
    wide = table.pivot_table(index=unit, columns=x, values=y)
    n, k = wide.shape
    miles = np.tile(np.asarray(wide.columns, dtype=float), (n, 1))
    return Lives(
        family=np.zeros(n, dtype=int),
        miles=miles,
        wear=wide.to_numpy(float),
        limit=np.full(n, 1.0),
        gauge_sd=np.full((n, k), np.nan),
        as_of_miles=miles[:, -1],
        ended=np.zeros(n, dtype=bool),
        day=miles,
    )


def test_sleepstudy_has_the_fit_that_lme4_prints():
    """Bates, Mächler, Bolker, Walker, *Fitting linear mixed-effects models using lme4*, J. Stat. Softw. 67
    (2015), doi:10.18637/jss.v067.i01: sd 24.7 and 5.92, residual 25.6."""
    from pathlib import Path

    data = Path(__file__).parents[2] / "published" / "data" / "sleepstudy.csv"
    found = QuickMixedModel().fit(lives_of(pd.read_csv(data, comment="#"), "Subject", "Days", "Reaction"))
    assert np.sqrt(found.lines_.reading_var[0]) == pytest.approx(25.59, abs=0.05)
    # Lines of the subjects that lme4 gives as coef(): 308 and 309.
    np.testing.assert_allclose(found.lines_.level[:2], [253.66, 211.01], atol=0.5)
    np.testing.assert_allclose(found.lines_.rate[:2], [19.67, 1.85], atol=0.1)


def test_every_family_as_statsmodels_fits_it_alone():
    plan = FleetPlan(n_families=5, n_lives=10, readings=(5, 9))
    lives = Lives(**simulate_fleet(np.random.default_rng(4), plan).arrays)
    quick, slow = QuickMixedModel().fit(lives), MixedModel().fit(lives)
    ours, theirs = (f.predict_remaining([0.1, 0.5, 0.9]) for f in (quick, slow))
    near = np.isfinite(ours) & np.isfinite(theirs) & (theirs > 0)
    assert near.mean() > 0.8
    off = np.abs(np.log(np.maximum(ours[near], 1.0) / np.maximum(theirs[near], 1.0)))
    assert np.median(off) < 0.01
    assert np.quantile(off, 0.95) < 0.15


def test_a_life_alone_has_a_line_of_its_own_and_one_without_three_readings_none():
    plan = FleetPlan(n_families=1, n_lives=1, readings=(6, 6))
    lives = Lives(**simulate_fleet(np.random.default_rng(2), plan).arrays).take(np.array([0]))
    assert not FamilyLines().fit(lives).from_family_.any()
    assert np.isfinite(FamilyLines().fit(lives).predict_remaining([0.5])).all()
    assert np.isnan(QuickMixedModel().fit(lives).predict_remaining([0.5])).all()
