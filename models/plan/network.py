"""From wear points, chances and prices to the programme of one vehicle, and back to its words."""

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from models.plan import rounding as rounded
from models.plan.chances import Lives
from models.plan.clocks import ClockLives
from models.plan.economics import unit_lives
from models.plan.jobs import DEPTHS, giving_back, is_spare
from models.plan.problem import Arcs, Bools, Floats, Ints, Problem
from models.plan.rules import Rules

NO_PRICE = 1000.0
"""What renewing one part is weighed at where nothing has a price. [money] Assumption, no source."""
MACHINED_SHARE = 0.25
"""Price of machining a part as a share of renewing it, where one of the two has no price. Assumption, no
source. [1]"""
ROUNDING = 1e-9
"""A chance is over the accepted one only by more than this: less than the step of a chance
(``plan.rounding``), more than what two ways to write one number differ by."""


class FittedAt(NamedTuple):
    """Where a part of the rack comes in: rows of ``lives.points``, row of the window, row of its job."""

    rows: Ints
    window: int
    job: int


@dataclass(frozen=True)
class Network:
    """The programme of one vehicle and what its numbers stand for.

    Attributes
    ----------
    problem : what may be chosen.
    jobs : frame, row j is job j of the programme: columns of ``plan.jobs.jobs_of``, ``price`` [money] as
        planned with (labor in it; a job without a listed price is counted at a stand-in), ``assumed`` (it is
        a stand-in), ``days`` [d].
    units : list by unit of the rows of ``lives.points`` in it; empty for a clock.
    clock_of_unit : shape (U,). Row of the clocks, -1 for a unit of wear points.
    worth : shape (U,). Money that a new life of the unit is worth.
    fitted : parts of the rack that are fitted.
    """

    problem: Problem
    jobs: pd.DataFrame
    units: list[Ints]
    clock_of_unit: Ints
    worth: Floats
    fitted: tuple[FittedAt, ...] = ()


def network(
    lives: Lives,
    jobs: pd.DataFrame,
    openings: pd.DataFrame,
    windows: pd.DataFrame,
    clocks: ClockLives,
    rules: Rules,
    had_by: pd.Series | None = None,
    fitting: pd.DataFrame | None = None,
) -> Network:
    """The programme of one vehicle.

    Parameters
    ----------
    lives : chances and unused miles between the nodes.
    jobs, openings : as ``plan.jobs`` gives them, of this vehicle.
    windows : opens, closes, days of its windows, in order.
    clocks : inspections with due dates, each one more unit.
    rules : what the plan keeps to.
    had_by : day from which each job can be done, NaT for any day; None where nothing has to be ordered.
    fitting : spares that are fitted (``plan.jobs.fitting_jobs``), each in its window whatever else is chosen:
        a unit of its own. What it does to the lives of the wear points stands in ``lives``.

    Notes
    -----
    A life is allowed when the chance of each of its wear points is within that point's accepted risk. From
    one node to the next a life may be held all the same, for where even that is too risky some plan must.
    Such a late life costs a penalty above everything else, except on a path with the fewest of them.

    All money and days are rounded (``plan.rounding``). Wear points, jobs and clocks stand in the order of
    their names, so that a tie is broken the same way however the rows came.
    """
    table = _priced(jobs, rules)
    units, members = _units(lives.points, table)
    worth = _worth(members, table)
    allowed, cost, now = unit_lives(lives, units, worth, rules.risk_of(lives.points) + ROUNDING, rules)
    asked = [bool(lives.points["point"].iloc[rows].isin(rules.now).any()) for rows in units]
    if fitting is not None and len(fitting):
        table, members = _with_fitting(table, members, rules, fitting)
        more = ((0, len(fitting)), (0, 0), (0, 0))
        allowed, cost = np.pad(allowed, more, constant_values=True), np.pad(cost, more)
        asked += [False] * len(fitting)
    programme = _with_clocks(allowed, cost, table, members, clocks, rules, asked)
    programme = replace(programme, constant=float(rounded.money(now).sum()))
    problem = _problem(programme, openings, windows, lives.years[1:-1], rules, had_by)
    own = np.arange(len(clocks.frame))
    every = [*units, *(own[:0] for _ in range(len(asked) - len(units) + len(own)))]
    clock_of_unit = np.append(np.full(len(asked), -1), own)
    worth = np.append(worth, np.zeros(len(every) - len(worth)))
    return Network(problem, programme.jobs, every, clock_of_unit, worth, _fitted(programme.jobs, lives))


