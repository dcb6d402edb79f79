"""Remaining miles against the seasons: the two sides of the picture that says why now."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.simulation import RUNNING_MONTH, Simulation

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]


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


def component_outlook(
    simulation: Simulation, opens: pd.Timestamp, rows: Ints, at_limit: Bools
) -> pd.DataFrame:
    """Miles until the first wear point of each component reaches its limit.

    Parameters
    ----------
    opens : day on which the window opens.
    rows : wear points (rows of the simulation) that are looked at.
    at_limit : shape (p,). Wear points that are there already; they are left out.

    Returns
    -------
    label, note, p10, p50, p90 [mi], chance_by_window [1], points (list), soonest first.
    """
    points = simulation.points.iloc[rows]
    points = points[~at_limit[rows]]
    out = []
    for component, mine in points.groupby("component", sort=True):
        index = mine.index.to_numpy()
        first = simulation.remaining[:, index].min(axis=1)
        vehicle = int(mine["vehicle_index"].iloc[0])
        run = simulation.miles[:, vehicle, simulation.month_index(opens)]
        p10, p50, p90 = np.quantile(first, [0.1, 0.5, 0.9])
        note = f"first of {len(index)} places" if len(index) > 1 else "one place"
        chance = float((first < run).mean())
        out.append((component, note, p10, p50, p90, chance, sorted(mine["point"])))
    columns = ["label", "note", "p10", "p50", "p90", "chance_by_window", "points"]
    table = pd.DataFrame(out, columns=columns)
    return table.sort_values(["p10", "p50"], kind="stable", ignore_index=True)
