"""Tires: what a turning takes off shortens what is left of the thickness."""

import numpy as np
import pandas as pd

from models.distribution import PROBABILITIES
from models.tires.outlook import with_turnings
from models.tires.states import TireStates
from models.tires.turnings import TurningPaths


def states(positions):
    empty = np.zeros((len(positions), 4))
    tires = pd.DataFrame({"vehicle": "A", "position": positions, "matched_set": "drivers", "axle": positions})
    return TireStates(tires, np.array([0, len(positions)]), *[empty] * 9)


def paths(scrap):
    zeros = np.zeros((len(scrap), 1))
    return TurningPaths("at the limit", np.asarray(scrap, float)[:, None], zeros, zeros, zeros, zeros)


def test_thickness_lasts_no_longer_than_the_set_and_new_tires_are_shortened_alike():
    own = np.linspace(50_000, 150_000, len(PROBABILITIES))
    stored = pd.DataFrame({"point": ["T1", "OTHER"], "remaining": [own, own], "new_life": [2 * own, 2 * own]})
    thickness = pd.DataFrame({"point": ["T1"], "vehicle": ["A"], "position": ["driver 1 left"]})
    told = with_turnings(stored, thickness, states(["driver 1 left"]), paths(np.full(100, 60_000.0)))
    assert told["remaining"][0].max() == 60_000
    np.testing.assert_array_equal(told["remaining"][0][:3], own[:3])  # where wear alone ends it sooner
    np.testing.assert_allclose(told["new_life"][0], 2 * own * 0.6)
    np.testing.assert_array_equal(told["remaining"][1], own)


def test_a_set_still_running_leaves_the_forecast_as_it_is():
    own = np.linspace(50_000, 150_000, len(PROBABILITIES))
    stored = pd.DataFrame({"point": ["T1"], "remaining": [own], "new_life": [2 * own]})
    thickness = pd.DataFrame({"point": ["T1"], "vehicle": ["A"], "position": ["driver 1 left"]})
    told = with_turnings(stored, thickness, states(["driver 1 left"]), paths(np.full(100, np.inf)))
    np.testing.assert_array_equal(told["remaining"][0], own)
    np.testing.assert_array_equal(told["new_life"][0], 2 * own)
