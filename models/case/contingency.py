"""What a window may come to: planned work, parts worn faster than forecast, hidden defects, prices, all in
the same futures.

The amount at 80 % is the 80 % quantile of the whole, never a sum of 80 % figures; its lines are the parts of
that whole, so they add up.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from models.case.cost import LINE_COLUMNS, ScopeCost, kinds_of_work, points_called_by, points_of, scope_cost
from models.case.hidden import BEYOND_TRUING, hidden_hours, hidden_work, parts_laid_open
from models.case.money import split_quantile
from models.futures.simulation import Simulation, price_factor
from models.plan.chances import miles_by_date
from models.plan.jobs import DEPTHS, with_fitted
from models.plan.problem import Bools, Floats, Ints

CONFIDENCE = (0.5, 0.8)

Renewals = Mapping[str, Sequence[pd.Timestamp]]

AMOUNT_DIGITS = 6
"""Decimals to which amounts and hours are stated: further ones differ from processor to processor."""


@dataclass(frozen=True)
class Contingency:
    """What one window may come to.

    Attributes
    ----------
    lines : vehicle, window, label, kind (planned / opening / worn / hidden), component, action, parts (mean),
        points, mean, at50, at80 [money]: the columns at50 and at80 add up to the whole's.
    amounts : vehicle, window, label, opens, planned_today, mean, p10, p50, p80, p90 [money on the opening
        day], hours_planned, hours_p50, hours_p80 [h].
    unpriced : vehicle, window, component, reason: what is in no amount.
    draws : shape (n,). Amount in each future. [money]
    cost : the lines with the draws of each.
    """

    lines: pd.DataFrame
    amounts: pd.DataFrame
    unpriced: pd.DataFrame
    draws: Floats
    cost: ScopeCost


_MONEY = ("planned_today", "mean", "p10", "p50", "p80", "p90", "hours_planned", "hours_p50", "hours_p80")


def nothing_to_pay() -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Amounts, lines and what has no price of a plan without work: no rows, columns of ``Contingency``."""
    where = {"vehicle": "object", "window": "int64", "label": "object"}
    amounts = dict.fromkeys(_MONEY, "float64") | {"opens": "datetime64[us]"} | where
    lines = dict.fromkeys(LINE_COLUMNS, "object") | {"parts": "float64"}
    lines |= {"mean": "float64", "at50": "float64", "at80": "float64"} | where
    unpriced = {"component": "object", "reason": "object", "vehicle": "object", "window": "int64"}
    amounts_of, lines_of, unpriced_of = (
        pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in types.items()})
        for types in (amounts, lines, unpriced)
    )
    return amounts_of, lines_of, unpriced_of


