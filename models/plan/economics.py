"""When renewing costs least per mile: age replacement, from the stored distribution of a new part's life.

The plan keeps to the accepted risk; this tells beside it whether money alone would renew sooner or later.
"""

import numpy as np
import pandas as pd

from models.distribution import chance_by
from models.plan.problem import Floats
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
