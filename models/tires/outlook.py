"""What the simulated turnings say: miles and turnings left of every matched set, and which policy serves."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.tires.states import TireStates, TurningAssumptions
from models.tires.turnings import CAUSES, POLICIES, Policy, TurningPaths, simulate_turnings

Floats = NDArray[np.float64]

MILES = {"miles_p05": 0.05, "miles_p10": 0.1, "miles_p50": 0.5, "miles_p90": 0.9, "miles_p95": 0.95}
"""Columns of miles and their probabilities."""


def outlook(states: TireStates, paths: TurningPaths) -> pd.DataFrame:
    """Miles until the first tire of each set is scrap, and the turnings until then.

    Parameters
    ----------
    states : the tires, sorted by matched set.
    paths : their simulated futures.

    Returns
    -------
    vehicle, matched_set, positions, tires (number), policy, miles_p05 .. miles_p95 [mi], turnings_p10,
    turnings_p50, turnings_p90, next_turning_p10, next_turning_p50 [mi], out_of_season (mean number of
    turnings between lay-ups), chance_worn, chance_too_thin, chance_running [1], one row a set. Miles are inf
    where the set is still running.
    """
    first = states.set_start[:-1]
    positions = [
        ", ".join(states.tires["position"].iloc[a:b])
        for a, b in zip(first, states.set_start[1:], strict=True)
    ]
    miles = _quantiles(paths.scrap_miles, list(MILES.values()))
    turnings = _quantiles(paths.turnings.astype(float), [0.1, 0.5, 0.9])
    following = _quantiles(paths.first_turning, [0.1, 0.5])
    shares = [(paths.cause == index).mean(axis=0) for index in range(len(CAUSES))]
    return pd.DataFrame(
        {
            "vehicle": states.tires["vehicle"].iloc[first].to_numpy(),
            "matched_set": states.sets,
            "positions": positions,
            "tires": np.diff(states.set_start),
            "policy": paths.policy,
            **dict(zip(MILES, miles, strict=True)),
            **dict(zip(["turnings_p10", "turnings_p50", "turnings_p90"], turnings, strict=True)),
            **dict(zip(["next_turning_p10", "next_turning_p50"], following, strict=True)),
            "out_of_season": paths.out_of_season.mean(axis=0),
            "chance_worn": shares[1],
            "chance_too_thin": shares[2],
            "chance_running": shares[0],
        }
    )


def compare_policies(
    states: TireStates,
    assumptions: TurningAssumptions,
    lay_ups: Floats,
    *,
    policies: Sequence[Policy] = POLICIES,
    paths: int = 10_000,
    seed: int = 20260501,
) -> pd.DataFrame:
    """The outlook under each policy, same futures for all.

    Parameters
    ----------
    states, assumptions, lay_ups, paths, seed : as :func:`models.tires.turnings.simulate_turnings` takes them.

    Returns
    -------
    Rows of :func:`outlook`, and gain_p50: median miles more than under the first policy. [mi]
    """
    tables = [
        outlook(
            states, simulate_turnings(states, assumptions, lay_ups, policy=policy, paths=paths, seed=seed)
        )
        for policy in policies
    ]
    with np.errstate(invalid="ignore"):  # still running under both: no gain can be told
        tables = [table.assign(gain_p50=table["miles_p50"] - tables[0]["miles_p50"]) for table in tables]
    return pd.concat(tables, ignore_index=True)


def _quantiles(values: Floats, probabilities: list[float]) -> Floats:
    """Quantiles of each column; a set still running counts as inf, so none is interpolated."""
    return np.asarray(np.quantile(values, probabilities, axis=0, method="inverted_cdf"), dtype=np.float64)
