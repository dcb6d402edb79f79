"""Risk of waiting: the chance that a vehicle must stop, month by month, without work and with a plan."""

from collections.abc import Collection, Mapping, Sequence

import numpy as np
import pandas as pd

from models.futures.simulation import Simulation, month_reached
from models.plan.problem import Bools, Ints

AT_LIMIT = 0.5
"""A wear point whose chance to be at its limit now is above this has stopped the vehicle already, where
nobody says which have: it is named beside them, or the months ahead would show nothing but that."""

STANDING = 0.5
"""Less than this is not running. [mi]"""


def stop_months(simulation: Simulation, renewals: Mapping[str, Sequence[pd.Timestamp]]) -> Ints:
    """Month in which each wear point first reaches its limit in service, renewed as planned.

    Parameters
    ----------
    simulation : the futures.
    renewals : days on which wear points are renewed, in order; none without an entry.

    Returns
    -------
    Shape (n, p), index of the month; t where the limit is not reached within the horizon.

    Notes
    -----
    A life that ends in the month of its renewal, before it, counts when the renewal is not on the month's
    first day. Lives beyond those drawn take the drawn ones again.
    """
    months, names = len(simulation.months), simulation.points["point"]
    days = [list(renewals.get(name, ())) for name in names]
    most = max((len(dates) for dates in days), default=0)
    begins = np.zeros((len(names), most + 2), dtype=np.int64)
    ends = np.full((len(names), most + 2), months, dtype=np.int64)
    for row, dates in enumerate(days):
        for k, day in enumerate(dates):
            month = simulation.month_index(day)
            begins[row, k + 1 :] = month
            ends[row, k] = month + (month < months and day > pd.Timestamp(simulation.months[month]))
    counts = np.array([len(dates) for dates in days])
    stop = np.full(simulation.remaining.shape, months, dtype=np.int64)
    drawn = simulation.next_life.shape[2]
    for k in range(most + 1):
        alive = counts >= k
        lives = simulation.remaining if k == 0 else simulation.next_life[:, :, (k - 1) % max(drawn, 1)]
        # A life that has ended already stops the vehicle when it next runs, not while it is laid up.
        reached = month_reached(simulation, np.maximum(lives, STANDING), np.minimum(begins[:, k], months))
        reached = np.where(alive & (reached < ends[:, k]), reached, months)
        stop = np.minimum(stop, reached)
    return stop


def at_limit(simulation: Simulation) -> pd.Series:
    """Chance that each wear point is at its limit now, indexed by point. [1]"""
    chance = (simulation.remaining <= 0).mean(axis=0)
    return pd.Series(chance, index=simulation.points["point"].to_numpy())


def stopped_now(simulation: Simulation, past: Collection[str] | None) -> Bools:
    """Which wear points count as at their limit already, shape (p,).

    Parameters
    ----------
    past : names of those that count so, as last read or by the forecast; None: those that the futures have
        there more likely than not.
    """
    if past is None:
        return np.asarray(at_limit(simulation).to_numpy() > AT_LIMIT)
    return np.asarray(simulation.points["point"].isin(list(past)))


def scrap_of(points: pd.DataFrame) -> pd.Series:
    """Set whose scrap ends the life of each wear point, empty where its own limit does.

    Miles of such a point are those of its set (``models.tires.outlook``): what they say must not be said of
    the limit of the point.
    """
    return points["scrap_of"].fillna("").astype(str) if "scrap_of" in points else pd.Series("", points.index)


def waiting(
    simulation: Simulation,
    renewals: Mapping[str, Sequence[pd.Timestamp]],
    ends: Mapping[str, pd.Timestamp] | None = None,
    past: Collection[str] | None = None,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Chance that each vehicle must have stopped by the end of each month, and the wear points that carry it.

    Parameters
    ----------
    simulation, renewals : as :func:`stop_months` takes them; past : as :func:`stopped_now` does.
    ends : by vehicle, the day on which the years planned are over; what comes after is not told of. The end
        of the months simulated for a vehicle without an entry.

    Returns
    -------
    months : vehicle, month, without_work, with_plan [1, chance by the end of that month].
    carriers : vehicle, point, scrap_of (as the function of that name), without_work, with_plan [1, chance
        that this point is the first to stop the vehicle within the horizon], the greatest first; points below
        0.001 in both are left out.

    Notes
    -----
    Wear points at their limit already are left out of both: :func:`stopped_now` names them.
    """
    both = {"without_work": stop_months(simulation, {}), "with_plan": stop_months(simulation, renewals)}
    index, names = (simulation.points[name].to_numpy() for name in ("vehicle_index", "point"))
    sets, tables, carriers = scrap_of(simulation.points).to_numpy(), [], []
    for v, vehicle in enumerate(simulation.vehicles):
        rows = np.flatnonzero((index == v) & ~stopped_now(simulation, past))
        end = (ends or {}).get(vehicle)
        t = len(simulation.months) if end is None else max(simulation.month_index(end), 1)
        table = {"vehicle": vehicle, "month": simulation.months[:t]}
        share = {"vehicle": vehicle, "point": names[rows], "scrap_of": sets[rows]}
        for name, stop in both.items():
            if len(rows) == 0:
                table[name] = np.zeros(t)
                share[name] = np.zeros(0)
                continue
            first = np.minimum(stop[:, rows].min(axis=1), t)
            table[name] = np.cumsum(np.bincount(first, minlength=t + 1)[:t]) / simulation.draws
            who = stop[:, rows].argmin(axis=1)[first < t]
            share[name] = np.bincount(who, minlength=len(rows)) / simulation.draws
        tables.append(pd.DataFrame(table))
        carriers.append(pd.DataFrame(share))
    carrier = pd.concat(carriers, ignore_index=True)
    carrier = carrier[carrier[["without_work", "with_plan"]].max(axis=1) >= 0.001]
    order = ["vehicle", "without_work", "with_plan", "point"]
    carrier = carrier.sort_values(order, ascending=[True, False, False, True])
    return pd.concat(tables, ignore_index=True), carrier.reset_index(drop=True)
