"""Seasons of every vehicle on its odometer: between which miles each calendar year was run."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.lives.record import mileage_logs
from models.lives.table import LifeTable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_SEASONS = 20
"""Seasons of a vehicle that are told apart, the last ones; what was run before counts to the first."""
USUAL_SEASONS = 5
"""Seasons that the usual miles of a season are taken from: older ones had another timetable."""


@dataclass(frozen=True)
class SeasonTable:
    """Seasons of v vehicles, s columns, the last column being the season of as-of for every vehicle.

    Attributes
    ----------
    year : shape (v, s). Calendar year of each season.
    edge : shape (v, s - 1). Odometer at the turn from each season to the next, non-decreasing. [mi]
    as_of : shape (v,). Odometer at as-of. [mi]
    usual : shape (v,). Miles of a usual season. [mi], > 0
    known : shape (v,). The vehicle has a log and a day of as-of; without them nothing is said of it.
    """

    year: Ints
    edge: Floats
    as_of: Floats
    usual: Floats
    known: NDArray[np.bool_]

    def miles_in(self, vehicle: Ints, began: Floats, until: Floats) -> Floats:
        """Miles of each season between two odometers.

        Parameters
        ----------
        vehicle, began : shape (n,). Row of the vehicle, odometer. [mi]
        until : shape (n, k). Odometer, not before ``began``. [mi]

        Returns
        -------
        Shape (n, k, s). [mi], >= 0
        """
        low = np.concatenate([np.full((len(self.edge), 1), -np.inf), self.edge], axis=1)[vehicle]
        high = np.concatenate([self.edge, np.full((len(self.edge), 1), np.inf)], axis=1)[vehicle]
        start = np.maximum(low, began[:, None])
        return np.asarray(np.maximum(np.minimum(high[:, None], until[:, :, None]) - start[:, None], 0.0))


def season_table(table: LifeTable, mileage: pd.DataFrame, as_of: pd.Timestamp | None = None) -> SeasonTable:
    """Seasons of the vehicles, numbered as ``table.scale.vehicles``.

    Parameters
    ----------
    table : lives of all wear points.
    mileage : vehicle, date, odometer [mi].
    as_of : day up to which the tables are believed; None: all of them.
    """
    scale = table.scale
    if as_of is not None:
        mileage = mileage[mileage["date"] <= as_of]
    logs = mileage_logs(mileage, scale.vehicles)
    v = len(scale.vehicles)
    day, odometer = np.full(v, np.nan), np.full(v, np.nan)
    day[scale.vehicle], odometer[scale.vehicle] = table.as_of_day, table.as_of_odometer
    known = np.isfinite(day) & np.isfinite(odometer) & np.isfinite(logs.first)
    last = np.where(known, day, 0.0).astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64)
    first_log = np.where(known, logs.first_day, 0.0).astype("datetime64[D]").astype("datetime64[Y]")
    longest = int((last - first_log.astype(np.int64)).max(initial=0)) + 1
    back = np.arange(-min(max(longest, 1), MOST_SEASONS) + 1, 1)
    year = last[:, None] + back
    turn = year[:, 1:].astype("datetime64[Y]").astype("datetime64[D]").astype(np.float64)
    vehicle = np.broadcast_to(np.arange(v)[:, None], turn.shape)
    edge = np.where(known[:, None], np.nan_to_num(logs.at(vehicle, turn)), 0.0)
    end = np.where(known, odometer, 0.0)
    return SeasonTable(year + 1970, np.minimum(edge, end[:, None]), end, _usual(edge, end), known)


def _usual(edge: Floats, end: Floats) -> Floats:
    """Mean miles of the last whole seasons that were run; of the season of as-of where there is none."""
    run = np.diff(edge, axis=1)[:, -USUAL_SEASONS:]
    whole = (run > 0).sum(axis=1) if run.shape[1] else np.zeros(len(end), dtype=np.int64)
    mean = run.sum(axis=1) / np.maximum(whole, 1)
    now = end - edge[:, -1] if edge.shape[1] else end
    return np.maximum(np.where(whole > 0, mean, now), 1.0)
