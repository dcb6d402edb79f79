"""What lives cost: those that a plan may hold, and a mile when parts are renewed at an age.

Age replacement tells, beside a plan that keeps to the accepted risk, whether money alone would renew sooner
or later; it goes by the stored distribution of a new part's life.
"""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from models.distribution import chance_by
from models.plan.chances import Lives
from models.plan.problem import Bools, Floats, Ints
from models.plan.rules import Rules

STEPS = 400
"""Ages tried, evenly spaced up to the last stored quantile."""


def cost_per_mile(age: Floats, survival: Floats, planned: float, unplanned: float) -> Floats:
    """Long-run cost of a mile when a part is renewed at an age, or at its limit if that comes first.

    Parameters
    ----------
    age : shape (m,), increasing from 0. [mi]
    survival : shape (..., m). Chance that a new part has not reached its limit by that age. [1]
    planned, unplanned : cost of a renewal at that age, and of one at the limit in mid-season. [money]

    Returns
    -------
    Shape (..., m). [money/mi]; inf at age 0.

    Notes
    -----
    Renewal-reward: (planned R(T) + unplanned (1 - R(T))) / integral of R from 0 to T, the integral by the
    trapezoidal rule. R. E. Barlow and L. C. Hunter, *Optimum preventive maintenance policies*, Operations
    Research 8 (1960) 90-100. Checked in ``tests/published/test_age_replacement.py``.
    """
    step = np.diff(age)
    area = np.cumsum((survival[..., 1:] + survival[..., :-1]) / 2 * step, axis=-1)
    run = np.concatenate([np.zeros((*survival.shape[:-1], 1)), area], axis=-1)
    cost = planned * survival + unplanned * (1.0 - survival)
    out = np.full(run.shape, np.inf)
    np.divide(cost, run, out=out, where=run > 0)
    return out


def cheapest_age(new_life: Floats, planned: Floats, unplanned: Floats) -> Floats:
    """Age at which renewing costs least per mile.

    Parameters
    ----------
    new_life : shape (n, 33). Stored quantiles of a new part's life. [mi]
    planned, unplanned : shape (n,). [money]

    Returns
    -------
    Shape (n,). [mi]; inf where running to the limit is cheapest, or the price is not known.
    """
    out = np.full(len(new_life), np.inf)
    for row, quantiles in enumerate(new_life):
        if not np.isfinite(planned[row]) or quantiles[-1] <= 0:
            continue
        age = np.linspace(0.0, quantiles[-1], STEPS + 1)
        rate = cost_per_mile(age, 1.0 - chance_by(quantiles[None, :], age)[0], planned[row], unplanned[row])
        best = int(np.argmin(rate))
        out[row] = age[best] if best < STEPS else np.inf
    return out


def cheapest_ages(distribution: pd.DataFrame, jobs: pd.DataFrame, rules: Rules) -> pd.Series:
    """Miles at which renewing each wear point costs least per mile, a stop in mid-season weighed in. [mi]"""
    priced = jobs.assign(of_part=jobs["price"] / jobs["parts"]).explode("points").dropna(subset=["points"])
    of_part = priced.groupby("points")["of_part"].min()
    known = distribution[distribution["point"].isin(of_part.index)]
    lives = np.stack([np.asarray(row, dtype=np.float64) for row in known["new_life"]])
    planned = of_part.loc[known["point"]].to_numpy(float)
    return pd.Series(cheapest_age(lives, planned, planned + rules.stop), index=known["point"].to_numpy())


def unit_lives(
    lives: Lives, units: Sequence[Ints], worth: Floats, most: Floats, rules: Rules
) -> tuple[Bools, Floats, Floats]:
    """Lives of units of wear points: within the accepted risk, and what they cost, shape (U, W + 2, W + 2);
    what is in service is worth now, shape (U,). [money]

    Parameters
    ----------
    units : rows of the wear points of each. worth : money that a new life of each is worth.
    most : shape (p,). Chance of a life that is accepted (``Rules.risk_of``), with what rounding loses. [1]
    """
    single = lives.chance if lives.of_one is None else lives.of_one
    within = (single <= most[:, None, None]) & np.isfinite(single)
    allowed = np.stack([within[rows].all(axis=0) for rows in units])
    cost = np.stack([rules.stop * _stops(lives, rows) for rows in units])
    share = np.stack([_share_left(lives, rows) for rows in units])
    kept = rules.value_kept * worth
    cost[:, :, -1] -= (kept * rules.worth(lives.years[[-1]])[0])[:, None] * share[:, :, -1]
    return allowed, cost, kept * share[:, 0, 0]


def _stops(lives: Lives, rows: Ints) -> Floats:
    """Stops to be expected between the nodes: tires that are scrap together stop the engine once."""
    if "turnings_left" not in lives.points:
        return np.asarray(np.nansum(lives.chance[rows], axis=0))
    unit = lives.points.iloc[rows]
    together = ((unit["role"] == "metal") & unit["turnings_left"].notna()).to_numpy()
    first = np.ones(len(rows), bool)
    first[together] = ~unit[together].duplicated(["vehicle", "matched_set"]).to_numpy()
    return np.asarray(np.nansum(lives.chance[rows[first]], axis=0))


def _share_left(lives: Lives, rows: Ints) -> Floats:
    """Share of a new life left at the later node, that of the wear point with the least."""
    share = lives.unused[rows] / lives.new_life[rows][:, None, None]
    return np.asarray(np.clip(np.nan_to_num(share, nan=0.0), 0.0, 1.0).min(axis=0))
