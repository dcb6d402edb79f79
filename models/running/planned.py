"""Miles of the months ahead: planned where a plan is given, else from the log or the mean planned year."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.running.seasons import STRIDE

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


SOURCES = ["planned", "from log", "as planned before", "unknown"]
"""Where the miles of a month ahead come from."""


def months_ahead(
    usage: pd.DataFrame, row: Ints, ahead: Ints, from_log: Floats, spread: Floats
) -> tuple[Floats, Floats, Floats, Ints]:
    """Miles of each month ahead: as planned, else as the log says, else as in the mean planned year.

    Parameters
    ----------
    usage : month (any day of it), miles_planned, miles_sd [mi].
    row : shape of usage's rows. Row of the vehicle in the result; -1: left out.
    ahead : shape (n, months). Months in a row, counted from January 1970.
    from_log : shape (n, months). Miles that the log says; NaN where it says none. [mi]
    spread : shape (n,). Spread of the miles as a share of them, where the plan states none. [1]

    Returns
    -------
    Miles, their spread, the part of it that all months of a calendar year share [mi], and the place of their
    source in ``SOURCES``; each of shape (n, months).

    Notes
    -----
    A spread that the plan states for a month is that month's own: months so planned deviate independently,
    and the variance of their sum is the sum of their variances. The spread learned from the log is that of
    whole seasons, good ones and bad ones: the months of a year share it.
    """
    month = usage["month"].to_numpy().astype("datetime64[M]").astype(np.int64)
    value = usage["miles_planned"].to_numpy(float)
    value_sd = usage["miles_sd"].to_numpy(float) if "miles_sd" in usage else np.full(len(usage), np.nan)
    known = (row >= 0) & np.isfinite(value)
    row, month, value, value_sd = row[known], month[known], value[known], value_sd[known]
    column = month - ahead[row, 0]
    inside = (column >= 0) & (column < ahead.shape[1])
    cell = row[inside], column[inside]
    planned, planned_sd = np.zeros(ahead.shape), np.zeros(ahead.shape)
    np.add.at(planned, cell, value[inside])
    np.add.at(planned_sd, cell, value_sd[inside])
    planned_years = np.unique(row * STRIDE + month // 12)
    in_plan = np.isin(np.arange(len(ahead))[:, None] * STRIDE + ahead // 12, planned_years)
    years = np.bincount(planned_years // STRIDE, minlength=len(ahead))[:, None]
    total, mean = np.zeros((len(ahead), 12)), np.full((len(ahead), 12), np.nan)
    np.add.at(total, (row, month % 12), value)
    np.divide(total, years, out=mean, where=years > 0)
    mean_year = np.take_along_axis(mean, ahead % 12, axis=1)
    logged = np.isfinite(from_log)
    miles = np.where(in_plan, planned, np.where(logged, from_log, mean_year))
    stated = in_plan & np.isfinite(planned_sd)
    sd = np.where(stated, planned_sd, miles * spread[:, None])
    sd = np.where(miles == 0, 0.0, sd)  # no running planned: nothing that could come out otherwise
    season_sd = np.where(stated, 0.0, sd)
    return miles, sd, season_sd, np.select([in_plan, logged, np.isfinite(mean_year)], [0, 1, 2], 3)
