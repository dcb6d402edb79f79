"""One shop for all engines: hours by month, days of the pit, money by month, and what can be had when.

What a window may use is what its months have, less what other engines have been given. A plan that asks for
more pays for it, more each turn, until it asks for no more; what cannot be helped is said.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.plan.jobs import MACHINING, kind_of_action
from models.plan.problem import Bools, Floats, Ints, Problem

Dates = NDArray[np.datetime64]

RESOURCES = ("hours", "machining", "pit", "money")
"""What is bounded; machining: the hours of machine work, where the railway states that trade."""
TURNS = 10
"""Turns in which what is over gets dearer."""
FIRST_PRICE = 0.016
"""Price of what is over in the first turn, as a share of the plan's money for one unit of what it takes. So
little that what is a few hours over moves a job, not an opening."""
SHOP_COLUMNS = ["resource", "month", "available", "used", "over"]


@dataclass(frozen=True)
class Shop:
    """What there is, by month.

    Attributes
    ----------
    months : shape (T,). First days, in order. datetime64[us]
    available : shape (4, T), in the order of ``RESOURCES``: hours, hours of machine work, days of the pit,
        money; inf where nothing is stated.
    """

    months: pd.DatetimeIndex
    available: Floats

    @property
    def bounded(self) -> bool:
        """Whether anything is stated at all."""
        return bool(np.isfinite(self.available).any())

    def room(self, windows: pd.DataFrame, taken: Floats) -> Floats:
        """What each window may use, shape (4, W), when so much is taken, shape (4, T)."""
        free = np.maximum(self.available - taken, 0.0)
        inside = self._inside(windows)
        return np.asarray(np.where(inside[None], free[:, None, :], 0.0).sum(axis=2))

    def spread(self, windows: pd.DataFrame, use: Floats, taken: Floats) -> Floats:
        """The use of windows by month, shape (4, T): each takes what is free in its months, the first first;
        what finds no room stands in its last month."""
        out = np.zeros_like(self.available)
        inside = self._inside(windows)
        for w in range(len(windows)):
            at = np.flatnonzero(inside[w])
            for r in range(len(self.available)):
                left = float(use[r, w])
                for month in at:
                    free = max(float(self.available[r, month] - taken[r, month] - out[r, month]), 0.0)
                    part = min(left, free if np.isfinite(free) else left / max(len(at), 1))
                    out[r, month] += part
                    left -= part
                if left > 0 and len(at):
                    out[r, at[-1]] += left
        return out

    def _inside(self, windows: pd.DataFrame) -> Bools:
        ends = self.months + pd.offsets.MonthEnd()
        opens, closes = windows["opens"].to_numpy()[:, None], windows["closes"].to_numpy()[:, None]
        return np.asarray((self.months.to_numpy()[None, :] <= closes) & (ends.to_numpy()[None, :] >= opens))


def shop_of(capacities: pd.DataFrame | None, months: Dates) -> Shop:
    """What the shop has in the months planned.

    Parameters
    ----------
    capacities : table of the store: resource (hours, pit, money), trade, month (empty: every month that has
        no row of its own), amount. Hours of several trades are added up.
    months : those of the simulation.
    """
    index = pd.DatetimeIndex(months)
    available = np.full((len(RESOURCES), len(index)), np.inf)
    if capacities is None or len(capacities) == 0:
        return Shop(index, available)
    table = capacities.assign(trade=capacities["trade"].fillna("").str.strip().str.lower())
    machine = table["trade"].map(lambda trade: any(str(trade).startswith(word) for word in MACHINING))
    of = {
        "hours": table[table["resource"] == "hours"],
        "machining": table[(table["resource"] == "hours") & machine],
        "pit": table[table["resource"] == "pit"],
        "money": table[table["resource"] == "money"],
    }
    for row, name in enumerate(RESOURCES):
        trades = [_by_month(own, index) for _, own in of[name].groupby("trade")]
        if trades:
            available[row] = np.sum(trades, axis=0)
    return Shop(index, available)


def _by_month(rows: pd.DataFrame, months: pd.DatetimeIndex) -> Floats:
    """Amounts of one trade in each month; inf in months without a row, unless one stands for every month."""
    every = rows[rows["month"].isna()]["amount"]
    stated = rows.dropna(subset=["month"]).set_index("month")["amount"]
    stated = stated[~stated.index.duplicated(keep="last")]
    usual = float(every.iloc[-1]) if len(every) else np.inf
    return stated.reindex(months).fillna(usual).to_numpy(dtype=float)


@dataclass(frozen=True)
class Uses:
    """What the choices of one engine take: job, shape (4, J); opening, shape (4, D), by step of depth."""

    job: Floats
    opening: Floats

    def of(self, jobs: Bools, level: Ints) -> Floats:
        """What each window takes, shape (4, W)."""
        opened = np.arange(self.opening.shape[1])[None, :] < level[:, None]
        return np.asarray(self.job @ jobs + self.opening @ opened.T)

    def priced(self, problem: Problem, price: Floats) -> Problem:
        """The problem with what is taken at a price by resource and window, shape (4, W). [money]"""
        job_cost = problem.job_cost + np.einsum("rj,rw->jw", self.job, price)
        open_cost = problem.open_cost + np.einsum("rd,rw->wd", self.opening, price)
        return replace(problem, job_cost=job_cost, open_cost=open_cost)


def uses_of(problem: Problem, jobs: pd.DataFrame, openings: pd.DataFrame) -> Uses:
    """What jobs and openings of an engine take of the shop; the pit is taken by what needs the wheels out."""
    hours = jobs["labor_hours"].fillna(0.0).to_numpy(float)
    machined = np.array([kind_of_action(action) == "machined" for action in jobs["action"]])
    deepest = problem.n_depths - 1
    step = {name: np.diff(openings[name].to_numpy(float), prepend=0.0) for name in ("labor_hours", "cost")}
    pit = np.where(problem.job_depth == deepest, problem.job_days, 0.0)
    open_pit = np.where(np.arange(problem.n_depths) == deepest, problem.open_days, 0.0)
    money = jobs["cost"].fillna(0.0).to_numpy(float)
    none = np.zeros(problem.n_depths)
    return Uses(
        job=np.stack([hours, np.where(machined, hours, 0.0), pit, money]),
        opening=np.stack([step["labor_hours"], none, open_pit, step["cost"]]),
    )


def dearer(price: Floats, over: Floats, use: Floats, money: float) -> Floats:
    """Prices of the next turn: what is over is paid for, twice as much each turn that it stays so.

    Parameters
    ----------
    price, over, use : shape (4, W). money : what the plan costs in all. [money]
    """
    total = use.sum(axis=1, keepdims=True)
    unit = np.divide(FIRST_PRICE * money, total, out=np.zeros_like(total), where=total > 0)
    return np.where(over > 0, np.maximum(2.0 * price, unit), price)


def had_by(lead_times: pd.DataFrame | None, jobs: pd.DataFrame, as_of: pd.Timestamp) -> pd.Series:
    """Day from which each job can be done: what it needs is there; NaT where nothing has to be ordered.

    Parameters
    ----------
    lead_times : table of the store: component, action (empty: whatever is done), months.
    jobs : component, action. as_of : day on which everything would be ordered.
    """
    out = pd.Series(pd.NaT, index=jobs.index, dtype="datetime64[us]")
    if lead_times is None or len(lead_times) == 0:
        return out
    stated = [
        (
            str(row["component"]).strip().lower(),
            str(row["action"] or "").strip().lower(),
            float(row["months"]),
        )
        for row in lead_times.to_dict("records")
    ]
    for at, job in enumerate(jobs[["component", "action"]].to_dict("records")):
        own, done = str(job["component"]).lower(), str(job["action"])
        months = [
            wait
            for name, action, wait in stated
            if name in own and (not action or _same_action(action, done))
        ]
        if months:
            out.iloc[at] = (as_of + pd.Timedelta(days=max(months) * 365.2425 / 12)).as_unit("us")
    return out


def _same_action(stated: str, own: str) -> bool:
    kind = kind_of_action(stated)
    return stated == own.strip().lower() or (kind != "other" and kind == kind_of_action(own))


def shop_frame(shop: Shop, taken: Floats) -> pd.DataFrame:
    """What the plan takes of the shop: resource, month, available, used, over; months in which something is
    stated and used."""
    rows = []
    for row, name in enumerate(RESOURCES):
        for at, month in enumerate(shop.months):
            has, used = float(shop.available[row, at]), float(taken[row, at])
            if np.isfinite(has) and used > 0:
                rows.append((name, month, has, used, max(used - has, 0.0)))
    return pd.DataFrame(rows, columns=SHOP_COLUMNS).astype({"month": "datetime64[us]"})


def season_taken(windows: pd.DataFrame, days: Floats) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Stretches of the season in which an engine is still in the shop: from a window's end to its work's."""
    out = []
    whole = ((windows["closes"] - windows["opens"]).dt.days + 1).to_numpy(float)
    for w in np.flatnonzero(days > whole):
        closes = pd.Timestamp(windows["closes"].iloc[w])
        out.append((closes, closes + pd.Timedelta(days=float(np.ceil(days[w] - whole[w])))))
    return out


def all_others_out(
    windows: pd.DataFrame, others: Mapping[str, Sequence[tuple[pd.Timestamp, pd.Timestamp]]]
) -> Bools:
    """Windows after which every other engine is still in the shop, so that this one must be in service."""
    out = np.zeros(len(windows), bool)
    if not others:
        return out
    for w, closes in enumerate(windows["closes"]):
        first = closes + pd.Timedelta(days=1)
        out[w] = all(any(start < first <= end for start, end in spans) for spans in others.values())
    return out
