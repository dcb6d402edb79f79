"""What a scope costs in each future: its jobs, opening the machine, hidden work, in one set of draws."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.futures.simulation import DAYS_PER_YEAR, Simulation, price_factor
from models.plan.jobs import DEPTHS, giving_back

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LONGEST_LIFE = 3.0
"""A life counts for no more than so many times the middle one: a part that hardly seems to wear is renewed
for other reasons. Assumption, no source. [1]"""

FAR = 1e8
"""Miles of a life that is practically without end. [mi]"""
LINE_COLUMNS = ["line", "kind", "component", "action", "parts", "points"]


@dataclass(frozen=True)
class ScopeCost:
    """Lines of a scope and what each costs in each future.

    Attributes
    ----------
    lines : columns ``LINE_COLUMNS``; kind is planned, opening or hidden.
    draws : shape (n, lines). [money]
    unpriced : component, reason: jobs that have no price, and so are in no sum.
    """

    lines: pd.DataFrame
    draws: Floats
    unpriced: pd.DataFrame

    @property
    def total(self) -> Floats:
        """Cost of the scope in each future, shape (n,). [money]"""
        return np.asarray(self.draws.sum(axis=1))


def carried(cost: ScopeCost, inflation: Floats, wait: pd.Timedelta) -> ScopeCost:
    """The same work done later, at what prices have risen to in each future.

    Parameters
    ----------
    inflation : shape (n,). Yearly rise of prices. [1/year]
    wait : how much later.
    """
    years = wait / pd.Timedelta(days=DAYS_PER_YEAR)
    return replace(cost, draws=cost.draws * ((1.0 + inflation) ** years)[:, None])


def points_called_by(jobs: pd.DataFrame, points: pd.DataFrame) -> Ints:
    """Job that each wear point calls for when it reaches its limit: the cheapest that can be done.

    Returns
    -------
    Row of ``jobs`` for each row of ``points``, -1 where none renews it. A job without a price comes last, but
    for a turning, which is cheaper than a new tire whatever its price; one that no metal is left for is none.
    """
    rows = jobs.reset_index(drop=True).explode("points")
    key = rows["cost"].fillna(np.inf).mask(rows["turnings_left"].notna(), -1.0)
    rows = rows.assign(row=rows.index, key=key)[~(rows["turnings_left"] < 1)]
    rows = rows.sort_values(["key", "row"], kind="stable")
    first = rows.drop_duplicates("points").set_index("points")["row"]
    return np.asarray(first.reindex(points["point"]).fillna(-1).to_numpy(np.int64))


def kinds_of_work(jobs: pd.DataFrame) -> list[tuple[str, str, Ints]]:
    """Component, action and rows of the jobs of each kind of work, in the order of the names."""
    keys = list(zip(jobs["component"].astype(str), jobs["action"].astype(str), strict=True))
    kinds: dict[tuple[str, str], list[int]] = {}
    for row, key in enumerate(keys):
        kinds.setdefault(key, []).append(row)
    return [(component, action, np.array(kinds[component, action])) for component, action in sorted(kinds)]


def points_of(jobs: pd.DataFrame) -> list[str]:
    """Wear points that the jobs renew, each once, in order."""
    return sorted({str(point) for points in jobs["points"] for point in points})


def job_prices(simulation: Simulation, jobs: pd.DataFrame, paid_on: pd.Timestamp) -> Floats:
    """Price of each job in each future on the day of payment.

    Returns
    -------
    Shape (n, len(jobs)). [money]; NaN for a job without a price.
    """
    quote = jobs["quote"].to_numpy(np.int64)
    factor = np.ones((simulation.draws, len(jobs)))
    known = quote >= 0
    factor[:, known] = simulation.quote_factor[:, quote[known]]
    dates = pd.to_datetime(jobs["price_date"])
    cost = jobs["cost"].to_numpy(float)[None, :]
    return np.asarray(factor * price_factor(simulation, dates, paid_on) * cost)


def scope_cost(
    simulation: Simulation,
    jobs: pd.DataFrame,
    openings: pd.DataFrame,
    paid_on: pd.Timestamp,
    hidden: "ScopeCost | None" = None,
) -> ScopeCost:
    """Cost of a scope in each future.

    Parameters
    ----------
    jobs : the jobs of the scope, as ``plan.jobs.jobs_of`` gives them.
    openings : cost of opening the machine by depth, as ``plan.jobs.openings_of`` gives it.
    paid_on : day to which prices are carried.
    hidden : hidden work of this scope, its draws of the same futures.
    """
    prices = job_prices(simulation, jobs, paid_on)
    priced = np.asarray(np.isfinite(prices).all(axis=0), dtype=bool)
    lines, draws = _by_kind_of_work(jobs.iloc[np.flatnonzero(priced)], prices[:, priced])
    opening, opening_draws = _opening(simulation, jobs, openings, paid_on)
    frames, arrays = [lines, opening], [draws, opening_draws]
    if hidden is not None:
        frames.append(hidden.lines)
        arrays.append(hidden.draws)
    all_lines = pd.concat([frame for frame in frames if len(frame)] or [lines], ignore_index=True)
    unpriced = jobs[~priced][["component", "action"]].drop_duplicates()
    reason = "no price of “" + unpriced["action"].astype(str) + "” is on record"
    missing = [pd.DataFrame({"component": unpriced["component"], "reason": reason})]
    missing += [hidden.unpriced] if hidden is not None else []
    return ScopeCost(all_lines, np.concatenate(arrays, axis=1), pd.concat(missing, ignore_index=True))


def _by_kind_of_work(jobs: pd.DataFrame, prices: Floats) -> tuple[pd.DataFrame, Floats]:
    """One line for each component and action."""
    rows, columns = [], []
    for component, action, index in kinds_of_work(jobs):
        alike = jobs.iloc[index]
        rows.append(
            {
                "line": f"{component} | {action}",
                "kind": "planned",
                "component": component,
                "action": action,
                "parts": float(alike["parts"].sum()),
                "points": points_of(alike),
            }
        )
        columns.append(prices[:, index].sum(axis=1))
    draws = np.stack(columns, axis=1) if columns else np.empty((len(prices), 0))
    return pd.DataFrame(rows, columns=LINE_COLUMNS), draws


def _opening(
    simulation: Simulation, jobs: pd.DataFrame, openings: pd.DataFrame, paid_on: pd.Timestamp
) -> tuple[pd.DataFrame, Floats]:
    depth = max((DEPTHS.index(access) for access in jobs["access"]), default=0)
    cost = float(openings["cost"].iloc[depth]) if len(openings) else 0.0
    if not cost > 0:
        return pd.DataFrame(columns=LINE_COLUMNS), np.empty((simulation.draws, 0))
    name = DEPTHS[depth]
    quotes = opening_quote(simulation.quotes, name)
    factor = simulation.quote_factor[:, quotes[0]] if len(quotes) else np.ones(simulation.draws)
    date = simulation.quotes["price_date"].iloc[quotes[:1]] if len(quotes) else pd.Series([pd.NaT])
    carried = price_factor(simulation, pd.to_datetime(date), paid_on)[:, 0]
    deepest = jobs[jobs["access"] == name]
    row = {
        "line": f"opening | {name}",
        "kind": "opening",
        "component": "opening",
        "action": name.replace("_", " "),
        "parts": 1.0,
        "points": points_of(deepest),
    }
    return pd.DataFrame([row], columns=LINE_COLUMNS), (cost * factor * carried)[:, None]


def job_lives(simulation: Simulation, called: Ints, n_jobs: int) -> Floats:
    """Miles from each job done to the job due again: the shortest next life of the points that call for it.

    Parameters
    ----------
    called : shape (p,). Job that each wear point calls for, -1 for none.

    Returns
    -------
    Shape (n, n_jobs). [mi]; NaN for a job that no point calls for, or whose points hardly ever reach a limit.
    """
    lives = simulation.next_life[:, :, 0]
    middle = np.median(lives, axis=0)
    lives = np.minimum(lives, LONGEST_LIFE * middle)
    out = np.full((n_jobs, simulation.draws), np.inf)
    usable = (called >= 0) & (middle < FAR)
    np.minimum.at(out, called[usable], lives[:, usable].T)
    return np.where(np.isfinite(out), np.maximum(out, 1.0), np.nan).T


def with_sets(lives: Floats, jobs: pd.DataFrame, simulation: Simulation) -> Floats:
    """Lives of jobs, those of turned tires by their set.

    Parameters
    ----------
    lives : shape (n, len(jobs)), as :func:`job_lives` gives it. [mi]

    Returns
    -------
    Same shape. A new set lasts until it is scrap (the next life of its thickness); a turning falls due after
    that life over the ``turnings_next_mean`` of it; NaN where it never does.

    Notes
    -----
    In the long run a mile costs the expected cost of one set's life over its expected miles (renewal-reward
    theorem, see ``case.mile.cost_of_a_mile``), so turnings count by their mean and not by the whole number
    that half of the sets reach: that one would cost too little or too much by up to half a turning.
    """
    out = lives.copy()
    points = simulation.points
    for turning, renewing in giving_back(jobs).items():
        of_set = points["point"].isin(jobs["points"].iloc[renewing]) & (points["role"] == "metal")
        rows = np.flatnonzero(of_set & points["turnings_left"].notna())
        if len(rows) == 0:
            continue
        life = simulation.next_life[:, rows, 0]
        middle = np.median(life, axis=0)
        whole = np.minimum(life, LONGEST_LIFE * middle).min(axis=1)
        out[:, renewing] = np.maximum(whole, 1.0) if middle.min() < FAR else np.nan
        count = float(jobs["turnings_next_mean"].iloc[turning])
        out[:, turning] = out[:, renewing] / count if count > 0 else np.nan
    return out


def opening_quote(quotes: pd.DataFrame, depth: str) -> Ints:
    """Rows of the price list that price opening the machine to a depth, by component or action."""
    names = quotes[["component", "action"]].astype(str).apply(lambda text: text.str.strip().str.lower())
    plain = names.apply(lambda text: text.str.replace(r"[\s-]+", "_", regex=True))
    return np.flatnonzero((plain == depth).any(axis=1).to_numpy())
