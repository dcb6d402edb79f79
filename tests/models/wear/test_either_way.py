"""Where readings leave open whether wear slows down or accelerates, the forecast is the more careful."""

import numpy as np
import pytest
from fleets.accuracy_table import PINBALL_AT, in_service
from fleets.simulate import FleetPlan, simulate_fleet
from numpy.testing import assert_allclose

from models.lives.table import Lives
from models.score.scoring_rules import pinball
from models.wear import model as wear_model
from models.wear.model import PooledWear
from models.wear.shapes import SHAPES, either_way

FEW = FleetPlan(n_lives=4, readings=(3, 3), shape="mixed")


def weights(slower, faster):
    """Weights of all shapes, one family, the rest on straight wear."""
    kind = np.array([shape.kind.split()[0] for shape in SHAPES])
    share = {"straight": 1.0 - slower - faster, "slower": slower, "faster": faster}
    return np.array([[share[k] / (kind == k).sum()] for k in kind])


@pytest.mark.parametrize(
    ("slower", "faster", "open_"),
    [(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.6, 0.0), (0.5, 0.5, 1.0), (0.2, 0.3, 0.24)],
)
def test_it_is_open_only_where_both_are_likely(slower, faster, open_):
    assert_allclose(either_way(weights(slower, faster)), [open_], atol=1e-12)


def test_straight_wear_alone_is_open_in_nothing():
    assert_allclose(either_way(np.ones((1, 3))), np.zeros(3))


def scored(plan, seeds):
    """Loss, whether the 80 % interval holds the truth, whether it ends before the 10 % figure; each part."""
    rows = []
    for seed in seeds:
        fleet = simulate_fleet(np.random.default_rng(seed), plan)
        model = PooledWear().fit(Lives(**fleet.arrays))
        said, came = in_service(fleet, model.predict_remaining(PINBALL_AT))
        held = (said[:, 1] <= came) & (came <= said[:, 3])
        rows.append(np.stack([pinball(said, PINBALL_AT, came), held, came < said[:, 1]]))
    return np.concatenate(rows, axis=1)


def test_few_readings_of_mixed_shapes_hold_what_they_say(monkeypatch):
    loss, held, early = scored(FEW, range(300, 310))
    monkeypatch.setattr(wear_model, "SPREAD_OF_BEND", 0.0)
    loss_before, _, early_before = scored(FEW, range(300, 310))
    # 1,600 parts of 400 families that err together: three standard errors are some 6 points.
    assert held.mean() > 0.72
    assert early.mean() < early_before.mean() - 0.02
    assert loss.mean() < loss_before.mean()


@pytest.mark.long
def test_many_fleets_of_few_readings_hold_what_they_say():
    _, held, early = scored(FEW, range(400, 440))
    print(f"\n80 % interval holds {held.mean():.1%}, before its start {early.mean():.1%}")
    assert 0.75 < held.mean() < 0.86
    assert early.mean() < 0.19


def test_families_of_one_shape_are_told_the_same(monkeypatch):
    plan = FleetPlan(shape="straight", n_families=20)
    wider, *_ = scored(plan, [7])
    monkeypatch.setattr(wear_model, "SPREAD_OF_BEND", 0.0)
    assert wider.mean() == pytest.approx(scored(plan, [7])[0].mean(), rel=0.002)
