"""The simulator of planned years: what it counts is what happened."""

import numpy as np
import pytest
from fleets.planned_years import KINDS, MILES, at_share, lived, railway


def test_parts_wear_as_their_kind_does_and_what_is_known_follows():
    own = railway(3, parts=40)
    assert np.corrcoef(own.mean[:, 0], own.wear)[0, 1] > 0.98
    spread = np.sqrt(own.cov[:, 0, 0])
    inside = np.abs(own.mean[:, 0] - own.wear) < 1.2816 * spread  # 80 % of a normal
    assert 0.65 <= inside.mean() <= 0.95
    assert own.left == pytest.approx(float((own.cost * np.clip(1 - own.wear, 0, 1)).sum()))
    assert set(own.parts["component"]) == set(KINDS)


def test_a_stop_is_counted_once_a_season_and_paid():
    own = railway(1, parts=8)
    own.rng = np.random.default_rng(0)
    own.wear[:2] = 0.999
    before = own.money
    own.run()
    assert own.stops[-1].tolist() == [True, False] or own.stops[-1][0]
    paid = own.cost[:2].sum() + 14 * 1000.0
    assert own.money - before >= paid
    assert own.age[:2].max() < MILES  # both were renewed within the season


def test_renewing_sooner_stops_engines_less_often():
    late, soon = (
        np.mean([lived(seed, at_share(share), 5, 20)[1] for seed in range(6)]) for share in (1.0, 0.7)
    )
    assert soon < late
