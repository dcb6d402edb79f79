"""The forecast of every wear point: tables in, frames out."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.value_state import value_states
from models.forecast.dates import dates_of
from models.forecast.flags import flags_of
from models.forecast.frames import frames_of
from models.forecast.public import last_reading, public_table
from models.forecast.worked import work_out
from models.lives.build import build_lives
from models.lives.table import LifeTable
from models.wear.fleet_pool import Sources
from models.wear.known import Learned


@dataclass(frozen=True)
class Forecast:
    """Frames of a forecast run, by name; DEVELOPERS.md lists their columns."""

    frames: dict[str, pd.DataFrame]
    about: dict[str, object]


def make_forecast(
    tables: dict[str, pd.DataFrame],
    as_of: pd.Timestamp | None = None,
    *,
    learned: Learned | None = None,
    stretch: pd.Series | None = None,
    condemned: pd.DataFrame | None = None,
    sources: Sources | None = None,
) -> Forecast:
    """Forecast every wear point.

    Parameters
    ----------
    tables : vehicles, wear_points, mileage, readings, work, usage in normalised form (``ingest.schema``).
    as_of : day up to which the tables are believed; None: all of them, as of the last day of
        each vehicle's mileage log or its last reading, whichever is later.
    learned : what was learned from a sample of all families, where the tables are one of many runs of them
        (:mod:`models.forecast.family_runs`).
    stretch : factor on the intervals by family name, where the track record proves them too narrow or wide.
    condemned : point, date, kind of findings that put a part out whatever its miles.
    sources : what other railways say of their families.

    Returns
    -------
    Forecast : with every wear point in its frame ``forecast``; one that cannot be forecast with its reason
        in ``flags``.
    """
    points, readings = tables["wear_points"], tables["readings"]
    table = build_lives(tables, as_of)
    worked = work_out(table, points["position"], learned=learned, sources=sources, stretch=stretch)
    frames: dict[str, pd.DataFrame] = {}
    dates = None
    if worked is not None:
        frames = frames_of(worked, points, readings)
        dates = dates_of(worked, tables["usage"], tables["mileage"])
    public = public_table(points, readings, table, worked, dates)
    late = _after_the_log(table, readings)
    read = value_states(public["last_value"] / points["per_base"].to_numpy(float), _limits(points))
    public["flags"] = flags_of(public, table.reason, worked, condemned, after_the_log=late, read=read)
    days = table.as_of_day[np.isfinite(table.as_of_day)]
    about: dict[str, object] = {
        "as_of": as_of or (pd.Timestamp(int(days.max()), unit="D") if len(days) else None),
        "model": "pooled wear",
        "points": len(public),
        "forecast": 0 if worked is None else len(worked.point),
    }
    return Forecast(frames | {"forecast": public}, about)


def _limits(points: pd.DataFrame) -> pd.DataFrame:
    """What values of the wear points are held against; condemned at the limit unless it is said otherwise."""
    return points.reset_index(drop=True).reindex(
        columns=["new_value", "condemning_limit", "shop_limit", "condemned_when"]
    )


def _after_the_log(table: LifeTable, readings: pd.DataFrame) -> NDArray[np.bool_]:
    """Whether the last reading of each wear point has its miles from the last entry of the mileage log."""
    last = last_reading(table)
    if "odometer_source" not in readings:
        return np.zeros(len(last), dtype=bool)
    late = (readings["odometer_source"] == "last entry").to_numpy(dtype=bool)
    return np.asarray((last >= 0) & np.append(late, False)[last])