def contingency_of(
    simulation: Simulation,
    jobs: pd.DataFrame,
    openings: pd.DataFrame,
    scope: pd.DataFrame,
    findings: pd.DataFrame,
    renewals: Renewals,
    openings_ahead: pd.DataFrame,
    end: pd.Timestamp,
    *,
    beyond_truing: float = BEYOND_TRUING,
) -> Contingency:
    """Amount of one window of one vehicle, with its range.

    Parameters
    ----------
    simulation : the futures, the vehicle in it.
    jobs, openings : all jobs of the vehicle and its openings, as ``plan.jobs`` gives them.
    scope : lines of one window, columns ``plan.scope.LINE_COLUMNS``.
    findings : earlier tear-downs: vehicle, component, examined, defective.
    renewals : of the whole plan: days on which each wear point is renewed, in order.
    openings_ahead : windows that the plan uses: opens, depth. end : day up to which every part must last.
    beyond_truing : as :func:`models.case.hidden.hidden_work` takes it. [1]

    Notes
    -----
    Worn: in each future the parts laid open are measured, and one that would not last until its own next
    renewal in the plan joins the scope. Prices: quotation of each job and rise of prices of that future.
    """
    opens = pd.Timestamp(scope["opens"].iloc[0])
    where = {name: scope[name].iloc[0] for name in ("vehicle", "window", "label")}
    own_findings = findings[findings["vehicle"] == where["vehicle"]]
    chosen = with_fitted(jobs, scope).loc[lambda every: every["job"].isin(scope["job"])]
    laid_open = parts_laid_open(simulation.components, jobs, chosen, own_findings)
    hidden = hidden_work(simulation, laid_open, opens, beyond_truing)
    cost = scope_cost(simulation, chosen, openings, opens, hidden)
    worn, times = _worn(simulation, jobs, chosen, opens, renewals, _again(openings_ahead, opens, end))
    filled = [frame for frame in (cost.lines, worn.lines) if len(frame)]
    lines = pd.concat(filled or [cost.lines], ignore_index=True)
    draws = np.concatenate([cost.draws, worn.draws], axis=1)
    hours = _hours(jobs, chosen, openings, hidden_hours(simulation, laid_open, beyond_truing), times)
    missing = pd.concat([cost.unpriced, worn.unpriced], ignore_index=True).drop_duplicates()
    today = float(np.nansum(scope["cost"]) + _opening_today(openings, chosen))
    return Contingency(
        lines=_stated(_split(lines, draws)).assign(**where),
        amounts=_stated(_amounts(draws.sum(axis=1), hours, today)).assign(opens=opens, **where),
        unpriced=missing.assign(vehicle=where["vehicle"], window=where["window"]),
        draws=draws.sum(axis=1),
        cost=ScopeCost(lines, draws, missing),
    )


def worn_before(
    simulation: Simulation,
    points: Ints,
    opens: pd.Timestamp,
    renewals: Renewals,
    until: Sequence[pd.Timestamp],
) -> Bools:
    """Futures in which parts in service at an opening do not last until a given day.

    Parameters
    ----------
    points : rows of ``simulation.points``.
    opens : day of the opening. renewals : as :func:`contingency_of` takes them.
    until : day until which each must last.

    Returns
    -------
    Shape (n, len(points)). A part at its limit already is among them: it is renewed at the opening at the
    latest.
    """
    out = np.zeros((simulation.draws, len(points)), bool)
    index = simulation.points["vehicle_index"].to_numpy()
    names = simulation.points["point"].to_numpy()
    drawn = max(simulation.next_life.shape[2], 1)
    for column, row in enumerate(points):
        before = [day for day in renewals.get(names[row], ()) if day < opens]
        dates = np.array([before[-1] if before else opens, until[column]], dtype="datetime64[us]")
        run = miles_by_date(simulation, int(index[row]), dates)
        if before:
            life = simulation.next_life[:, row, (len(before) - 1) % drawn]
            out[:, column] = life <= run[:, 1] - run[:, 0]
        else:
            out[:, column] = simulation.remaining[:, row] <= run[:, 1]
    return out


def _again(ahead: pd.DataFrame, opens: pd.Timestamp, end: pd.Timestamp) -> list[pd.Timestamp]:
    """By depth, the day on which the plan opens the machine that deep or deeper again, or the end."""
    later = ahead[(ahead["opens"] > opens) & ahead["depth"].isin(DEPTHS)]
    depth = later["depth"].map(DEPTHS.index)
    days = [later.loc[depth >= d, "opens"] for d in range(len(DEPTHS))]
    return [pd.Timestamp(dates.min()) if len(dates) else end for dates in days]


