"""A forecaster is one method: what follows from its drawn paths, held against closed forms."""

import numpy as np
import pytest
from fleets.accuracy_table import KnownTruth, accuracy_table
from fleets.simulate import FleetPlan, simulate_fleet
from scipy import stats
from scipy.special import gammaincc
from sklearn.base import clone

from models.lives.table import Lives
from models.rivals.gaussian_process import GaussianProcess
from models.rivals.last_two import LastTwoReadings
from models.rivals.least_squares import LeastSquares
from models.rivals.mixed import MixedModel
from models.score.rolling import rolling_score
from models.score.track_record import Record
from models.wear.estimator import Forecaster
from models.wear.model import PooledWear

P = np.array([0.05, 0.25, 0.5, 0.75, 0.95])


class GammaWear(Forecaster):
    """Wear grows from the last reading by gamma-distributed steps, at the life's own mean rate."""

    STEP = 0.05  # scale of the steps, as a share of the limit

    def wear_paths(self, miles, draws, rng):
        lives = self.lives_
        last = np.maximum(lives.count - 1, 0)[:, None]
        level = np.take_along_axis(lives.wear, last, 1)
        begun = np.take_along_axis(lives.miles, last, 1)
        run = np.diff(np.maximum(miles, begun), axis=1, prepend=begun)
        scale = self.STEP * lives.limit[:, None]
        steps = rng.gamma(np.maximum(run * level / begun / scale, 1e-12), scale, (draws, *run.shape))
        return level + np.cumsum(steps, axis=-1)


@pytest.fixture(scope="module")
def fleet():
    plan = FleetPlan(n_families=3, readings=(4, 12), gauge_known=True, stop=(0.3, 0.6))
    return simulate_fleet(np.random.default_rng(11), plan)


@pytest.fixture(scope="module")
def three_lives():
    miles = np.array([[1000.0, 10_000.0], [1000.0, 20_000.0], [500.0, 4000.0]])
    wear = np.array([[0.1, 1.0], [0.2, 1.5], [0.1, 0.5]])
    return Lives(
        family=np.zeros(3, dtype=int),
        miles=miles,
        wear=wear,
        limit=np.array([2.0, 2.0, 5.0]),
        gauge_sd=np.full((3, 2), 0.02),
        as_of_miles=np.array([10_000.0, 22_000.0, 4000.0]),
        ended=np.zeros(3, dtype=bool),
        day=miles,
    )


def test_remaining_miles_of_drawn_paths_are_those_of_the_law(three_lives):
    """Gamma wear only grows: by a distance the limit is reached when a gamma variable is beyond it."""
    lives = three_lives
    found = GammaWear().fit(lives).predict_remaining(P)
    rate = lives.wear[:, 1] / lives.miles[:, 1]
    scale = GammaWear.STEP * lives.limit
    run = found + (lives.as_of_miles - lives.miles[:, 1])[:, None]
    missing = (lives.limit - lives.wear[:, 1]) / scale
    chance = gammaincc(run * (rate / scale)[:, None], missing[:, None])
    # 2,000 draws: the chance behind a quantile p has a standard error of sqrt(p (1 - p) / 2000), at most
    # 0.011; three of them, for fifteen quantiles are looked at.
    np.testing.assert_allclose(chance, np.broadcast_to(P, chance.shape), atol=0.034)
    assert (np.diff(found, axis=1) > 0).all()


def test_readings_of_drawn_paths_carry_the_stated_gauge_error_in_any_order_of_miles(three_lives):
    asked = np.array([[np.nan, 10_000.0], [40_000.0, 22_000.0], [4000.0, np.nan]])
    found = GammaWear().fit(three_lives).predict_readings(asked, [0.1, 0.5, 0.9])
    assert np.isnan(found[0, 0]).all()
    assert np.isnan(found[2, 1]).all()
    # At its own last reading nothing but the gauge is left: normal, sd 0.02; 2,000 draws know its tenth
    # percentile to 0.0008.
    np.testing.assert_allclose(found[0, 1], 1.0 + 0.02 * stats.norm.ppf([0.1, 0.5, 0.9]), atol=0.0025)
    assert (found[1, 0] > found[1, 1]).all()


def test_a_forecaster_of_one_method_is_scored_beside_the_others(fleet):
    lives = Lives(**fleet.arrays)
    record = Record(lives, fleet.end_day, fleet.whole_miles)
    forecasters = {"gamma": GammaWear(), "straight line": LeastSquares()}
    score = rolling_score(record, forecasters, own="gamma", reference="straight line", origins=2)
    assert set(score.overall.loc[score.overall["lives"] > 0, "forecaster"]) >= set(forecasters)
    case = KnownTruth("straight", lives, fleet.remaining, fleet.mean_life)
    table = accuracy_table({"gamma": clone(GammaWear()), "least squares": LeastSquares()}, [case])
    assert table.set_index("forecaster").loc["gamma", "answered"] == 1.0


@pytest.mark.parametrize(
    "forecaster",
    [
        LastTwoReadings(),
        LeastSquares(),
        MixedModel(),
        GaussianProcess(),
        PooledWear(shapes=False),
        PooledWear(),
    ],
    ids=["last two", "least squares", "mixed", "Gaussian process", "straight wear", "all shapes"],
)
def test_closed_forms_are_those_of_the_drawn_paths(forecaster, fleet):
    """What a forecaster overrides says the same as what would have followed from its paths."""
    lives = Lives(**fleet.arrays)
    fitted = clone(forecaster).fit(lives)
    ahead = lives.as_of_miles[:, None] + np.array([0.0, 0.3]) * fleet.mean_life[:, None]
    served = ~lives.ended & (lives.count >= 3)
    closed, drawn = fitted.predict_readings(ahead, P), Forecaster.predict_readings(fitted, ahead, P)
    # 2,000 draws know the 5th percentile of a normal to 0.047 sd, which is 0.014 of this interval, the median
    # to 0.009: half of the errors are within 0.7 of that. The wear model adds what its closed form rounds.
    width = closed[..., [-1]] - closed[..., [0]] + 1e-9 * lives.limit[:, None, None]
    assert np.nanmedian(np.abs(drawn - closed)[served] / width[served]) < 0.02
    of_miles, of_draws = fitted.predict_remaining(P)[served], Forecaster.predict_remaining(fitted, P)[served]
    both = np.isfinite(of_miles) & np.isfinite(of_draws)
    assert both.mean() > 0.7
    of_miles, of_draws = (np.where(both, miles, np.nan) for miles in (of_miles, of_draws))
    width = (of_miles[:, -1] - of_miles[:, 0])[:, None] + 1e-9
    assert np.nanmedian(np.abs(of_draws - of_miles) / width) < 0.02
