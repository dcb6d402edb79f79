"""What an engine that lies open still costs and when it is finished, in the futures of the plan.

Open lines are priced from the same quotations as the plan; of the parts that are laid open and not yet
examined a share is defective, drawn anew after each finding.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from models.case.hidden import hidden_hours, hidden_work
from models.case.opening_scope import DROPPED, OPEN
from models.futures.hidden_rates import Effects, share_draws
from models.futures.simulation import Floats, Simulation, price_factor
from models.plan.jobs import fits_a_spare, kind_of_action

RANGE = (0.1, 0.5, 0.8, 0.9)
MONTH_D = 30.44
"""Days of a month on average: 365.2425 / 12. [d]"""


@dataclass(frozen=True)
class Pace:
    """How fast the work goes.

    Attributes
    ----------
    hours_a_day : hours of work done in a day. [h/d]
    spread : standard deviation of its logarithm. [1]
    source : where the figure is from.
    """

    hours_a_day: float
    spread: float
    source: str


@dataclass(frozen=True)
class ToFinish:
    """What is still ahead of an opening.

    Attributes
    ----------
    lines : the scope's lines with ``price`` (of the open and done ones, middle of the futures) [money],
        ``hours`` [h] and ``unpriced``.
    hidden : component, parts (not yet examined), found (mean number still to be found), money (mean).
    cost, hidden_cost, hours : by probability of ``RANGE``: what is enough, for all that is open and for what
        is still hidden alone. [money], [money], [h]
    finish : by probability of ``RANGE``: the day by which it is finished.
    unpriced : component, reason.
    """

    lines: pd.DataFrame
    hidden: pd.DataFrame
    cost: dict[float, float]
    hidden_cost: dict[float, float]
    hours: dict[float, float]
    finish: dict[float, pd.Timestamp]
    unpriced: pd.DataFrame


def as_seen(
    simulation: Simulation,
    findings: pd.DataFrame,
    seen: Mapping[str, tuple[float, float]],
    ahead: pd.DataFrame,
    effects: Effects,
) -> Simulation:
    """The same futures, the shares of hidden defects drawn anew from what an opening showed so far.

    Parameters
    ----------
    findings : earlier tear-downs with their circumstances, this one left out.
    seen : parts examined and defective, by component.
    ahead, effects : circumstances of this one, and what they do (:mod:`models.futures.hidden_rates`).
    """
    names = tuple(sorted({*simulation.components, *seen}))
    assumed = simulation.assumptions
    shares = share_draws(findings, names, ahead, effects, assumed.draws, assumed.seed, seen=seen)
    return replace(simulation, components=names, defect_share=shares)


def to_finish(
    simulation: Simulation,
    scope: pd.DataFrame,
    laid_open: pd.DataFrame,
    today: pd.Timestamp,
    pace: Pace,
    lead_times: pd.DataFrame,
) -> ToFinish:
    """Cost and day of finish.

    Parameters
    ----------
    simulation : as :func:`as_seen` gives it.
    scope : as :func:`models.case.opening_scope.scope_of_opening` gives it.
    laid_open : component, parts (those not yet examined and not renewed by the scope), points.
    today : day on which it is told.
    lead_times : component, action, months: until what a line needs can be had.

    Notes
    -----
    A day of finish is the later of two: all hours that are open, at the pace of that future; and the last
    thing to arrive. What is not ordered yet is ordered today.
    """
    lines, prices, hours, unpriced = _priced(simulation, scope, today)
    hidden = hidden_work(simulation, laid_open, today)
    is_open = (lines["state"] == OPEN).to_numpy()
    cost = prices[:, is_open].sum(axis=1) + hidden.total
    work = float(hours[is_open].sum()) + hidden_hours(simulation, laid_open)
    speed = pace.hours_a_day * np.exp(pace.spread * _normal(simulation, "pace"))
    days = np.maximum(work / speed, _wait(lines[is_open], lead_times, today))
    of_hidden = _hidden_rows(laid_open, hidden.lines, hidden.draws)
    finish = {p: today + pd.Timedelta(days=float(np.ceil(np.quantile(days, p)))) for p in RANGE}
    return ToFinish(
        lines=lines,
        hidden=of_hidden,
        cost=_quantiles(cost),
        hidden_cost=_quantiles(hidden.total),
        hours=_quantiles(work),
        finish=finish,
        unpriced=pd.concat([unpriced, hidden.unpriced], ignore_index=True).drop_duplicates(ignore_index=True),
    )


def _priced(
    simulation: Simulation, scope: pd.DataFrame, today: pd.Timestamp
) -> tuple[pd.DataFrame, Floats, Floats, pd.DataFrame]:
    """Lines with their price and hours, the price of each in each future, and what has none."""
    quotes = simulation.quotes
    rows = np.array(
        [_quote_of(quotes, *line) for line in zip(scope["component"], scope["action"], strict=True)],
        dtype=int,
    )
    parts = scope["parts"].fillna(1.0).to_numpy(float)
    stated, own_hours = (scope[name].to_numpy(float) for name in ("cost", "labor_hours"))
    draws = np.zeros((simulation.draws, len(scope)))
    hours = np.nan_to_num(own_hours)
    listed = quotes.iloc[rows[rows >= 0]]
    factor = price_factor(simulation, pd.to_datetime(listed["price_date"]), today)
    known = rows >= 0
    cost = listed["cost"].to_numpy(float) * parts[known]
    draws[:, known] = cost * simulation.quote_factor[:, rows[known]] * factor
    from_list = listed["labor_hours"].fillna(0.0).to_numpy(float) * parts[known]
    hours[known] = np.where(np.isnan(own_hours[known]), from_list, own_hours[known])
    draws = np.where(np.isnan(stated), draws, np.nan_to_num(stated))  # a quoted or paid price is what it is
    missing = np.isnan(stated) & ~known & (scope["state"] != DROPPED).to_numpy()
    lines = scope.assign(price=np.median(draws, axis=0) if len(scope) else [], hours=hours, unpriced=missing)
    lines["price"] = lines["price"].mask(missing)
    reason = "no price of “" + scope["action"].astype(str) + "” is on record"
    unpriced = pd.DataFrame({"component": scope["component"], "reason": reason})[missing]
    return lines, draws, hours, unpriced.drop_duplicates(ignore_index=True)


def _quote_of(quotes: pd.DataFrame, component: object, action: object) -> int:
    """Row of the price list for a line: the same words, else the same kind of work; a repair that has no
    price of its own costs what machining does, or at most a renewal. -1: none."""
    names = quotes["component"].astype(str).str.strip().str.lower().to_numpy()
    own = np.flatnonzero(names == str(component).strip().lower())
    actions = [str(quotes["action"].iloc[row]).strip().lower() for row in own]
    wanted = str(action).strip().lower()
    if wanted in actions:
        return int(own[actions.index(wanted)])
    kinds = [kind_of_action(text) for text in actions]
    kind = kind_of_action(wanted)
    for other in (kind, "machined", "renewed") if kind == "other" else (kind,):
        if other in kinds and other != "other":
            return int(own[kinds.index(other)])
    return -1


def _wait(lines: pd.DataFrame, lead_times: pd.DataFrame, today: pd.Timestamp) -> float:
    """Days until the last thing arrives that an open line needs. [d]"""
    last = 0.0
    for component, action, ordered in zip(lines["component"], lines["action"], lines["ordered"], strict=True):
        months = months_for(lead_times, component, action)
        begun = today if pd.isna(ordered) else ordered
        arrives = begun + pd.Timedelta(days=MONTH_D * months)
        last = max(last, float((arrives - today).days))
    return last


def months_for(lead_times: pd.DataFrame, component: object, action: object) -> float:
    """Longest time until what a line needs can be had; 0 where nothing is on record. [months]"""
    if fits_a_spare(action):
        return 0.0  # it lies on the rack
    plain = lead_times["component"].astype(str).str.strip().str.lower()
    acts = lead_times["action"].astype(str).str.strip().str.lower()
    fits = (plain == str(component).strip().lower()) & acts.isin(["", str(action).strip().lower()])
    return float(lead_times.loc[fits, "months"].max()) if fits.any() else 0.0


def _hidden_rows(laid_open: pd.DataFrame, lines: pd.DataFrame, draws: Floats) -> pd.DataFrame:
    told = lines.set_index("component")["parts"].rename("found")
    money = pd.Series(draws.mean(axis=0), index=lines["component"], name="money", dtype=float)
    rows = laid_open[laid_open["parts"] > 0][["component", "parts"]].set_index("component")
    return rows.join(told).join(money).reset_index()


def _quantiles(draws: Floats) -> dict[float, float]:
    return {p: float(np.quantile(draws, p)) for p in RANGE}


def _normal(simulation: Simulation, name: str) -> Floats:
    seed = [simulation.assumptions.seed, *name.encode()]
    return np.random.default_rng(seed).standard_normal(simulation.draws)
