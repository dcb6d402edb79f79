"""Inspections that fall due by the calendar or by service days, as lives that a plan may hold."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from models.planner_jobs import DEPTHS, JOB_COLUMNS
from models.planner_problem import Bools, Floats
from models.planner_rules import Rules

COLUMNS = ["clock", "title", "due", "months", "service_days", "access", "cost", "labor_hours", "days_out"]
"""Columns of a frame of due dates of one vehicle; all but clock and due may be missing.

due : last day on which it may be done. months, service_days : from one inspection to the next, whichever
    comes first;
without both it is done once. access : depth that it needs (``in_place``). cost, labor_hours, days_out : what
it takes.
"""


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
        price = frame["cost"].fillna(0.0) + rules.labor_rate * frame["labor_hours"].fillna(0.0)
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
            }
        ).reindex(columns=JOB_COLUMNS)
        days = frame["days_out"].fillna(0.0) / rules.gangs
        return rows.assign(price=price.to_numpy(), assumed=False, days=days.to_numpy())


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
    frame = frame[frame["due"].notna() & ~(frame["months"].fillna(12) < 12)].reset_index(drop=True)
    frame["title"] = frame["title"].fillna(frame["clock"].astype(str))
    frame["access"] = frame["access"].where(frame["access"].isin(DEPTHS), DEPTHS[0])
    numbers = ["months", "service_days", "cost", "labor_hours", "days_out"]
    frame[numbers] = frame[numbers].astype(float)
    days = np.concatenate([windows["opens"].to_numpy(), [np.datetime64(horizon_end, "us")]])
    nodes = len(days) + 1
    allowed = np.zeros((len(frame), nodes, nodes), bool)
    allowed[:, 0, 1:] = days[None, :] <= frame["due"].to_numpy()[:, None]
    for k, clock in enumerate(frame.itertuples()):
        once = np.isnan(clock.months) and np.isnan(clock.service_days)  # type: ignore[arg-type]
        for u in range(1, nodes - 1):
            later = np.ones(nodes - 1 - u, bool)
            if np.isfinite(clock.months):  # type: ignore[arg-type]
                until = pd.Timestamp(days[u - 1]) + pd.DateOffset(months=int(clock.months))  # type: ignore[arg-type]
                later &= days[u:] <= until.to_datetime64()
            if np.isfinite(clock.service_days):  # type: ignore[arg-type]
                later &= ~(service_days[u + 1 :] - service_days[u] > clock.service_days)
            allowed[k, u, u + 1 :] = later | once
    return ClockLives(frame, allowed)
