"""What is said of families: their parameters, with ranges that hold the truth as often as they claim."""

import numpy as np
from fleets.simulate import FleetPlan, simulate_fleet

from models.forecast.explain import family_frame
from models.lives.table import Lives
from models.wear.model import PooledWear


def test_ranges_of_the_learned_parameters_hold_the_truth():
    """Range of 8 in 10; 60 families of eight lives, a binomial spread of 5 points, beyond three of which
    something is wrong; a mean life is the truth only to the order of its spread squared."""
    plan = FleetPlan(n_families=60, spread=(0.2, 0.4))
    fleet = simulate_fleet(np.random.default_rng(21), plan)
    model = PooledWear(shapes=False).fit(Lives(**fleet.arrays))
    said = family_frame(model, np.arange(60).astype(object))
    truth = {
        "life_miles": fleet.families.mean_life,
        "gauge_error": fleet.families.gauge * fleet.families.limit,
        "spread": fleet.families.spread,
    }
    for name, value in truth.items():
        inside = (said[f"{name}_p10"] <= value) & (value <= said[f"{name}_p90"])
        assert 0.60 <= inside.mean() <= 0.97, (name, inside.mean())
        assert (said[f"{name}_p10"] < said[name]).all()
