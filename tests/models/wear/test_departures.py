"""A part that wears faster and faster among straight sisters is forecast by its own shape, and said."""

import numpy as np
import pytest
from fleets.lived_worlds import Law, bending_among_straight, place_of, tables_of

from models.forecast.run import make_forecast
from models.lives.bend import bends_at
from models.lives.build import build_lives
from models.wear.model import PooledWear


def careful_and_true(seed, sisters=7):
    places, law = bending_among_straight(np.random.default_rng([41, seed]), sisters)
    table = build_lives(tables_of(places, law))
    model = PooledWear().fit(table.lives, forecast=table.in_service)
    careful, half = model.remaining(np.array([0.05, 0.5]), table.in_service[:1])[0][0]
    others = model.departed_[model.row_of_[table.in_service[1:]]]
    return careful / places[0].left, half / places[0].left, (others > 0.5).sum()


def test_its_careful_figure_is_careful_and_not_a_small_part_of_the_truth():
    """Eight such parts, each among seven straight sisters, 18 readings each: the careful figure was twice the
    truth. Now some 0.77 of it; the mean of eight has a standard error of 0.02."""
    found = np.array([careful_and_true(seed) for seed in range(8)])
    assert (found[:, 0] <= 1.0).sum() >= 7
    assert np.median(found[:, 0]) > 0.5
    assert np.median(found[:, 1]) == pytest.approx(1.0, abs=0.15)
    assert found[:, 2].sum() <= 1  # of 56 sisters


@pytest.mark.long
def test_five_hundred_such_parts():
    found = np.array([careful_and_true(seed) for seed in range(500)])
    print(f"\nbelow the truth {np.mean(found[:, 0] <= 1):.3f}, median {np.median(found[:, 0]):.3f} of it")
    print(f"sisters said to leave: {found[:, 2].sum():.0f} of 3,500")
    assert np.mean(found[:, 0] <= 1.0) >= 0.93
    assert np.median(found[:, 0]) >= 0.5
    assert found[:, 2].sum() <= 70


def test_people_are_told_since_when_and_by_which_readings():
    places, law = bending_among_straight(np.random.default_rng([4, 0]))
    frames = make_forecast(tables_of(places, law)).frames
    flags, alarms = frames["forecast"]["flags"], frames["alarms"]
    assert "wears faster since 1992 than in its own past" in flags[0]
    assert not flags[1:].str.contains("faster since").any()
    own = alarms[alarms["kind"] == "faster since"]
    assert set(own["point"]) == {"V-000"}
    assert (own["date"] >= own["since"]).all()
    assert len(own) >= 3
    assert frames["state"]["weight straight"][0] < 0.1


def test_straight_parts_are_not_said_to_leave():
    """Ninety-six straight parts with twelve readings each, bent now and then by Brownian wear."""
    law = Law(spread=0.3, brownian=0.1)
    gone = 0
    for seed in range(8):
        rng = np.random.default_rng([5, seed])
        table = build_lives(tables_of([place_of(rng, law, 0.9, every=0.075) for _ in range(12)], law))
        gone += (PooledWear().fit(table.lives).departed_ > 0.5).sum()
    assert gone <= 2


def test_where_two_lines_meet():
    miles = np.arange(10.0) * 1000
    wear = np.where(miles < 5000, miles, 5000 + 3 * (miles - 5000)) / 10_000
    assert bends_at(np.append(miles, np.nan), np.append(wear, np.nan)) == 5