def with_late(allowed: Bools, cost: Floats, can: Bools, jobs: pd.DataFrame, openings: pd.DataFrame,
              rules: Rules) -> Floats:  # fmt: skip
    """Cost of the lives that may be held, inf where one may not: a late one costs more than all else.

    Parameters
    ----------
    allowed, cost : as ``plan.economics.unit_lives`` has them. can : shape (U, W). Windows at
        which each can be renewed.
    jobs : with price, of the whole engine. openings : as ``plan.jobs`` gives them.
    """
    lateness = _lateness(allowed, can)
    price = jobs["price"].to_numpy(float)
    dearest = price.max(initial=0.0) + _opening_price(openings, jobs, rules).max(initial=0.0)
    held = np.isfinite(lateness)
    late = 10.0 * (dearest + rules.stop + 1.0) * np.where(held, lateness, 0.0)
    return np.asarray(np.where(held, rounded.money(cost + late), np.inf))


@dataclass(frozen=True)
class _Programme:
    """Units of wear points and of clocks together."""

    allowed: Bools
    cost: Floats
    jobs: pd.DataFrame
    covers: Ints
    asked: Bools  # of each unit: to be renewed in the first window
    constant: float  # money that the lives in service are worth now: what is used up is never negative


def _priced(jobs: pd.DataFrame, rules: Rules) -> pd.DataFrame:
    """Jobs with the price that the plan counts with; without a listed one, the dearest of its component's or
    the median, machining a share of it."""
    price = jobs["cost"] + rules.labor_rate * jobs["labor_hours"].fillna(0.0)
    share = np.where(jobs["machines"], MACHINED_SHARE, 1.0)
    of_new_part: pd.Series = price / jobs["parts"] / share
    own: pd.Series = of_new_part.groupby(jobs["component"]).transform("max")
    middle = float(of_new_part.median()) if of_new_part.notna().any() else NO_PRICE
    assumed = price.isna()
    price = price.fillna(own.fillna(middle) * share * jobs["parts"])
    days = jobs["days_out"].fillna(0.0) / rules.gangs
    return jobs.assign(price=price, assumed=assumed, days=days, spare="").reset_index(drop=True)


def _with_fitting(
    jobs: pd.DataFrame, members: list[Ints], rules: Rules, fitting: pd.DataFrame
) -> tuple[pd.DataFrame, list[Ints]]:
    """Jobs and those of each unit, with the fitting of spares, a unit each."""
    price = fitting["cost"] + rules.labor_rate * fitting["labor_hours"].fillna(0.0)
    own = fitting.assign(price=price, days=fitting["days_out"].fillna(0.0) / rules.gangs)
    also = [np.array([len(jobs) + row]) for row in range(len(own))]
    return pd.concat([jobs, own], ignore_index=True), [*members, *also]


def _fitted(jobs: pd.DataFrame, lives: Lives) -> tuple[FittedAt, ...]:
    names = pd.Index(lives.points["point"])
    return tuple(
        FittedAt(
            names.get_indexer(pd.Index(jobs["points"].iloc[row])), int(jobs["only_at"].iloc[row]), int(row)
        )
        for row in np.flatnonzero(is_spare(jobs))
    )


def of_new_parts(jobs: pd.DataFrame) -> pd.DataFrame:
    """The jobs without those that fit spares: what prices are measured by."""
    return jobs[~is_spare(jobs)]


def _units(points: pd.DataFrame, jobs: pd.DataFrame) -> tuple[list[Ints], list[Ints]]:
    """Wear points that the same jobs renew, and the jobs of each such unit."""
    row = {name: i for i, name in enumerate(points["point"])}
    jobs_of_point: dict[int, list[int]] = {i: [] for i in range(len(points))}
    for job, names in enumerate(jobs["points"]):
        for name in names:
            if name in row:
                jobs_of_point[row[name]].append(job)
    groups: dict[tuple[int, ...], list[int]] = {}
    for point, renewing in jobs_of_point.items():
        groups.setdefault(tuple(renewing), []).append(point)
    return [np.array(rows) for rows in groups.values()], [np.array(key) for key in groups]


