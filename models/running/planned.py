"""What the plan says of the months ahead: the miles of planned years, and their mean year for those after."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.running.seasons import STRIDE

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Planned:
    """Months ahead of n vehicles, shape (n, months).

    Attributes
    ----------
    miles, miles_sd : as planned, 0 in a month without a row; the spread NaN where none is stated. [mi]
    in_plan : the month is of a planned year.
    mean_year : mean of all planned years in that month of the year; NaN where nothing is planned. [mi]
    """

    miles: Floats
    miles_sd: Floats
    in_plan: NDArray[np.bool_]
    mean_year: Floats


def planned_months(usage: pd.DataFrame, row: Ints, ahead: Ints) -> Planned:
    """The plan for the months ahead.

    Parameters
    ----------
    usage : month (any day of it), miles_planned, miles_sd [mi].
    row : shape of usage's rows. Row of the vehicle in the result; -1: left out.
    ahead : shape (n, months). Months in a row, counted from January 1970.
    """
    month = usage["month"].to_numpy().astype("datetime64[M]").astype(np.int64)
    value = usage["miles_planned"].to_numpy(float)
    value_sd = usage["miles_sd"].to_numpy(float) if "miles_sd" in usage else np.full(len(usage), np.nan)
    known = (row >= 0) & np.isfinite(value)
    row, month, value, value_sd = row[known], month[known], value[known], value_sd[known]
    column = month - ahead[row, 0]
    inside = (column >= 0) & (column < ahead.shape[1])
    cell = row[inside], column[inside]
    miles, miles_sd = np.zeros(ahead.shape), np.zeros(ahead.shape)
    np.add.at(miles, cell, value[inside])
    np.add.at(miles_sd, cell, value_sd[inside])
    planned_years = np.unique(row * STRIDE + month // 12)
    in_plan = np.isin(np.arange(len(ahead))[:, None] * STRIDE + ahead // 12, planned_years)
    years = np.bincount(planned_years // STRIDE, minlength=len(ahead))[:, None]
    total, mean = np.zeros((len(ahead), 12)), np.full((len(ahead), 12), np.nan)
    np.add.at(total, (row, month % 12), value)
    np.divide(total, years, out=mean, where=years > 0)
    return Planned(miles, miles_sd, in_plan, np.take_along_axis(mean, ahead % 12, axis=1))
