"""Two of the first three examined are cracked: what of the rest?"""

import numpy as np
import pandas as pd
import pytest

from models.futures.hidden_work import CONCENTRATIONS, MEANS, defect_share_draws, share_posterior

EARLIER = pd.DataFrame(
    {"component": ["axle"] * 6, "examined": [8.0] * 6, "defective": [0.0, 1.0, 0.0, 2.0, 0.0, 1.0]}
)


def shares(**seen):
    return defect_share_draws(EARLIER, ["axle"], 20_000, 7, seen=seen)[:, 0]


def test_nothing_seen_changes_nothing():
    assert np.array_equal(shares(), defect_share_draws(EARLIER, ["axle"], 20_000, 7)[:, 0])
    assert np.array_equal(shares(rod=(3, 3)), shares())


def test_cracks_raise_the_rest_and_sound_parts_lower_it():
    before, cracked, sound = shares().mean(), shares(axle=(3, 2)).mean(), shares(axle=(5, 0)).mean()
    assert cracked > 1.5 * before
    assert sound < before


def test_the_mean_is_that_of_the_urn_averaged_over_what_is_learned():
    """The next part is defective with (a + k) / (a + b + n): Johnson, Kemp & Kotz, on the beta-binomial."""
    k, n = 2.0, 3.0
    examined, defective = np.append(EARLIER["examined"], n), np.append(EARLIER["defective"], k)
    posterior = share_posterior(examined, defective, (4 + 0.5) / (48 + 1))
    urn = (MEANS[:, None] * CONCENTRATIONS + k) / (CONCENTRATIONS + n)
    # 20,000 draws of a share whose deviation is about 0.15: four standard errors.
    assert shares(axle=(n, k)).mean() == pytest.approx(
        float((posterior * urn).sum()), abs=4 * 0.15 / 20_000**0.5
    )


def test_the_rats_of_the_71st_experiment():
    """A. Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 5.1 (data of Tarone 1982), from memory:
    with a beta of 1.4 and 8.6 before, 4 of 14 rats leave a beta of 5.4 and 18.6: mean 0.223,
    deviation 0.083."""
    rng = np.random.default_rng(1)
    a, b = 1.4 + 4, 8.6 + 14 - 4
    drawn = rng.beta(a, b, 100_000)
    assert (a / (a + b), drawn.std()) == pytest.approx((0.223, 0.083), abs=5e-3)
    # The grid's nearest cell to that beta gives the same, by the function's own rule.
    mean = int(np.abs(MEANS - 0.14).argmin())
    concentration = int(np.abs(CONCENTRATIONS - 10.0).argmin())
    cell = MEANS[mean] * CONCENTRATIONS[concentration]
    told = (cell + 4) / (CONCENTRATIONS[concentration] + 14)
    assert told == pytest.approx(0.223, abs=0.01)
