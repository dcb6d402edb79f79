"""What the simulated turnings say: miles and turnings left of every matched set, and which policy serves."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.distribution import PROBABILITIES
from models.futures.simulation import NEVER
from models.tires.states import TireStates, TurningAssumptions
from models.tires.turnings import CAUSES, POLICIES, Policy, TurningPaths, simulate_turnings

Floats = NDArray[np.float64]

MILES = {"miles_p05": 0.05, "miles_p10": 0.1, "miles_p50": 0.5, "miles_p90": 0.9, "miles_p95": 0.95}
"""Columns of miles and their probabilities."""
STEP = 10.0
"""Miles to which what turnings leave is rounded. [mi] Draws in single precision differ by a thousandth of a
mile between processors, and two thousand of them tell a quantile to some hundred miles."""


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


def with_turnings(
    distribution: pd.DataFrame, thickness: pd.DataFrame, states: TireStates, paths: TurningPaths
) -> pd.DataFrame:
    """The forecast's distribution with the life of tires cut short by their turnings.

    Parameters
    ----------
    distribution : point, remaining, new_life: quantiles of the forecast run.
    thickness : point, vehicle, position: wear points that measure the thickness of a tire.
    states, paths : tires of the same forecast and their simulated turnings, one policy.

    Returns
    -------
    The same rows. The remaining miles of a tire's thickness are at most those until its matched set is scrap,
    probability by probability; a new tire's life is shortened in the same proportion as the middle of the
    remaining one.

    Notes
    -----
    The forecast of a thickness knows its wear, not the metal that a turning takes off. Tires that are not in
    the simulation keep their forecast. What is cut short is rounded to ``STEP``.
    """
    tires = states.tires[["vehicle", "position"]].assign(
        set=np.repeat(np.arange(len(states.sets)), np.diff(states.set_start))
    )
    known = thickness.merge(tires, on=["vehicle", "position"], how="inner").drop_duplicates("point")
    scrap = np.quantile(paths.scrap_miles, PROBABILITIES, axis=0, method="inverted_cdf")
    scrap = np.minimum(_stepped(np.nan_to_num(scrap, posinf=NEVER)), NEVER)
    row = {str(name): i for i, name in enumerate(distribution["point"])}
    remaining, new_life = list(distribution["remaining"]), list(distribution["new_life"])
    for name, matched_set in zip(known["point"], known["set"], strict=True):
        if str(name) not in row:
            continue
        i = row[str(name)]
        own = np.asarray(remaining[i], dtype=np.float64)
        remaining[i] = np.minimum(own, scrap[:, matched_set])
        share = _share(own, remaining[i])
        if share < 1.0:
            new_life[i] = _stepped(np.asarray(new_life[i], dtype=np.float64) * share)
    return distribution.assign(remaining=remaining, new_life=new_life)


def _stepped(miles: Floats) -> Floats:
    return np.asarray(np.round(miles / STEP) * STEP)


def _share(own: Floats, cut: Floats) -> float:
    middle = len(PROBABILITIES) // 2
    if not 0 < own[middle] < NEVER:
        return 1.0
    return float(np.clip(cut[middle] / own[middle], 0.05, 1.0))
