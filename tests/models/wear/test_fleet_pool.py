"""Railways that learn from each other: what is pooled, how sure it is, and that it pays."""

import numpy as np
import pandas as pd
import pytest
from fleets.accuracy_table import KnownTruth, accuracy_table
from fleets.railways import simulate_railways
from fleets.simulate import FleetPlan
from numpy.testing import assert_allclose

from models.lives.table import Lives
from models.rivals.least_squares import LeastSquares
from models.wear.fleet_pool import BETWEEN, Sources, between_railways, fit_together, pooled_over
from models.wear.model import PooledWear
from models.wear.priors import Priors
from models.wear.shapes import SHAPES
from models.wear.shared_prior import (
    LEAST_LIVES,
    PARAMETERS,
    VAGUE,
    Summary,
    before_readings,
    mixed_shapes,
    summary_frame,
    summary_of,
    with_others,
)

FAMILIES = 20
GAUGE, SPREAD, BROWNIAN, START, RATE = range(5)


def summary(centre, sd, lives=8):
    centre, sd = (np.atleast_2d(np.asarray(x, dtype=float)) for x in (centre, sd))
    f = centre.shape[1]
    shape = np.full((len(SHAPES), f), 1.0 / len(SHAPES))
    each = np.broadcast_to
    return Summary(each(centre, (5, f)), each(sd, (5, f)), shape, np.full(f, lives), np.full(f, 60))


def test_one_railway_tells_its_mean_and_the_difference_between_railways_twice():
    pooled = pooled_over([summary([-2.0], [0.1])], [["a"]], ["b", "a"], BETWEEN)
    assert np.isnan(pooled.centre[:, 0]).all()
    assert_allclose(pooled.centre[:, 1], -2.0)
    assert_allclose(pooled.sd[:, 1], np.sqrt(0.1**2 + 2.0 * BETWEEN**2))


def test_many_railways_that_know_exactly_leave_the_difference_between_railways_once():
    rng = np.random.default_rng(1)
    many = [summary([-2.0 + 0.3 * rng.standard_normal()], [1e-3]) for _ in range(200)]
    between = np.full(5, 0.3)
    pooled = pooled_over(many, [["a"]] * 200, ["a"], between)
    # Mean of 200: standard error 0.021; three of them.
    assert_allclose(pooled.centre[:, 0], -2.0, atol=0.064)
    assert_allclose(pooled.sd[:, 0], 0.3 * np.sqrt(1 + 1 / 200), rtol=1e-4)


def test_the_difference_between_railways_is_learned_from_families_that_several_have():
    rng = np.random.default_rng(2)
    common = rng.standard_normal(300)
    true, sd = 0.5, 0.2
    ones = [summary(common + np.hypot(true, sd) * rng.standard_normal((5, 300)), sd) for _ in range(3)]
    found = between_railways(ones, [list(range(300))] * 3)
    # A variance from 600 comparisons is known to 6 %, its root to 3 %; and 6 of 606 are the assumption.
    assert_allclose(found, true, rtol=0.1)
    assert_allclose(between_railways(ones[:1], [list(range(300))]), BETWEEN)


def test_what_says_nothing_counts_nothing():
    pooled = pooled_over([summary([-2.0], [VAGUE]), summary([-3.0], [0.2])], [["a"], ["a"]], ["a"], BETWEEN)
    assert_allclose(pooled.centre[:, 0], -3.0)


@pytest.fixture(scope="module")
def fitted():
    plan = FleetPlan(n_families=FAMILIES, stop=(0.8, 1.6))
    (fleet,) = simulate_railways(np.random.default_rng(5), [plan], {})
    return fleet, PooledWear().fit(Lives(**fleet.arrays))


def test_a_summary_is_the_truth_within_what_it_says_of_itself(fitted):
    fleet, model = fitted
    said, true = model.summary(), fleet.families
    logs = np.log([true.gauge * true.limit, true.spread, true.brownian, true.limit / true.mean_life])
    rows = [GAUGE, SPREAD, BROWNIAN, RATE]
    knows = said.sd[rows] < 1.0
    z = ((said.centre[rows] - logs) / said.sd[rows])[knows]
    assert knows.mean() > 0.8
    # Some 70 values, nearly normal: their root mean square is 1 within 25 % if the sds are right; taken
    # wider, because a likelihood of few lives is not normal.
    assert 0.6 < np.sqrt((z**2).mean()) < 1.6
    assert_allclose(said.shape.sum(axis=0), 1.0)


