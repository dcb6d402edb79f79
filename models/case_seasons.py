"""Remaining miles against the seasons: the two sides of the picture that says why now."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.simulation import RUNNING_MONTH, Simulation

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

LONGEST_GAP = 2
"""A season goes on over so many months without running; more of them part two seasons. [month]"""

LONGEST_SEASON = 14
"""A stretch of running without a gap that is longer has its seasons by calendar year. [month]"""


def season_miles(simulation: Simulation, vehicle: int) -> pd.DataFrame:
    """Seasons ahead in expected miles from as-of.

    Parameters
    ----------
    vehicle : row of the vehicle in the simulation.

    Returns
    -------
    label (2027, or 2026/27 where a season spans the year's end), start, end [mi]: stretches of running
    months. A stretch of more than fourteen months has its seasons by calendar year.
    """
    run = simulation.miles[:, vehicle, :].mean(axis=0)
    running = np.flatnonzero(np.diff(run) >= RUNNING_MONTH)
    if len(running) == 0:
        return pd.DataFrame({"label": [], "start": [], "end": []})
    month = simulation.months[running].astype("datetime64[M]")
    year = month.astype("datetime64[Y]").astype(int) + 1970
    gap = np.diff(running) > LONGEST_GAP
    stretch = np.concatenate([[0], np.cumsum(gap)])
    length = np.array([np.ptp(running[stretch == k]) + 1 for k in range(stretch[-1] + 1)])
    parted = gap | ((length > LONGEST_SEASON)[stretch[1:]] & (np.diff(year) > 0))
    number = np.concatenate([[0], np.cumsum(parted)])
    rows = [_season(run, running[number == k], year[number == k]) for k in range(number[-1] + 1)]
    return pd.DataFrame(rows, columns=["label", "start", "end"])


def _season(run: NDArray[np.float64], months: Ints, year: Ints) -> tuple[str, float, float]:
    first, last = int(year[0]), int(year[-1])
    label = str(first) if first == last else f"{first}/{last % 100:02d}"
    return label, float(run[months[0]]), float(run[months[-1] + 1])


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
