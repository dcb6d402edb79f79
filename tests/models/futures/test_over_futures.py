"""Parts that share the futures of their vehicle are drawn together, each as its own forecast says."""

import numpy as np
import pandas as pd
import pytest
from fleets.engine_seasons import EnginePlan
from fleets.engine_tables import simulated
from scipy.stats import norm

from models.distribution import PROBABILITIES
from models.forecast.run import make_forecast
from models.futures.over_futures import LEVELS, next_life_scores, remaining_scores, share_futures
from models.futures.simulation import Assumptions, simulate
from models.seasons.mixing import mixed

DRAWS = Assumptions(draws=4000)


def usage(vehicles):
    month = pd.date_range("2026-01-01", periods=36, freq="MS")
    one = [pd.DataFrame({"vehicle": v, "month": month, "miles": 500.0, "miles_sd": 50.0}) for v in vehicles]
    return pd.concat(one, ignore_index=True).assign(service_days=np.nan, source="planned")


def two_parts(vehicle, shared=0.5, alone=0.3):
    """Two parts of one vehicle, of two families, whose log miles have a shared and an own spread."""
    pace = np.exp(-shared * norm.ppf((np.arange(40) + 0.5) / 40))
    given = 20_000.0 / pace[:, None] * np.exp(alone * norm.ppf(LEVELS))
    whole = mixed(
        20_000.0 / pace[None, :, None] * np.exp(alone * norm.ppf(PROBABILITIES)), *[PROBABILITIES] * 2
    )
    points = pd.DataFrame(
        {
            "point": [f"{vehicle}1", f"{vehicle}2"],
            "vehicle": vehicle,
            "component": ["pin", "tire"],
            "position": "",
            "quantity": "wear",
            "access": "in_place",
            "matched_set": "",
        }
    )
    stored = pd.DataFrame(
        {
            "point": points["point"],
            "remaining": [whole[0]] * 2,
            "new_life": [whole[0]] * 2,
            "in_futures": [given.ravel()] * 2,
            "pace": [pace] * 2,
        }
    )
    return points, stored


@pytest.fixture(scope="module")
def futures():
    parts = [two_parts(v) for v in "AB"]
    points, stored = (pd.concat(frames, ignore_index=True) for frames in zip(*parts, strict=True))
    return stored, simulate(points, stored, usage("AB"), assumptions=DRAWS)


def test_each_part_is_drawn_as_its_forecast_says(futures):
    stored, drawn = futures
    # 4,000 draws: a share of 0.1 to 0.9 is known to 0.024 at three standard deviations.
    for share in (0.1, 0.5, 0.9):
        miles = np.interp(share, PROBABILITIES, stored["remaining"][0])
        assert (drawn.remaining <= miles).mean(axis=0) == pytest.approx(np.full(4, share), abs=0.025)
        assert (drawn.next_life[..., 0] <= miles).mean(axis=0) == pytest.approx(np.full(4, share), abs=0.025)


def test_parts_of_one_vehicle_share_its_futures_and_no_others(futures):
    _, drawn = futures
    for lives in (drawn.remaining, drawn.next_life[..., 0]):
        together = np.corrcoef(np.log(lives).T)
        expected = 0.5**2 / (0.5**2 + 0.3**2)
        assert together[0, 1] == pytest.approx(expected, abs=0.05)
        assert abs(together[0, 2]) < 0.05
    both = np.corrcoef(np.log(drawn.remaining[:, 0]), np.log(drawn.next_life[:, 0, 0]))
    assert both[0, 1] == pytest.approx(expected, abs=0.05), "the next part runs in the same future"


def test_a_forecast_without_futures_is_drawn_as_before(futures):
    points, stored = two_parts("A")
    without = stored.drop(columns=["in_futures", "pace"])
    empty = stored.assign(in_futures=[np.empty(0)] * 2, pace=[np.empty(0)] * 2)
    assert not share_futures(without).any()
    assert not share_futures(empty).any()
    first, second = (simulate(points, s, usage("A"), assumptions=DRAWS) for s in (without, empty))
    np.testing.assert_array_equal(first.remaining, second.remaining)
    assert abs(np.corrcoef(np.log(first.remaining).T)[0, 1]) < 0.05


def test_scores_are_those_of_ranks():
    rng = np.random.default_rng(1)
    own, future = rng.standard_normal((3, 500)), rng.integers(0, 4, (3, 500))
    given = np.sort(rng.uniform(1_000.0, 9_000.0, (3, 4, 5)), axis=2)
    given[2] = np.inf
    for scores in (
        remaining_scores(given, future, own),
        next_life_scores(rng.uniform(0.5, 2.0, (3, 4)), np.full(3, 0.3), future, own),
    ):
        np.testing.assert_allclose(np.sort(scores, axis=1)[0], norm.ppf((np.arange(500) + 0.5) / 500))
    order = remaining_scores(given, future, own)[2].argsort()
    np.testing.assert_array_equal(order, own[2].argsort())  # where nothing tells, the part's own


def test_engines_in_restless_seasons_have_parts_that_end_together():
    """Through the forecast: more engines have many or few parts due than if parts ended by themselves."""
    _, tables = simulated(14, EnginePlan(engines=4, shock=0.4))
    stored = make_forecast(tables).frames["distribution"]
    assert share_futures(stored).all()
    points = tables["wear_points"].assign(matched_set="")
    drawn = simulate(points, stored, usage(points["vehicle"].unique()), assumptions=DRAWS)
    alone = simulate(
        points,
        stored.drop(columns=["in_futures", "pace"]),
        usage(points["vehicle"].unique()),
        assumptions=DRAWS,
    )
    of = drawn.points["vehicle"] == "E001"
    miles = np.median(drawn.remaining[:, of])
    spread = [(lives[:, of] <= miles).sum(axis=1).std() for lives in (drawn.remaining, alone.remaining)]
    assert spread[0] > 1.3 * spread[1]