def _worth(members: list[Ints], jobs: pd.DataFrame) -> Floats:
    """Money that a new life of each unit is worth: its cheapest job, less what that job is worth to
    others."""
    price = jobs["price"].to_numpy(float)
    cheapest = np.array([price[renewing].min() for renewing in members])
    out = cheapest.copy()
    for unit, renewing in enumerate(members):
        others = [
            cheapest[other]
            for other, theirs in enumerate(members)
            if other != unit and len(renewing) < len(theirs) and np.isin(renewing, theirs).all()
        ]
        out[unit] = max(cheapest[unit] - sum(others), 0.0)
    return out


def _with_clocks(
    allowed: Bools,
    cost: Floats,
    jobs: pd.DataFrame,
    members: list[Ints],
    clocks: ClockLives,
    rules: Rules,
    asked: list[bool],
) -> _Programme:
    n = len(clocks.frame)
    own = clocks.jobs(rules)
    pairs = [(job, unit) for unit, renewing in enumerate(members) for job in renewing]
    pairs += [(len(jobs) + k, len(members) + k) for k in range(n)]
    table = pd.concat([jobs, own], ignore_index=True) if n else jobs
    return _Programme(
        allowed=np.concatenate([allowed, clocks.allowed]),
        cost=np.concatenate([cost, np.zeros(clocks.allowed.shape)]),
        jobs=table,
        covers=np.array(pairs, dtype=np.int64).reshape(-1, 2),
        asked=np.array([*asked, *[False] * n]),
        constant=0.0,
    )


def _problem(
    programme: _Programme,
    openings: pd.DataFrame,
    windows: pd.DataFrame,
    years: Floats,
    rules: Rules,
    had_by: pd.Series | None,
) -> Problem:
    able = _able(programme.jobs, windows, had_by)
    n_units, n_windows = len(programme.allowed), len(windows)
    can = np.zeros((n_units, n_windows), bool)
    np.logical_or.at(can, programme.covers[:, 1], able[programme.covers[:, 0]])
    cost = with_late(programme.allowed, programme.cost, can, programme.jobs, openings, rules)
    unit, start, end = np.nonzero(np.isfinite(cost))
    price = programme.jobs["price"].to_numpy(float)
    opening = _opening_price(openings, programme.jobs, rules)
    worth = rules.worth(years)
    low = np.zeros((len(price), n_windows))
    whole, shares = running_lost(windows)
    if n_windows:
        low[_first_jobs(programme), 0] = 1.0
        low[is_spare(programme.jobs)] = 1.0  # in the one window that it has
        low *= able
    return Problem(
        unit_of_lane=np.arange(n_units),
        arcs=Arcs(unit, start, end, cost[unit, start, end]),
        covers=programme.covers,
        lane_jobs=np.empty((0, 2), dtype=np.int64),
        job_cost=rounded.money(price[:, None] * worth[None, :]),
        job_low=low,
        job_high=able.astype(np.float64),
        job_depth=programme.jobs["access"].map(DEPTHS.index).to_numpy(dtype=np.int64),
        job_days=rounded.days(programme.jobs["days"].to_numpy(float)),
        open_cost=rounded.money(np.diff(opening, prepend=0.0)[None, :] * worth[:, None]),
        open_days=rounded.days(np.diff(openings["days_out"].to_numpy(float), prepend=0.0)),
        window_days=windows["days"].to_numpy(float),
        lost_day=rounded.money(rules.lost_day * shares[0] * worth),
        long_days=whole,
        long_day=rounded.money(rules.lost_day * shares[1] * worth),
        constant=programme.constant,
        turnings=turnings_of(programme.jobs),
    )


def _opening_price(openings: pd.DataFrame, jobs: pd.DataFrame, rules: Rules) -> Floats:
    """What opening to each depth weighs: its price with the hours, else a multiple of the price of a part."""
    jobs = of_new_parts(jobs)
    of_part = (jobs["price"] / jobs["parts"])[~jobs["machines"].astype(bool)]
    middle = float(of_part.median()) if len(of_part) else NO_PRICE
    price = openings["cost"].to_numpy(float) + rules.labor_rate * openings["labor_hours"].to_numpy(float)
    weighed: Floats = np.maximum.accumulate(
        np.maximum(price, openings["share_of_part"].to_numpy(float) * middle)
    )
    return weighed


