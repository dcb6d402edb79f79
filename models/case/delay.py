"""What waiting costs and risks: the same futures, the work begun one, two, three seasons later.

Remaining miles against the seasons ahead: the two sides of the picture that says why now.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.case.cost import ScopeCost
from models.futures.simulation import RUNNING_MONTH, Simulation

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

DELAY_COLUMNS = [
    "seasons", "opens", "p50", "p80", "ask", "more_p10", "more_p50", "more_p90", "income_lost_p10",
    "income_lost_p50", "income_lost_p90", "also_p10", "also_p50", "also_p90", "chance_stopped",
    "days_lost_mean", "days_lost_p80", "miles_lost_mean", "miles_lost_p80",
    "worth_of_wait", "worth_p10", "worth_p90", "points",
]  # fmt: skip


@dataclass(frozen=True)
class Waiting:
    """One way to wait.

    Attributes
    ----------
    seasons : seasons waited; opens : day on which the work begins.
    cost : what the work of the scope then costs; also : other work that has come due by then.
    stoppers : wear points (rows of the simulation) that stop the engine at their limit.
    reached : shape (n, stoppers). Miles at which each of them gets there. [mi]
    """

    seasons: int
    opens: pd.Timestamp
    cost: ScopeCost
    also: ScopeCost
    stoppers: Ints
    reached: Floats


def window_after(windows: pd.DataFrame, opens: pd.Timestamp, seasons: int) -> pd.Timestamp:
    """First day of the window so many seasons later: that of the lay-up nearest to as many years on.

    Parameters
    ----------
    windows : columns opens; the vehicle's windows.

    Returns
    -------
    A lay-up's first day within half a year of the day so many years later; that day where there is none.
    """
    wanted = opens + pd.DateOffset(years=seasons)
    days = windows["opens"]
    near = days[(days - wanted).abs() <= pd.Timedelta(days=183)]
    if near.empty or seasons == 0:
        return pd.Timestamp(wanted)
    return pd.Timestamp(near.iloc[int((near - wanted).abs().to_numpy().argmin())])


def jobs_due_by(
    simulation: Simulation,
    called: Ints,
    day: pd.Timestamp,
    risk: float,
    *,
    already: Bools | None = None,
    reached: Floats | None = None,
) -> Ints:
    """Jobs whose wear points reach their limit before a day with more than the accepted chance.

    Parameters
    ----------
    called : shape (p,). Job that each wear point calls for, -1 for none.
    day : for the scope of a window, the day on which the next one opens.
    risk : accepted chance. [1]
    already : shape (p,). Points that count as due whatever their chance.
    reached : shape (n, p). Miles at which each point reaches its limit, where some are renewed meanwhile;
        those of the parts now in service when not given. [mi]

    Returns
    -------
    Rows of jobs, sorted.
    """
    due = chance_before(simulation, day, reached) > risk
    if already is not None:
        due = due | already
    return np.unique(called[due & (called >= 0)])


def chance_before(simulation: Simulation, day: pd.Timestamp, reached: Floats | None = None) -> Floats:
    """Chance that each wear point reaches its limit before the month of a day, shape (p,). [1]"""
    run = simulation.miles_at_start(
        np.full(len(simulation.points), simulation.month_index(day)),
        simulation.points["vehicle_index"].to_numpy(),
    )
    return np.asarray(((simulation.remaining if reached is None else reached) < run).mean(axis=0))


def miles_to_limit(
    simulation: Simulation, rows: Ints, renewals: Mapping[str, Sequence[pd.Timestamp]]
) -> Floats:
    """Miles at which wear points reach their limit, those renewed meanwhile in their next lives.

    Parameters
    ----------
    rows : wear points (rows of the simulation).
    renewals : days on which wear points are renewed, in order; none without an entry.

    Returns
    -------
    Shape (n, len(rows)). [mi from as-of]
    """
    reached = simulation.remaining[:, rows].copy()
    names = simulation.points["point"].to_numpy()[rows]
    vehicle = simulation.points["vehicle_index"].to_numpy()[rows]
    most = simulation.next_life.shape[2] - 1
    for j, name in enumerate(names):
        for k, day in enumerate(renewals.get(name, ())):
            run = simulation.miles[:, vehicle[j], simulation.month_index(day)]
            next_life = simulation.next_life[:, rows[j], min(k, most)]
            reached[:, j] = np.where(reached[:, j] >= run, run + next_life, reached[:, j])
    return reached


def stops_before(simulation: Simulation, wait: Waiting, vehicle: int) -> tuple[Bools, Floats]:
    """Whether the engine stops before a window opens, and the miles that it then does not run.

    Parameters
    ----------
    vehicle : row of the vehicle.

    Returns
    -------
    Shape (n,), bool; shape (n,) [mi]: miles from the first limit reached to the window.
    """
    at_window = simulation.miles[:, vehicle, simulation.month_index(wait.opens)]
    if wait.reached.shape[1] == 0:
        return np.zeros(simulation.draws, bool), np.zeros(simulation.draws)
    # A limit reached at the very end of a season stops nothing that was still to run before the window.
    lost = np.maximum(at_window - wait.reached.min(axis=1), 0.0)
    return lost > 0, lost


def delay_table(
    simulation: Simulation,
    waits: Sequence[Waiting],
    *,
    vehicle: int,
    miles_per_day: float,
    per_mile: Floats,
    confidence: float,
    income_per_day: float = 0.0,
) -> pd.DataFrame:
    """What each way to wait costs and risks.

    Parameters
    ----------
    waits : the first is the plan as it stands.
    vehicle : row of the vehicle in the simulation.
    miles_per_day : miles of a service day. [mi/d]
    per_mile : shape (n,). What a mile uses up of the jobs of the planned scope. [money/mi]
    confidence : chance that the amount asked for is enough. [1]
    income_per_day : income lost with a day not run. [money/d]

    Returns
    -------
    Columns ``DELAY_COLUMNS``: p50, p80, ask, more, income_lost [money], chance_stopped [1], days_lost [d],
    miles_lost [mi]. ``more`` is what the same work costs in each future less what it costs there without
    waiting; ``income_lost`` the income of the days not run beyond those that are not run without waiting, no
    part of ``more``; ``also`` what other work costs that has come due by then, and would have had to be paid
    for anyway. ``worth_of_wait`` is what the parts of the scope are used further by waiting. [money]
    """
    base = waits[0]
    _, lost_anyway = stops_before(simulation, base, vehicle)
    base_miles = _miles_run(simulation, base, vehicle)
    rows = []
    for wait in waits:
        stopped, lost = stops_before(simulation, wait, vehicle)
        more = wait.cost.total - base.cost.total
        income = income_per_day * (lost - lost_anyway) / miles_per_day if miles_per_day > 0 else 0.0 * lost
        days = lost / miles_per_day if miles_per_day > 0 else np.full(len(lost), np.nan)
        further = np.maximum(_miles_run(simulation, wait, vehicle) - base_miles, 0.0)
        rows.append(
            (
                wait.seasons, wait.opens, *np.quantile(wait.cost.total, [0.5, 0.8, confidence]),
                *np.quantile(more, [0.1, 0.5, 0.9]), *np.quantile(income, [0.1, 0.5, 0.9]),
                *np.quantile(wait.also.total, [0.1, 0.5, 0.9]),
                float(stopped.mean()), float(days.mean()), float(np.quantile(days, 0.8)), float(lost.mean()),
                float(np.quantile(lost, 0.8)), *_mean_and_range(further * per_mile),
                sorted(simulation.points["point"].iloc[wait.stoppers]),
            )
        )  # fmt: skip
    return pd.DataFrame(rows, columns=DELAY_COLUMNS)


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
    for component, alike in points.groupby("component", sort=True):
        first = wait.reached[:, alike.index.to_numpy()].min(axis=1)
        run = simulation.miles[:, int(alike["vehicle_index"].iloc[0]), month]
        p10, p50, p90 = np.quantile(first, [0.1, 0.5, 0.9])
        note = f"first of {len(alike)} wear points" if len(alike) > 1 else "one wear point"
        out.append((component, note, p10, p50, p90, float((first < run).mean()), sorted(alike["point"])))
    columns = ["label", "note", "p10", "p50", "p90", "chance_by_window", "points"]
    table = pd.DataFrame(out, columns=columns)
    return table.sort_values(["p10", "p50"], kind="stable", ignore_index=True)


def _mean_and_range(draws: Floats) -> tuple[float, float, float]:
    low, high = np.quantile(draws, [0.1, 0.9])
    mean = float(draws.mean())
    return mean, min(float(low), mean), max(float(high), mean)


def _miles_run(simulation: Simulation, wait: Waiting, vehicle: int) -> Floats:
    """Miles that the engine really runs before the window: it stands from the first limit reached."""
    window = simulation.month_index(wait.opens)
    _, lost = stops_before(simulation, wait, vehicle)
    return simulation.miles[:, vehicle, window] - lost
