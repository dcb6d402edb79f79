"""One life is all that a store knows: straight until it clearly bends, and sure as its readings are."""

import numpy as np
import pytest
from fleets.lived_worlds import FINE, Law

from models.distribution import PROBABILITIES
from models.lives.table import Lives
from models.rivals.least_squares import LeastSquares
from models.score.scoring_rules import pinball
from models.wear.model import PooledWear
from models.wear.shape_weights import STRAIGHT_ALONE, STRAIGHT_SHARE, shape_weights
from models.wear.shapes import SHAPES


def life_of(rng, law, readings):
    """One life read until 40 to 80 % of it, and the miles that it truly has left."""
    wear, crossing = law.path(rng)
    until = crossing * rng.uniform(0.4, 0.8)
    at = np.sort(np.append(rng.uniform(0.05, 1.0, readings - 1), 1.0) * until).astype(int)
    miles = at[None] * law.life / FINE
    seen = wear[at - 1] + law.gauge * rng.standard_normal(readings)
    lives = Lives(
        family=np.zeros(1, dtype=int),
        miles=miles,
        wear=seen[None] * law.limit,
        limit=np.array([law.limit]),
        gauge_sd=np.full((1, readings), np.nan),
        as_of_miles=miles[:, -1],
        ended=np.zeros(1, dtype=bool),
        day=miles,
    )
    return lives, crossing * law.life / FINE - miles[0, -1]


def ratio_to_the_line(law, readings, count=20):
    rng, total = np.random.default_rng(5), np.zeros(2)
    for _ in range(count):
        lives, left = life_of(rng, law, readings)
        for i, forecaster in enumerate((PooledWear(), LeastSquares())):
            said = forecaster.fit(lives).predict_remaining(PROBABILITIES)
            said = np.minimum(said, 3 * law.life)
            total[i] += pinball(said, PROBABILITIES, [min(left, 3 * law.life)]).item()
    return total[0] / total[1]


@pytest.mark.parametrize(
    ("law", "readings", "most"),
    [
        # Where only the gauge disturbs it the line knows best; with the priors of families 1.7 and 2.0
        (Law(brownian=0.0, gauge=0.01), 5, 1.3),
        (Law(brownian=0.0, gauge=0.01), 9, 1.3),
        (Law(brownian=0.06, gauge=0.01), 5, 1.02),  # 1.06 with them
        (Law(brownian=0.03, gauge=0.01, power=1.8), 5, 0.45),
        (Law(brownian=0.03, gauge=0.01, power=0.6), 5, 0.5),
    ],
    ids=["straight, 5", "straight, 9", "wandering", "accelerating", "running in"],
)
def test_one_life_is_forecast_about_as_its_line_where_it_is_straight_and_better_where_it_bends(
    law, readings, most
):
    assert ratio_to_the_line(law, readings) <= most


def test_straightness_is_asked_of_the_only_life_and_hardly_where_there_are_others():
    def straight(families, lives):
        nothing_said = np.zeros((len(SHAPES), families))
        none = np.zeros(families, dtype=int)
        return shape_weights(nothing_said, none, lives=np.full(families, lives))[0][0]

    assert straight(1, 1) == pytest.approx(STRAIGHT_ALONE)
    assert straight(60, 1) == pytest.approx(STRAIGHT_SHARE, abs=0.01)
    assert straight(1, 2) == pytest.approx(STRAIGHT_SHARE)
