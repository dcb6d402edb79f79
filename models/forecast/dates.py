"""When the remaining miles will have been run."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtri

from models.lives.table import LifeTable
from models.running.ahead import counted_since, dates_with_spread, usage_ahead, usage_plan

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MONTHS_AHEAD = 12 * 60
"""Usage is carried on this far; a date beyond it is left empty."""
DATED = (0.1, 0.5, 0.9)
"""Probabilities of the quantiles that get a date."""


def dates_of(
    table: LifeTable, point: Ints, miles: Floats, usage: pd.DataFrame, mileage: pd.DataFrame
) -> NDArray[np.datetime64]:
    """Dates of the quantiles ``DATED`` of the remaining miles, shape (f, 3), datetime64[us]; NaT where none.

    Parameters
    ----------
    table : lives of all wear points.
    point : shape (f,). Rows of the wear points.
    miles : shape (f, 3). Their remaining miles at ``DATED``. [mi]
    usage, mileage : tables in normalised form (``ingest.schema``).
    """
    vehicle = table.scale.vehicle[point]
    vehicles, first = np.unique(vehicle, return_index=True)
    names, firsts = table.scale.vehicles[vehicles], point[first]
    days = np.floor(table.as_of_day[firsts]).astype("datetime64[D]").astype("datetime64[us]")
    as_of, odometer = pd.Series(days, index=names), pd.Series(table.as_of_odometer[firsts], index=names)
    since = counted_since(as_of, odometer, mileage)
    ahead = usage_ahead(usage_plan(usage, mileage, since, MONTHS_AHEAD), since)
    dates = dates_with_spread(ahead, table.scale.vehicles.to_numpy()[vehicle], miles, ndtri(DATED))
    on_record = days[np.searchsorted(vehicles, vehicle)]
    return np.where(dates < on_record[:, None], on_record[:, None], dates)