def _worn(
    simulation: Simulation,
    jobs: pd.DataFrame,
    chosen: pd.DataFrame,
    opens: pd.Timestamp,
    renewals: Renewals,
    again: Sequence[pd.Timestamp],
) -> tuple[ScopeCost, Floats]:
    """Jobs that join the scope because a part laid open would not last, and how often each joins, (n,
    jobs)."""
    depth = max((DEPTHS.index(access) for access in chosen["access"]), default=-1)
    renewed = {point for points in chosen["points"] for point in points}
    names = simulation.points["point"].to_numpy()
    called = points_called_by(jobs, simulation.points)
    reach = np.array([DEPTHS.index(access) for access in jobs["access"]])
    free = (called >= 0) & ~np.isin(names, list(renewed))
    rows = np.flatnonzero(free & (reach[np.maximum(called, 0)] <= depth))
    joins = np.zeros((simulation.draws, len(jobs)), bool)
    until = [again[reach[called[row]]] for row in rows]
    worn = worn_before(simulation, rows, opens, renewals, until)
    for column, row in enumerate(rows):
        joins[:, called[row]] |= worn[:, column]
    used = np.flatnonzero(joins.any(axis=0) & jobs["cost"].notna().to_numpy())
    joining = jobs.iloc[used]
    price = _prices(simulation, joining, opens)
    lines, columns = [], []
    for component, action, index in kinds_of_work(joining):
        columns.append((joins[:, used[index]] * price[:, index]).sum(axis=1))
        parts = float((joins[:, used[index]] * joining["parts"].to_numpy()[index]).sum(axis=1).mean())
        points = points_of(joining.iloc[index])
        lines.append((f"worn | {component} | {action}", "worn", component, action, parts, points))
    unpriced = jobs.iloc[np.flatnonzero(joins.any(axis=0) & jobs["cost"].isna().to_numpy())]
    missing = unpriced[["component"]].drop_duplicates().assign(reason="no price of its renewal is on record")
    draws = np.stack(columns, axis=1) if columns else np.empty((simulation.draws, 0))
    return ScopeCost(pd.DataFrame(lines, columns=LINE_COLUMNS), draws, missing), joins.astype(float)


def _prices(simulation: Simulation, jobs: pd.DataFrame, opens: pd.Timestamp) -> Floats:
    quote = jobs["quote"].to_numpy(np.int64)
    factor = simulation.quote_factor[:, quote] * price_factor(
        simulation, pd.to_datetime(jobs["price_date"]), opens
    )
    return np.asarray(factor * jobs["cost"].to_numpy(float)[None, :], dtype=np.float64)


def _hours(
    jobs: pd.DataFrame, chosen: pd.DataFrame, openings: pd.DataFrame, found: Floats, times: Floats
) -> Floats:
    """Hours of work in each future, and first those planned, shape (n + 1,); of the draws of the money."""
    depth = max((DEPTHS.index(access) for access in chosen["access"]), default=0)
    planned = float(chosen["labor_hours"].fillna(0.0).sum() + openings["labor_hours"].iloc[depth])
    worn = times @ jobs["labor_hours"].fillna(0.0).to_numpy(float)
    return np.concatenate([[planned], planned + worn + found])


def _opening_today(openings: pd.DataFrame, chosen: pd.DataFrame) -> float:
    depth = max((DEPTHS.index(access) for access in chosen["access"]), default=0)
    return float(openings["cost"].iloc[depth])


def _split(lines: pd.DataFrame, draws: Floats) -> pd.DataFrame:
    out = lines.assign(mean=draws.mean(axis=0))
    for probability in CONFIDENCE:
        _, parts = split_quantile(draws, probability)
        out[f"at{100 * probability:.0f}"] = parts
    return out


def _stated(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame with its money and hours to ``AMOUNT_DIGITS``."""
    return frame.round(dict.fromkeys(frame.select_dtypes("float"), AMOUNT_DIGITS))


def _amounts(total: Floats, hours: Floats, today: float) -> pd.DataFrame:
    p10, p50, p80, p90 = np.quantile(total, [0.1, 0.5, 0.8, 0.9])
    h50, h80 = np.quantile(hours[1:], [0.5, 0.8])
    return pd.DataFrame(
        {
            "planned_today": [today],
            "mean": [float(total.mean())],
            "p10": [p10],
            "p50": [p50],
            "p80": [p80],
            "p90": [p90],
            "hours_planned": [hours[0]],
            "hours_p50": [h50],
            "hours_p80": [h80],
        }
    )
