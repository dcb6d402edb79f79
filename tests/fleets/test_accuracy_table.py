"""The accuracy table: worked by hand on three lives."""

import numpy as np
import pytest
from fleets.accuracy_table import CAP, KnownTruth, accuracy_table

from models.distribution import PROBABILITIES
from models.lives.table import Lives
from models.wear.estimator import Forecaster


class Fixed(Forecaster):
    """Says the same miles at every probability, life by life."""

    def __init__(self, miles):
        self.miles = miles

    def fit(self, lives, quantity=None):
        return self

    def wear_paths(self, miles, draws, rng):
        raise AssertionError("not asked for")

    def predict_remaining(self, probabilities):
        return np.repeat(np.array(self.miles, dtype=float)[:, None], len(probabilities), axis=1)


@pytest.fixture
def case():
    """Two families; mean lives of 1,000 and 2,000; the last life is not to be scored."""
    readings = np.ones((4, 1))
    lives = Lives(
        family=np.array([0, 0, 1, 1]),
        miles=readings,
        wear=readings,
        limit=np.full(4, 10.0),
        gauge_sd=readings,
        as_of_miles=np.ones(4),
        ended=np.array([False, False, False, True]),
        day=readings,
    )
    remaining = np.array([400.0, 600.0, 1000.0, np.nan])
    return KnownTruth("by hand", lives, remaining, np.array([1000.0, 1000.0, 2000.0, 2000.0]))


def test_point_forecasts_worked_by_hand(case):
    table = accuracy_table(
        {"least squares": Fixed([500, 500, 1200, 0]), "ours": Fixed([400, 550, 1000, 0])}, [case]
    ).set_index("forecaster")
    # A point costs half its distance in mean lives, averaged over probabilities symmetric about 1/2.
    assert table.loc["least squares", "pinball"] == pytest.approx(np.mean([0.1, 0.1, 0.1]) / 2)
    assert table.loc["least squares", "crps"] == pytest.approx(0.1)
    assert table.loc["ours", "crps"] == pytest.approx(0.05 / 3)
    assert table.loc["ours", "ratio"] == pytest.approx(0.05 / 0.3)
    assert table.loc["ours", "worst"] == pytest.approx(0.25)  # family 0: 0.05 of 0.2
    assert table.loc["ours", "cover_80"] == pytest.approx(2 / 3)  # two of three hit exactly
    assert (table["lives"] == 3).all()


def test_a_line_that_never_crosses_counts_up_to_the_cap(case):
    table = accuracy_table(
        {"least squares": Fixed([np.inf, 500, 1200, 0]), "ours": Fixed([400, 550, 1000, 0])}, [case]
    ).set_index("forecaster")
    assert table.loc["least squares", "crps"] == pytest.approx(np.mean([CAP - 0.4, 0.1, 0.1]))


def test_only_lives_that_the_reference_can_answer_are_compared(case):
    table = accuracy_table(
        {"least squares": Fixed([np.nan, 500, 1200, 0]), "ours": Fixed([400, np.nan, 1400, 0])}, [case]
    ).set_index("forecaster")
    assert (table["lives"] == 2).all()
    assert table.loc["ours", "answered"] == 0.5
    assert table.loc["ours", "ratio"] == pytest.approx(2.0)
    assert table.loc["ours", "families_worse"] == 1


def test_the_stated_quantiles_are_on_the_stored_grid():
    for p in (0.05, 0.1, 0.5, 0.9, 0.95, 0.25, 0.75):
        assert np.abs(PROBABILITIES - p).min() < 1e-12
