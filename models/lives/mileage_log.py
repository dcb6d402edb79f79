"""Odometer of a vehicle on a day, from its log: many vehicles at once."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_APART = 1_000_000.0
"""Days between two vehicles on the one axis on which all logs are interpolated together."""


def days(dates: pd.Series) -> Floats:
    """Days since 1970-01-01 [d], NaN where the date is missing."""
    day = dates.to_numpy().astype("datetime64[D]")
    return np.where(np.isnat(day), np.nan, day.astype(np.int64).astype(float))


@dataclass(frozen=True)
class MileageLogs:
    """Logs of v vehicles laid end to end.

    Attributes
    ----------
    axis, odometer : shape (entries,). Vehicle number times a large stride plus the day; miles.
    first_day, last_day, first, last : shape (v,). Day and odometer of the log's ends; NaN without a log.
    """

    axis: Floats
    odometer: Floats
    first_day: Floats
    last_day: Floats
    first: Floats
    last: Floats

    def at(self, vehicle: Ints, day: Floats) -> Floats:
        """Odometer of each vehicle on each day, interpolated; held at the log's ends; NaN without a log.
        [mi]"""
        if len(self.axis) == 0:
            return np.full(np.broadcast_shapes(vehicle.shape, day.shape), np.nan)
        inside = np.clip(day, self.first_day[vehicle], self.last_day[vehicle])
        return np.interp(vehicle * _APART + inside, self.axis, self.odometer)


def mileage_logs(mileage: pd.DataFrame, vehicles: pd.Index) -> MileageLogs:
    """Logs of the named vehicles.

    Parameters
    ----------
    mileage : vehicle, date, odometer [mi]; rows without an odometer are left out.
    vehicles : names; their order numbers them.
    """
    code = vehicles.get_indexer(pd.Index(mileage["vehicle"]))
    day, odometer = days(mileage["date"]), mileage["odometer"].to_numpy(float)
    use = (code >= 0) & np.isfinite(day) & np.isfinite(odometer)
    code, day, odometer = code[use].astype(np.int64), day[use], odometer[use]
    order = np.lexsort((odometer, day, code))
    code, day, odometer = code[order], day[order], odometer[order]
    n = len(vehicles)
    ends = np.full((4, n), np.nan)
    first = np.flatnonzero(np.diff(code, prepend=-1))
    last = np.append(first[1:], len(code)) - 1
    if len(code):
        ends[:, code[first]] = np.stack([day[first], day[last], odometer[first], odometer[last]])
    return MileageLogs(code * _APART + day, odometer, *ends)
