"""One life is all that a store knows: straight until it clearly bends, and sure as its readings are."""

import numpy as np
import pytest
from fleets.lived_worlds import FINE, Law

from models.distribution import PROBABILITIES
from models.lives.table import Lives
from models.rivals.least_squares import LeastSquares
from models.score.scoring_rules import pinball
from models.wear.family_sums import FamilySums, sigma_centre
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


@pytest.mark.parametrize("off", [1e-9, 1e-3, 6e-3, 0.02])
def test_the_gauge_s_error_is_sought_where_its_posterior_is_highest(off):
    """Against a fine grid: readings that lie on a line by chance, at a hair's breadth and less close."""
    u, n = np.array([0.1, 0.3, 0.5]), 3
    z = u + off * np.array([1.0, -2.0, 1.0]) / np.sqrt(6.0)
    sums = FamilySums(*(np.full((1, 1), x) for x in (3.0, u.sum(), u @ u, z.sum(), u @ z, z @ z, 0.0)))
    prior, prior_sd = np.log(0.012), 1.0
    log_s = np.linspace(-12.0, 0.0, 24_001)
    height = -(n - 2) * log_s - 0.5 * off**2 * np.exp(-2.0 * log_s) - 0.5 * ((log_s - prior) / prior_sd) ** 2
    centre, width = sigma_centre(sums, np.array([float(n)]), prior, prior_sd, True)
    # Above a residual of a fifth of the prior's centre two normals are near enough: half of a spread.
    near = 0.02 if off < 0.002 else 0.5
    assert abs(centre[0, 0] - log_s[height.argmax()]) < near * width[0, 0]


def test_straightness_is_asked_of_the_only_life_and_hardly_where_there_are_others():
    def straight(families, lives):
        nothing_said = np.zeros((len(SHAPES), families))
        none = np.zeros(families, dtype=int)
        return shape_weights(nothing_said, none, lives=np.full(families, lives))[0][0]

    assert straight(1, 1) == pytest.approx(STRAIGHT_ALONE)
    assert straight(60, 1) == pytest.approx(STRAIGHT_SHARE, abs=0.01)
    assert straight(1, 2) == pytest.approx(STRAIGHT_SHARE)
