"""When the remaining miles will have been run."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtri

from models.forecast.worked import Worked
from models.running.ahead import counted_since, dates_with_spread, usage_ahead, usage_plan

MONTHS_AHEAD = 12 * 60
"""Usage is carried on this far; a date beyond it is left empty."""
DATED = (0.1, 0.5, 0.9)
"""Probabilities of the quantiles that get a date."""


def dates_of(worked: Worked, usage: pd.DataFrame, mileage: pd.DataFrame) -> NDArray[np.datetime64]:
    """Dates of the quantiles ``DATED`` of the remaining miles, shape (f, 3), datetime64[us]; NaT where none.

    Parameters
    ----------
    usage, mileage : tables in normalised form (``ingest.schema``).
    """
    table, vehicle = worked.table, worked.table.scale.vehicle[worked.point]
    vehicles, first = np.unique(vehicle, return_index=True)
    names, point = table.scale.vehicles[vehicles], worked.point[first]
    days = np.floor(table.as_of_day[point]).astype("datetime64[D]").astype("datetime64[us]")
    as_of, odometer = pd.Series(days, index=names), pd.Series(table.as_of_odometer[point], index=names)
    since = counted_since(as_of, odometer, mileage)
    ahead = usage_ahead(usage_plan(usage, mileage, since, MONTHS_AHEAD), since)
    miles = np.stack([worked.quantile(probability) for probability in DATED], axis=1)
    dates = dates_with_spread(ahead, table.scale.vehicles.to_numpy()[vehicle], miles, ndtri(DATED))
    on_record = days[np.searchsorted(vehicles, vehicle)]
    return np.where(dates < on_record[:, None], on_record[:, None], dates)
