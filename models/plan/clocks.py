"""Inspections that fall due by the calendar or by service days, as lives that a plan may hold."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.plan.jobs import DEPTHS, JOB_COLUMNS
from models.plan.problem import Bools, Floats
from models.plan.rules import Rules

Dates = NDArray[np.datetime64]

COLUMNS = [
    "clock",
    "title",
    "due",
    "months",
    "days",
    "service_days",
    "access",
    "cost",
    "labor_hours",
    "days_out",
]
"""Columns of a frame of due dates of one vehicle; all but clock and due may be missing.

due : last day on which it may be done.
months, days, service_days : from one inspection to the next, whichever comes first; without any it is done
    once.
access : depth that it needs (``in_place``). cost, labor_hours, days_out : what it takes.
"""
NUMBERS = ["months", "days", "service_days", "cost", "labor_hours", "days_out"]
UNPRICED = 1000.0
"""What an inspection without a price is weighed at, so that it is not done long before it is due. [money]
Assumption, no source."""
LEAST_SERVICE_DAYS = 150.0
"""An inspection that falls due after fewer service days is one of the running season, not of a lay-up."""


@dataclass(frozen=True)
class ClockLives:
    """Clocks of one vehicle and between which nodes each may run.

    Attributes
    ----------
    frame : columns ``COLUMNS``, one row a clock.
    allowed : shape (clocks, W + 2, W + 2), bool.
    """

    frame: pd.DataFrame
    allowed: Bools

    def jobs(self, rules: Rules) -> pd.DataFrame:
        """The inspections as jobs of the programme."""
        frame = self.frame
        price = frame["cost"].fillna(UNPRICED) + rules.labor_rate * frame["labor_hours"].fillna(0.0)
        rows = pd.DataFrame(
            {
                "job": "clock | " + frame["clock"].astype(str),
                "component": frame["title"],
                "action": "inspection",
                "position": "",
                "parts": 1,
                "points": [[] for _ in range(len(frame))],
                "access": frame["access"],
                "matched_set": "",
                "cost": frame["cost"],
                "labor_hours": frame["labor_hours"],
                "days_out": frame["days_out"],
                "quote": -1,
                "machines": False,
            }
        ).reindex(columns=JOB_COLUMNS)
        days = frame["days_out"].fillna(0.0) / rules.gangs
        assumed = frame["cost"].isna().to_numpy()
        return rows.assign(price=price.to_numpy(), assumed=assumed, days=days.to_numpy())

    def due(self, clock: int, done: pd.Timestamp | None) -> pd.Timestamp | None:
        """Day by which a clock falls due by the calendar, after it was last done in the plan; NaT when it
        does not."""
        row = self.frame.iloc[clock]
        if done is None:
            return pd.Timestamp(row["due"])
        days = []
        if np.isfinite(row["months"]):
            days.append(done + pd.DateOffset(months=int(row["months"])))
        if np.isfinite(row["days"]):
            days.append(done + pd.Timedelta(days=float(row["days"])))
        return min(days, default=None)


def clock_lives(
    due: pd.DataFrame | None, windows: pd.DataFrame, service_days: Floats, horizon_end: pd.Timestamp
) -> ClockLives:
    """Between which nodes each clock of a vehicle may run.

    Parameters
    ----------
    due : columns ``COLUMNS``; None for no clock. A clock whose interval is less than a year is left out: it
        is no work for a lay-up.
    windows : opens of the vehicle's windows, in order.
    service_days : shape (W + 2,). Service days from as-of to each node. [d]
    horizon_end : day of the last node.
    """
    if due is None or len(due) == 0:
        return ClockLives(
            pd.DataFrame(columns=COLUMNS), np.zeros((0, len(windows) + 2, len(windows) + 2), bool)
        )
    frame = due.reindex(columns=COLUMNS).copy()
    frame = frame.sort_values(["clock", "due"], kind="stable")
    frame[NUMBERS] = frame[NUMBERS].astype(float)
    often = (frame["months"] < 12) | (frame["days"] < 300) | (frame["service_days"] < LEAST_SERVICE_DAYS)
    frame = frame[frame["due"].notna() & ~often].reset_index(drop=True)
    frame["title"] = frame["title"].fillna(frame["clock"].astype(str))
    frame["access"] = frame["access"].where(frame["access"].isin(DEPTHS), DEPTHS[0])
    days = np.concatenate([windows["opens"].to_numpy(), [np.datetime64(horizon_end, "us")]])
    nodes = len(days) + 1
    allowed = np.zeros((len(frame), nodes, nodes), bool)
    allowed[:, 0, 1:] = days[None, :] <= frame["due"].to_numpy()[:, None]
    interval = frame[["months", "days", "service_days"]].to_numpy(float)
    for k in range(len(frame)):
        for u in range(1, nodes - 1):
            since = service_days[u + 1 :] - service_days[u]
            allowed[k, u, u + 1 :] = _may_run(interval[k], days[u - 1], days[u:], since)
    return ClockLives(frame, allowed)


def _may_run(interval: Floats, done: np.datetime64, until: Dates, service_days: Floats) -> Bools:
    """Until which of the days a clock set back on a day may run; service days not known do not stop it."""
    months, days, service = interval
    out = np.ones(len(until), bool)
    if np.isfinite(months):
        out &= until <= (pd.Timestamp(done) + pd.DateOffset(months=int(months))).to_datetime64()
    if np.isfinite(days):
        out &= until <= (pd.Timestamp(done) + pd.Timedelta(days=float(days))).to_datetime64()
    if np.isfinite(service):
        out &= ~(service_days > service)
    return out
