"""What waiting costs and risks: the same futures, the work begun one, two, three seasons later."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.case_cost import ScopeCost
from models.simulation import Simulation

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

DELAY_COLUMNS = [
    "seasons", "opens", "p50", "p80", "ask", "more_p10", "more_p50", "more_p90", "chance_stopped",
    "days_lost_mean", "days_lost_p80", "miles_lost_mean", "miles_lost_p80", "worth_of_wait", "worth_p10",
    "worth_p90", "points",
]  # fmt: skip


@dataclass(frozen=True)
class Waiting:
    """One way to wait: seasons waited, the day on which the work begins, and what it then costs.

    ``stoppers`` are the wear points (rows of the simulation) that stop the engine at their limit.
    """

    seasons: int
    opens: pd.Timestamp
    cost: ScopeCost
    stoppers: Ints


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
    simulation: Simulation, called: Ints, day: pd.Timestamp, risk: float, *, already: Bools | None = None
) -> Ints:
    """Jobs whose wear points reach their limit before a day with more than the accepted chance.

    Parameters
    ----------
    called : shape (p,). Job that each wear point calls for, -1 for none.
    day : for the scope of a window, the day on which the next one opens.
    risk : accepted chance. [1]
    already : shape (p,). Points that count as due whatever their chance.

    Returns
    -------
    Rows of jobs, sorted.
    """
    due = chance_before(simulation, day) > risk
    if already is not None:
        due = due | already
    return np.unique(called[due & (called >= 0)])


def chance_before(simulation: Simulation, day: pd.Timestamp) -> Floats:
    """Chance that each wear point reaches its limit before the month of a day, shape (p,). [1]"""
    run = simulation.miles_at_start(
        np.full(len(simulation.points), simulation.month_index(day)),
        simulation.points["vehicle_index"].to_numpy(),
    )
    return np.asarray((simulation.remaining < run).mean(axis=0))


def stops_before(
    simulation: Simulation, stoppers: Ints, vehicle: int, opens: pd.Timestamp
) -> tuple[Bools, Floats]:
    """Whether the engine stops before a window opens, and the miles that it then does not run.

    Parameters
    ----------
    stoppers : rows of wear points that stop it at their limit.
    vehicle : row of the vehicle.

    Returns
    -------
    Shape (n,), bool; shape (n,) [mi]: miles from the first limit reached to the window.
    """
    window = simulation.month_index(opens)
    run = simulation.miles[:, vehicle, :]
    at_window = run[:, window]
    if len(stoppers) == 0:
        return np.zeros(simulation.draws, bool), np.zeros(simulation.draws)
    first = np.minimum(simulation.remaining[:, stoppers].min(axis=1), 1e9)
    # A limit reached at the very end of a season stops nothing that was still to run before the window.
    lost = np.maximum(at_window - first, 0.0)
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
    income_per_day : income lost with a day not run, part of ``more``. [money/d]

    Returns
    -------
    Columns ``DELAY_COLUMNS``: p50, p80, ask and more [money], chance_stopped [1], days_lost [d], miles_lost
    [mi]. ``more`` is the cost in each future less that of the same future without waiting. ``worth_of_wait``
    is what the parts of the planned scope are used further by waiting, mean and range. [money]
    """
    base_cost = waits[0].cost.total
    base_miles = _miles_run(simulation, waits[0], vehicle)
    rows = []
    for wait in waits:
        stopped, lost = stops_before(simulation, wait.stoppers, vehicle, wait.opens)
        days = lost / miles_per_day if miles_per_day > 0 else np.full(len(lost), np.nan)
        income = income_per_day * np.nan_to_num(days)
        total = wait.cost.total
        more = total - base_cost
        if wait.seasons:
            _, lost_anyway = stops_before(simulation, waits[0].stoppers, vehicle, waits[0].opens)
            anyway = lost_anyway / miles_per_day if miles_per_day > 0 else np.zeros(len(lost))
            more = more + income - income_per_day * anyway
        further = np.maximum(_miles_run(simulation, wait, vehicle) - base_miles, 0.0)
        low, middle, high = np.quantile(more, [0.1, 0.5, 0.9])
        rows.append(
            (
                wait.seasons, wait.opens, *np.quantile(total, [0.5, 0.8, confidence]), low, middle, high,
                float(stopped.mean()), float(days.mean()), float(np.quantile(days, 0.8)), float(lost.mean()),
                float(np.quantile(lost, 0.8)), *_mean_and_range(further * per_mile),
                sorted(simulation.points["point"].iloc[wait.stoppers]),
            )
        )  # fmt: skip
    return pd.DataFrame(rows, columns=DELAY_COLUMNS)


def _mean_and_range(draws: Floats) -> tuple[float, float, float]:
    low, high = np.quantile(draws, [0.1, 0.9])
    mean = float(draws.mean())
    return mean, min(float(low), mean), max(float(high), mean)


def _miles_run(simulation: Simulation, wait: Waiting, vehicle: int) -> Floats:
    """Miles that the engine really runs before the window: it stands from the first limit reached."""
    window = simulation.month_index(wait.opens)
    _, lost = stops_before(simulation, wait.stoppers, vehicle, wait.opens)
    return simulation.miles[:, vehicle, window] - lost