def running_lost(windows: pd.DataFrame) -> tuple[Floats, Floats]:
    """What a day of work beyond those of a window takes from the running: a day lost is one that would have
    been run.

    Returns
    -------
    Days from which on the work reaches into the season after the window, shape (W,), inf where the window
    says nothing of the running (``models.running.windows.RUN_COLUMNS``); days in service lost with each day
    beyond the window's own, and how many more with each day in the season, shape (2, W). [1], >= 0
    """
    n = len(windows)
    if "run_share_after" not in windows or n == 0:
        return np.full(n, np.inf, dtype=np.float64), np.stack([np.ones(n), np.zeros(n)])
    whole = np.asarray((windows["closes"] - windows["opens"]).dt.days + 1, dtype=np.float64)
    between = whole - windows["days"].to_numpy(float)
    after = windows["run_share_after"].to_numpy(float)
    inside = np.where(
        between > 0, windows["run_days_inside"].to_numpy(float) / np.maximum(between, 1.0), after
    )
    inside = np.minimum(inside, 1.0)
    return whole, np.stack([inside, np.maximum(after - inside, 0.0)])


def turnings_of(jobs: pd.DataFrame) -> Ints:
    """Jobs that spend metal, the job that gives it back, how often before and after it: rows of
    ``Problem.turnings``."""
    rows = []
    for turning, renewing in giving_back(jobs).items():
        known = jobs[["turnings_left", "turnings_next"]].iloc[turning].fillna(0.0)
        rows.append((turning, renewing, int(known.iloc[0]), int(known.max())))
    return np.array(rows, dtype=np.int64).reshape(-1, 4)


def _able(jobs: pd.DataFrame, windows: pd.DataFrame, had_by: pd.Series | None) -> Bools:
    """Whether each job can be done in each window: what it needs is there while it is still open."""
    out = np.ones((len(jobs), len(windows)), bool)
    if "only_at" in jobs:
        rack = is_spare(jobs)
        out[rack] = np.arange(len(windows))[None, :] == jobs.loc[rack, "only_at"].to_numpy(float)[:, None]
    if had_by is None or had_by.isna().all():
        return out
    ready = had_by + pd.to_timedelta(np.ceil(jobs["days"].iloc[: len(had_by)].to_numpy(float)), unit="D")
    late = ready.to_numpy()[:, None] > windows["closes"].to_numpy()[None, :]
    out[: len(had_by)] &= ~late  # NaT is after nothing
    return out


def _lateness(allowed: Bools, can: Bools | None = None) -> Floats:
    """0 where a life may be held, 1 for a late one that a path with fewer could do without, inf elsewhere.

    ``can``: shape (U, W). Windows at which each unit can be renewed; every one when not given.
    """
    units, nodes = allowed.shape[:2]
    ends = (
        np.ones((units, nodes), bool) if can is None else np.pad(can, ((0, 0), (1, 1)), constant_values=True)
    )
    late = np.where(allowed & np.triu(np.ones((nodes, nodes), bool), 1) & ends[:, None, :], 0.0, np.inf)
    row, following = np.arange(units), np.full(units, nodes - 1)
    for step in range(nodes - 2, -1, -1):  # the next node at which a life can end, however late it is
        late[row, step, following] = np.where(allowed[row, step, following], 0.0, 1.0)
        following = np.where(ends[:, step], step, following)
    ahead = np.full(late.shape[:2], np.inf)
    ahead[:, -1] = 0.0
    behind = np.full(late.shape[:2], np.inf)
    behind[:, 0] = 0.0
    for node in range(1, nodes):
        behind[:, node] = (behind[:, :node] + late[:, :node, node]).min(axis=1)
        back = nodes - 1 - node
        ahead[:, back] = (late[:, back, back + 1 :] + ahead[:, back + 1 :]).min(axis=1)
    fewest = behind[:, -1][:, None, None]
    cannot_be_helped = behind[:, :, None] + late + ahead[:, None, :] <= fewest
    return np.where((late == 1.0) & cannot_be_helped, 0.0, late)


def _first_jobs(programme: _Programme) -> Ints:
    """Of the jobs that renew what is asked for now, one for each unit: the cheapest that can be done."""
    price = programme.jobs["price"].to_numpy(float)
    possible = ~(programme.jobs["turnings_left"] < 1).to_numpy()
    chosen: set[int] = set()
    n_jobs = np.bincount(programme.covers[:, 1], minlength=len(programme.allowed))
    for unit in np.argsort(n_jobs, kind="stable"):  # where only one job serves, it settles the others
        renewing = programme.covers[programme.covers[:, 1] == unit, 0]
        if programme.asked[unit] and not chosen & set(renewing.tolist()):
            able = renewing[possible[renewing]]
            chosen.add(int(able[np.argmin(price[able])]))
    return np.array(sorted(chosen), dtype=np.int64)