def test_learning_from_the_summary_of_nothing_but_the_prior_changes_nothing(fitted):
    rel = fitted[1].relative_
    pooled = pooled_over([summary([0.0], [VAGUE])], [["x"]], list(range(FAMILIES)), BETWEEN)
    after = with_others(Priors(), pooled, rel)
    assert_allclose(after.centres(), Priors().centres()[:, None] * np.ones(FAMILIES), rtol=1e-5)
    assert np.isnan(after.log_rate).all()
    assert_allclose(mixed_shapes(fitted[1].shape_prior_, pooled), fitted[1].shape_prior_)


def test_what_others_say_is_taken_out_again_before_it_is_passed_on(fitted):
    """A railway that passes on what others say would let one railway's readings count twice."""
    fleet, alone = fitted
    said = alone.summary()
    pooled = pooled_over([said], [list(range(FAMILIES))], list(range(FAMILIES)), 0.3 * BETWEEN)
    again = PooledWear(from_others=pooled).fit(Lives(**fleet.arrays)).summary()
    both = (said.sd[RATE] < 1) & (again.sd[RATE] < 1)
    assert both.mean() > 0.9
    assert (again.sd[RATE] / said.sd[RATE])[both] == pytest.approx(1.0, abs=0.25)
    assert np.median(np.abs(again.centre[RATE] - said.centre[RATE])[both] / said.sd[RATE][both]) < 0.3
    centre, sd = before_readings(with_others(Priors(), pooled, alone.relative_), alone.relative_)
    assert_allclose(centre[RATE], pooled.centre[RATE])
    assert_allclose(sd[RATE], pooled.sd[RATE])


def test_the_table_and_back(fitted):
    parts = pd.DataFrame({"component": [f" Part {i}" for i in range(FAMILIES)], "quantity": "Wear"})
    said = fitted[1].summary()
    said.lives[3] = LEAST_LIVES - 1
    back, keys = summary_of(summary_frame(said, parts.assign(base_unit="mm")))
    assert keys[0] == ("part 0", "wear", "mm")
    kept = np.delete(np.arange(FAMILIES), 3)
    for name in ("centre", "sd", "shape", "lives", "readings"):
        assert_allclose(getattr(back, name), getattr(said.take(kept), name))
    assert set(PARAMETERS) <= set(summary_frame(said, parts.assign(base_unit="mm")).columns)


def new_railway(shape, seed, donors=2):
    """Others with eight lives a family, and a new one with four lives of three readings each."""
    old = FleetPlan(n_families=FAMILIES, shape=shape, stop=(0.6, 2.0))
    new = FleetPlan(n_families=FAMILIES, n_lives=4, readings=(3, 3), shape=shape)
    return simulate_railways(np.random.default_rng(seed), [old] * donors + [new])


def scored(models, fleet):
    case = KnownTruth("new", Lives(**fleet.arrays), fleet.remaining, fleet.mean_life)
    return accuracy_table(models, [case], "alone").set_index("forecaster")


@pytest.mark.parametrize(
    ("shape", "seeds", "most"),
    [
        # 80 lives in 20 families: the ratios of single fleets differ by some 0.2 (mixed), 0.08 (straight).
        ("mixed", (1,), 0.75),
        ("straight", (1,), 1.08),
        pytest.param("mixed", range(1, 11), 0.5, marks=pytest.mark.long),
        pytest.param("straight", range(1, 11), 1.0, marks=pytest.mark.long),
    ],
)
def test_a_new_railway_forecasts_better_with_what_others_learned(shape, seeds, most):
    ratios, covers = [], []
    for seed in seeds:
        *others, new = new_railway(shape, seed)
        sources = Sources(
            tuple(PooledWear().fit(Lives(**fleet.arrays)).summary() for fleet in others),
            (tuple(range(FAMILIES)),) * len(others),
        )
        pooled = sources.about(range(FAMILIES))
        models = {
            "alone": PooledWear(),
            "with others": PooledWear(from_others=pooled),
            "least squares": LeastSquares(),
        }
        table = scored(models, new)
        print(f"\n{shape} {seed}\n{table[['ratio', 'pinball', 'cover_80']].round(3)}")
        ratios.append(table.loc["with others", "ratio"])
        covers.append(table.loc["with others", "cover_80"])
    assert np.mean(ratios) < most
    # 80 lives that err together by families: two standard errors of one fleet's cover are some 12 points.
    assert np.mean(covers) > 0.66


def test_railways_whose_data_are_together_learn_from_each_other():
    fleets = new_railway("mixed", 3)
    keys = [list(range(FAMILIES))] * 3
    together = fit_together([Lives(**f.arrays) for f in fleets], keys)

    class Fitted(LeastSquares):
        def fit(self, lives, quantity=None):
            return together[2]

    table = scored({"alone": PooledWear(), "together": Fitted()}, fleets[2])
    assert table.loc["together", "ratio"] < 0.75


def test_sources_that_know_none_of_the_families_say_nothing():
    assert Sources((summary([0.0], [1.0]),), (("a",),)).about(["b"]) is None
