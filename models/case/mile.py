"""Cost of a mile: what running uses up, from the price of each job and the life that it buys.

A *job* here is one piece of work at one position (the left tire of driver 2 turned); its life is the
miles until it falls due again. What is paid for a job is used up over that life.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.case.cost import kinds_of_work, points_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

RANGE = (0.1, 0.5, 0.9)
"""Chances at the ends of a stated range."""


@dataclass(frozen=True)
class MileCost:
    """Draws of what a mile uses up.

    Attributes
    ----------
    jobs : one row a job: vehicle, component, position, action, points (list), cost [money].
    per_mile : shape (n_draws, n_jobs). What a mile taken at random uses up of each job. [money/mi]
    mean : shape (n_jobs,). Long-run cost of a mile: mean price over mean life. [money/mi]
    """

    jobs: pd.DataFrame
    per_mile: Floats
    mean: Floats


def cost_of_a_mile(jobs: pd.DataFrame, lives: Floats, price: Floats) -> MileCost:
    """What a mile uses up, job by job.

    Parameters
    ----------
    jobs : one row a job; the columns of :class:`MileCost`.
    lives : shape (n_draws, n_jobs). Miles from the job done to the job due again. [mi], > 0
    price : shape (n_draws, n_jobs). Price of the job. [money], >= 0

    Returns
    -------
    Draws of the cost of a mile and its mean, whose parts add up to the mean of the whole.

    Notes
    -----
    In the long run a mile costs E[price] / E[life] (renewal-reward theorem: S. M. Ross, *Introduction to
    Probability Models*, 7th ed. 2000, section 7.4). A mile taken at random lies in a long life more often
    than in a short one (the inspection paradox, section 7.7 there): each draw keeps its rank and takes the
    life of that rank among lives weighted by their length, whose mean of 1 / life is 1 / E[life].
    """
    per_mile = price / length_weighted(lives)
    mean = price.mean(axis=0) / lives.mean(axis=0)
    # The draws are finite: their mean is brought to the exact one, so that parts and whole agree.
    drawn = per_mile.mean(axis=0)
    scale = np.divide(mean, drawn, out=np.ones_like(mean), where=drawn > 0)
    return MileCost(jobs.reset_index(drop=True), per_mile * scale, mean)


def length_weighted(lives: Floats) -> Floats:
    """Each draw's life replaced by that of its rank when lives count by their length.

    Parameters
    ----------
    lives : shape (n_draws, m). [mi], > 0

    Returns
    -------
    Same shape. [mi]; ranks, and so what goes together with what, stay as they were.
    """
    n, m = lives.shape
    order = np.argsort(lives, axis=0, kind="stable")
    sorted_lives = np.take_along_axis(lives, order, axis=0)
    share = np.cumsum(sorted_lives, axis=0) / sorted_lives.sum(axis=0)
    ticks = (np.arange(n) + 0.5) / n
    longer = np.empty_like(lives)
    for j in range(m):
        rank = np.minimum(np.searchsorted(share[:, j], ticks), n - 1)
        longer[order[:, j], j] = sorted_lives[rank, j]
    return longer


def by_component(cost: MileCost) -> pd.DataFrame:
    """Cost of a mile by component and action, the whole in the last row (component ``all``).

    Returns
    -------
    component, action, jobs (how many), p10, mean, p90 [money/mi], share [1], points (list). The means add up
    to that of the whole; the range of the whole is narrower than the sum of ranges, as not all go one way.
    """
    rows = [_row(cost, index, component, action) for component, action, index in kinds_of_work(cost.jobs)]
    rows.append(_row(cost, np.arange(len(cost.jobs)), "all", ""))
    table = pd.DataFrame(rows)
    whole = float(cost.mean.sum())
    return table.assign(share=table["mean"] / whole if whole > 0 else 0.0)


def _row(cost: MileCost, index: Ints, component: str, action: str) -> dict[str, object]:
    low, _, high = np.quantile(cost.per_mile[:, index].sum(axis=1), RANGE)
    mean = float(cost.mean[index].sum())
    # With one job of few lives the mean may lie beyond the middle 80 % of the draws; the range takes it in.
    return {
        "component": component,
        "action": action,
        "jobs": len(index),
        "p10": min(float(low), mean),
        "mean": mean,
        "p90": max(float(high), mean),
        "points": points_of(cost.jobs.iloc[index]),
    }


@dataclass(frozen=True)
class RunningCost:
    """Cost of a stretch of running. [money]; ``miles`` [mi]. Mean, and the range 8 times in 10."""

    miles: float
    mean: float
    p10: float
    p90: float


def cost_of_running(mile: pd.DataFrame, miles: float) -> RunningCost:
    """What a number of miles uses up: a running day, an excursion, a season.

    Parameters
    ----------
    mile : cost of a mile by component, as :func:`by_component` gives it. [money/mi]
    miles : miles to run. [mi], >= 0
    """
    whole = mile.iloc[-1]
    low, mean, high = (miles * float(whole[name]) for name in ("p10", "mean", "p90"))
    return RunningCost(miles, mean, low, high)


def miles_per_day(mileage: pd.DataFrame, vehicle: str, as_of: pd.Timestamp, *, years: int = 5) -> float:
    """Miles of a service day, from the log of the last years; NaN where it tells none. [mi/d]"""
    log = mileage[(mileage["vehicle"] == vehicle) & (mileage["date"] <= as_of)].sort_values(
        "date", kind="stable"
    )
    run = log["odometer"].diff()
    has_days = log["service_days"].gt(0) & run.notna() & (log["date"] > as_of - pd.DateOffset(years=years))
    days = float(log.loc[has_days, "service_days"].sum())
    return float(run[has_days].sum()) / days if days > 0 else float("nan")


@dataclass(frozen=True)
class SinkingFund:
    """What should be put aside for each mile, and what was.

    Attributes
    ----------
    should : long-run cost of a mile with its range (p10, mean, p90). [money/mi]
    was : gifts received in the stretch over the miles run in it; NaN where no miles were run. [money/mi]
    miles : miles run in the stretch. [mi]
    put_aside : gifts received in the stretch. [money]
    used_up, used_up_p10, used_up_p90 : what the parts in service have used up since they were new. [money]
    in_hand : what the fund holds for it. [money]
    since, as_of : the stretch.
    """

    should: tuple[float, float, float]
    was: float
    miles: float
    put_aside: float
    used_up: float
    used_up_p10: float
    used_up_p90: float
    in_hand: float
    since: pd.Timestamp
    as_of: pd.Timestamp


def used_share(life_miles: Floats, remaining: Floats) -> Floats:
    """Share of its life that each part in service has used up.

    Parameters
    ----------
    life_miles : shape (p,). Miles run since it was new. [mi]
    remaining : shape (n_draws, p). Miles left. [mi]

    Returns
    -------
    Shape (n_draws, p). [1], in [0, 1]; 1 where no mile is left.
    """
    whole = life_miles[None, :] + np.maximum(remaining, 0.0)
    run = np.broadcast_to(life_miles, whole.shape)
    return np.divide(run, whole, out=np.ones_like(whole), where=remaining > 0)


def miles_between(mileage: pd.DataFrame, vehicle: str, since: pd.Timestamp, until: pd.Timestamp) -> float:
    """Miles that a vehicle ran between two days, by its log; 0 where it has no two entries. [mi]"""
    log = (
        mileage[mileage["vehicle"] == vehicle]
        .dropna(subset=["date", "odometer"])
        .sort_values("date", kind="stable")
    )
    if len(log) < 2:
        return 0.0
    day = log["date"].to_numpy().astype("datetime64[D]").astype(float)
    edges = np.array([since, until], dtype="datetime64[D]").astype(float)
    first, last = np.interp(edges, day, log["odometer"].to_numpy(float))
    return float(max(last - first, 0.0))
