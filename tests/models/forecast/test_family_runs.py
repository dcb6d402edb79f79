"""How a large store is cut into runs of families, and what a sample teaches."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from models.forecast.family_runs import cut_in_runs, learn_across, sample
from models.lives.table import Lives
from models.lives.wear_scale import families_of
from models.wear.model import PooledWear
from models.wear.priors import Learned
from models.wear.shapes import SHAPES

VEHICLES = pd.DataFrame({"vehicle": ["1", "2", "3"], "class": ["A", "A", "B"], "arrangement": "2-8-0"})


def points_of(rows):
    """Wear points of (vehicle, component, quantity)."""
    frame = pd.DataFrame(rows, columns=["vehicle", "component", "quantity"], dtype="str")
    return frame.assign(base_unit="mm", point=[f"p{i}" for i in range(len(frame))])


drawn = st.lists(
    st.tuples(st.sampled_from("123"), st.sampled_from("xyz"), st.sampled_from(["bore", "hollow"])),
    min_size=1,
    max_size=60,
)


@settings(deadline=None)
@given(rows=drawn, most=st.integers(1, 20))
def test_a_family_is_never_cut_and_no_run_is_empty(rows, most):
    points = points_of(rows)
    run = cut_in_runs(points, VEHICLES, most)
    family, _ = families_of(points, VEHICLES)
    assert len({*zip(run, family, strict=True)}) == len({*family})
    assert set(run) == set(range(run.max() + 1))
    largest = np.bincount(family).max()
    assert np.bincount(run).max() < most + largest


@settings(deadline=None)
@given(rows=drawn)
def test_the_sample_has_every_quantity_and_whole_small_families(rows):
    points = points_of(rows)
    chosen = sample(points, VEHICLES)
    assert set(points["quantity"][chosen]) == set(points["quantity"])
    family, _ = families_of(points, VEHICLES)
    assert pd.Series(chosen).groupby(family).sum().between(0, 12).all()


def test_families_are_the_same_kind_of_part_on_one_class():
    points = points_of([("1", "x", "bore"), ("2", "x", "bore"), ("3", "x", "bore"), ("1", "x", "hollow")])
    assert families_of(points, VEHICLES)[0].tolist() == [0, 0, 1, 2]


def lives_of(families, rng):
    n = families * 8
    miles = np.sort(rng.uniform(5_000, 60_000, (n, 6)), axis=1)
    wear = miles / 80_000 * np.exp(0.2 * rng.standard_normal((n, 1))) + 0.01 * rng.standard_normal((n, 6))
    return Lives(
        family=np.repeat(np.arange(families), 8),
        miles=miles,
        wear=wear * 5.0,
        limit=np.full(n, 5.0),
        gauge_sd=np.full((n, 6), np.nan),
        as_of_miles=np.full(n, 60_000.0),
        ended=np.zeros(n, dtype=bool),
        day=miles,
    )


def part(lives, families):
    """Some families, numbered from 0."""
    here = np.isin(lives.family, families)
    taken = {
        n: getattr(lives, n)[here]
        for n in ("miles", "wear", "limit", "gauge_sd", "as_of_miles", "ended", "day")
    }
    return Lives(family=np.searchsorted(families, lives.family[here]), **taken)


def test_with_what_is_known_a_family_is_forecast_the_same_in_whatever_company():
    lives = lives_of(12, np.random.default_rng(6))
    model = PooledWear().fit(lives)
    learned = Learned(
        model.priors_, {"": model.shape_prior_[:, 0]}, model.wild_share_, model.memory_share_, nodes=20
    )
    at = np.array([0.1, 0.5, 0.9])

    def forecast(families):
        known = learned.of(np.array(["bore"] * len(families), dtype=object))
        return PooledWear(known=known).fit(part(lives, np.array(families))).predict_remaining(at)

    whole = forecast(range(12))
    assert_allclose(forecast([3, 4, 5]), whole[24:48], rtol=1e-12)
    assert_allclose(forecast([5]), whole[40:48], rtol=1e-12)
    # A first look at each bent shape and a closer one where it counts, and fewer nodes: near the full fit.
    full = model.predict_remaining(at)
    width = (full[:, 2] - full[:, 0])[full[:, 0] > 0]
    moved = np.abs(whole - full)[full[:, 0] > 0] / width[:, None]
    assert np.quantile(moved, 0.95) < 0.05


def test_a_sample_teaches_what_all_share(tables):
    readings = []
    rng = np.random.default_rng(1)
    for point in "ABCDEFGH":
        rate = 0.3 * np.exp(0.2 * rng.standard_normal())
        readings += [
            (point, d, abs(rate * d / 100 + 0.02 * rng.standard_normal()), d * 10)
            for d in range(100, 1000, 150)
        ]
    given_tables = tables(readings, points=[(p, 0.0, 5.0) for p in "ABCDEFGH"])
    learned = learn_across(given_tables, None, 1_000_000)
    assert learned is not None
    assert set(learned.shape_prior) == {"", "clearance [mm]"}
    assert learned.shape_prior[""].sum() == pytest.approx(1.0)
    known = learned.of(np.array(["clearance [mm]", "unheard of"], dtype=object))
    assert known.shape_prior.shape == (len(SHAPES), 2)
    assert learned.nodes < learn_across(given_tables, None, 100).nodes
    assert learn_across(tables([], points=[("A", 0.0, 5.0)]), None, 10) is None
