"""10,000 futures of all tires of an engine: eight drivers, four and two in trucks, twelve of the tender."""

import numpy as np
import pandas as pd
import pytest

from models.tires.states import TireStates, TurningAssumptions
from models.tires.turnings import POLICIES, simulate_turnings

SHOP = TurningAssumptions(
    clean_up=1.6,
    hollow_share=0.0,
    flange_slope=2.75,
    flange_restored=1.0,
    least_run=3.2,
    early_share=0.6,
    lag=2.4,
    rate_memory=1.0,
)


def engine():
    axles = [("drivers", 4), *((f"engine truck {n}", 1) for n in (1, 2)), ("trailing truck", 1)]
    axles += [(f"tender {n}", 1) for n in range(1, 7)]
    rows = [
        ("M1", f"{name} {axle} {side}", name, f"{name} {axle}")
        for name, count in axles
        for axle in range(count)
        for side in ("left", "right")
    ]
    tires = pd.DataFrame(rows, columns=["vehicle", "position", "matched_set", "axle"])
    n = len(tires)
    start = np.append(np.flatnonzero(tires["matched_set"].ne(tires["matched_set"].shift())), n)
    limit = np.tile([7.94, 7.94, 9.5, 50.0], (n, 1))
    rate = limit / [60_000.0, 150_000.0, 90_000.0, 1_200_000.0]
    level = limit * [0.3, 0.3, 0.3, 0.0]
    nothing = np.full((n, 4), np.nan)
    return TireStates(
        tires=tires,
        set_start=start,
        level=level,
        level_var=(0.02 * limit) ** 2,
        rate=rate,
        rate_var=(0.2 * rate) ** 2,
        level_rate_cov=np.zeros((n, 4)),
        tau=0.05 * limit / np.sqrt(100_000.0),
        limit=limit,
        new_rate=nothing,
        new_rate_sd=nothing,
    )


@pytest.mark.parametrize("policy", POLICIES)
def test_ten_thousand_futures_of_an_engine(benchmark, policy):
    states, lay_ups = engine(), np.arange(1, 40) * 5000.0
    paths = benchmark(simulate_turnings, states, SHOP, lay_ups, policy=policy)
    assert paths.scrap_miles.shape == (10_000, 10)
    assert np.isfinite(paths.scrap_miles).all()
    assert paths.turnings.mean() > 2
