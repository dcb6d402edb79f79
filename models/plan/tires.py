"""Tires in a plan: each turning spends thickness, so what is left of a tire comes from simulated turnings."""

import numpy as np
import pandas as pd

from models.distribution import PROBABILITIES
from models.futures.simulation import NEVER
from models.plan.problem import Floats
from models.tires.states import TireStates
from models.tires.turnings import TurningPaths

STEP = 10.0
"""Miles to which what turnings leave is rounded. [mi] Draws in single precision differ by a thousandth of a
mile between processors, and two thousand of them tell a quantile to some hundred miles."""


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
    for name, of in zip(known["point"], known["set"], strict=True):
        if str(name) not in row:
            continue
        i = row[str(name)]
        own = np.asarray(remaining[i], dtype=np.float64)
        remaining[i] = np.minimum(own, scrap[:, of])
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
