"""Chances and unused miles of every life that a plan may hold, from the stored forecast and the usage
ahead."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.distribution import chance_by, miles_at, now_of
from models.futures.simulation import DAYS_PER_YEAR, Simulation, quantile_matrix
from models.plan import rounding as rounded
from models.plan.problem import Floats

Dates = NDArray[np.datetime64]

USAGE_NODES = 15
"""Equally likely usages over which a chance is averaged: more change no chance by 0.001 (tested)."""
LIFE_NODES = 40
"""Equally likely lives over which unused miles are averaged."""
LONGEST = 3.0
"""A life counts for at most so many times its median in money: the far tail of a distribution buys
nothing."""


@dataclass(frozen=True)
class Lives:
    """Of one vehicle: what holds for the life of each wear point from any node to any later one.

    Nodes are now (0), the windows (1 .. W) and the end of the horizon (W + 1); lives from node 0 are of the
    part now in service, the others of new parts.

    Attributes
    ----------
    points : frame of the vehicle's wear points, p rows.
    chance : shape (p, W + 2, W + 2). Chance that the life has reached its limit by the later node. [1]
    unused : shape (p, W + 2, W + 2). Miles expected to be left unused at the later node. [mi]
    new_life : shape (p,). Expected miles of a new part, as counted in money. [mi]
    miles : shape (W + 2,). Expected miles from as-of to each node. [mi]
    years : shape (W + 2,). Years from as-of to each node. [year]
    of_one : as ``chance``, where two parts follow each other between the nodes that of the likelier one; None
        where none do. [1]
    """

    points: pd.DataFrame
    chance: Floats
    unused: Floats
    new_life: Floats
    miles: Floats
    years: Floats
    of_one: Floats | None = None


def miles_by_date(simulation: Simulation, vehicle: int, dates: Dates) -> Floats:
    """Miles run from as-of to the start of each day, shape (n, len(dates)). [mi] Even within a month."""
    edge = np.append(simulation.months, _month_after(simulation.months[-1])).astype("datetime64[D]")
    start = simulation.as_of[vehicle].astype("datetime64[D]") + np.timedelta64(1, "D")
    edge[0] = max(edge[0], min(start, edge[1] - np.timedelta64(1, "D")))
    day = np.clip(dates.astype("datetime64[D]"), edge[0], edge[-1])
    month = np.clip(np.searchsorted(edge, day, side="right") - 1, 0, len(edge) - 2)
    share = (day - edge[month]) / (edge[month + 1] - edge[month])
    run = simulation.miles[:, vehicle, :]
    return np.asarray(run[:, month] + share * (run[:, month + 1] - run[:, month]), dtype=np.float64)


def lives_of(
    simulation: Simulation,
    distribution: pd.DataFrame,
    vehicle: str,
    opens: Dates,
    end: pd.Timestamp | None = None,
) -> Lives:
    """Chances and unused miles between the nodes of a vehicle.

    Parameters
    ----------
    simulation : the futures; only its miles and its order of wear points are used.
    distribution : point, remaining, new_life: the quantiles of the forecast run, and what
        ``models.distribution.now_of`` reads.
    vehicle : name.
    opens : shape (W,). Days on which the windows open: a part is renewed with the miles of that day.
    end : day up to which every part must last; the end of the months simulated when not given.

    Returns
    -------
    Chances and miles rounded as in ``plan.rounding``.

    Raises
    ------
    KeyError : the vehicle is not in the simulation.
    """
    index = simulation.vehicles.index(vehicle)
    points = simulation.points[simulation.points["vehicle"] == vehicle].reset_index(drop=True)
    quantiles = distribution.set_index("point").loc[points["point"]]
    in_service, new = quantile_matrix(quantiles["remaining"]), quantile_matrix(quantiles["new_life"])
    days = node_days(simulation, vehicle, opens, end)
    run = miles_by_date(simulation, index, days)
    run[:, 0] = 0.0
    chance, unused = _between_nodes(in_service, new, run, now_of(quantiles))
    years = (days - days[0]) / np.timedelta64(1, "D") / DAYS_PER_YEAR
    whole = _mean_unused(new, np.zeros(1), new, np.zeros(len(points)))[:, 0]
    return Lives(
        points=points,
        chance=rounded.chances(chance),
        unused=rounded.miles(unused),
        new_life=rounded.miles(np.maximum(whole, 1.0)),
        miles=rounded.miles(run.mean(axis=0)),
        years=years.astype(float),
    )


def node_days(simulation: Simulation, vehicle: str, opens: Dates, end: pd.Timestamp | None) -> Dates:
    """Days of the nodes: now, the windows, the end; ``end`` as for :func:`lives_of`."""
    as_of = simulation.as_of[simulation.vehicles.index(vehicle)]
    last = _month_after(simulation.months[-1]) if end is None else np.datetime64(end.date(), "D")
    return np.concatenate([[as_of], opens, [last]]).astype("datetime64[us]")


def _between_nodes(in_service: Floats, new: Floats, run: Floats, now: Floats) -> tuple[Floats, Floats]:
    """Chances and unused miles, shape (p, nodes, nodes), NaN where no life runs.

    Parameters
    ----------
    in_service, new : shape (p, 33). Quantiles of the lives from node 0, and of those from later nodes. [mi]
    run : shape (n, nodes). Miles from as-of to each node in each future. [mi]
    now : shape (p,). Chance that a life from node 0 is over already. [1]
    """
    nodes = run.shape[1]
    start, stop = np.triu_indices(nodes, 1)
    gap = run[:, stop] - run[:, start]
    level = (np.arange(USAGE_NODES) + 0.5) / USAGE_NODES
    usage = np.quantile(gap, level, axis=0)
    chance, unused = np.full((2, len(new), nodes, nodes), np.nan)
    for lives, over, pairs in ((in_service, now, start == 0), (new, 0.0 * now, start > 0)):
        chance[:, start[pairs], stop[pairs]] = _mean_chance(lives, usage[:, pairs], over)
        unused[:, start[pairs], stop[pairs]] = _mean_unused(lives, gap[:, pairs].mean(axis=0), new, over)
    unused[:, 0, 0] = _mean_unused(in_service, np.zeros(1), new, now)[:, 0]
    return chance, unused


def _mean_chance(quantiles: Floats, usage: Floats, now: Floats) -> Floats:
    """Chance averaged over equally likely usages, shape (p, pairs)."""
    nodes, pairs = usage.shape
    chance = chance_by(quantiles, usage.ravel(), now)
    return np.asarray(chance.reshape(len(quantiles), nodes, pairs).mean(axis=1))


def _mean_unused(quantiles: Floats, gap: Floats, new: Floats, now: Floats) -> Floats:
    """Miles expected to be left after the gap, shape (p, pairs)."""
    level = (np.arange(LIFE_NODES) + 0.5) / LIFE_NODES
    longest = LONGEST * miles_at(new, np.array([0.5]))
    lives = np.minimum(miles_at(quantiles, level, now), longest)
    out = np.zeros((len(quantiles), len(gap)))
    for column in range(LIFE_NODES):
        out += np.maximum(lives[:, [column]] - gap[None, :], 0.0)
    return out / LIFE_NODES


def _month_after(month: np.datetime64) -> np.datetime64:
    following = pd.Timestamp(month) + pd.offsets.MonthBegin()
    return np.datetime64(following.date(), "D")
