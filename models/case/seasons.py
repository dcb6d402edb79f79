"""Remaining miles against the seasons: the two sides of the picture that says why now."""

import numpy as np
import pandas as pd

from models.case.delay import Waiting
from models.futures.simulation import RUNNING_MONTH, Simulation


def season_miles(simulation: Simulation, vehicle: int) -> pd.DataFrame:
    """Seasons ahead in expected miles from as-of: the running of each calendar year.

    Parameters
    ----------
    vehicle : row of the vehicle in the simulation.

    Returns
    -------
    label (2027), start, end [mi]; years without running are left out.
    """
    run = simulation.miles[:, vehicle, :].mean(axis=0)
    running = np.flatnonzero(np.diff(run) >= RUNNING_MONTH)
    year = simulation.months[running].astype("datetime64[Y]").astype(int) + 1970
    rows = [
        (str(y), float(run[running[year == y][0]]), float(run[running[year == y][-1] + 1]))
        for y in np.unique(year)
    ]
    return pd.DataFrame(rows, columns=["label", "start", "end"])


def component_outlook(simulation: Simulation, wait: Waiting) -> pd.DataFrame:
    """Miles until the first wear point of each component reaches its limit.

    Parameters
    ----------
    wait : the window, and the wear points of its work that stop the engine.

    Returns
    -------
    label, note, p10, p50, p90 [mi], chance_by_window [1], points (list), soonest first.
    """
    points = simulation.points.iloc[wait.stoppers].reset_index(drop=True)
    month = simulation.month_index(wait.opens)
    out = []
    for component, mine in points.groupby("component", sort=True):
        first = wait.reached[:, mine.index.to_numpy()].min(axis=1)
        run = simulation.miles[:, int(mine["vehicle_index"].iloc[0]), month]
        p10, p50, p90 = np.quantile(first, [0.1, 0.5, 0.9])
        note = f"first of {len(mine)} places" if len(mine) > 1 else "one place"
        out.append((component, note, p10, p50, p90, float((first < run).mean()), sorted(mine["point"])))
    columns = ["label", "note", "p10", "p50", "p90", "chance_by_window", "points"]
    table = pd.DataFrame(out, columns=columns)
    return table.sort_values(["p10", "p50"], kind="stable", ignore_index=True)
