"""The public forecast table: one row per wear point, values in the wear point's own unit."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.forecast.dates import DATED
from models.forecast.worked import Worked
from models.lives.table import LifeTable
from models.wear.shapes import KINDS

Ints = NDArray[np.int64]

PUBLIC = [
    "point",
    "vehicle",
    "component",
    "position",
    "quantity",
    "unit",
    "as_of",
    "as_of_odometer",
    "last_date",
    "last_value",
    "condemning_limit",
    "rate_per_1000_mi",
    "miles_p05",
    "miles_p10",
    "miles_p50",
    "miles_p90",
    "miles_p95",
    "date_p10",
    "date_p50",
    "date_p90",
    "p_beyond_now",
    "readings_used",
    "method",
    "flags",
]
"""Columns of the public forecast table, in order."""
MILES = {"miles_p05": 0.05, "miles_p10": 0.1, "miles_p50": 0.5, "miles_p90": 0.9, "miles_p95": 0.95}
DATE_COLUMNS = tuple(f"date_p{100 * probability:.0f}" for probability in DATED)
NOT_A_DAY = np.datetime64("NaT", "us")


def public_table(
    points: pd.DataFrame,
    readings: pd.DataFrame,
    table: LifeTable,
    worked: Worked | None,
    dates: NDArray[np.datetime64] | None,
) -> pd.DataFrame:
    """Every wear point with all columns, those of the forecast empty where there is none; flags still empty.

    Parameters
    ----------
    points, readings : tables wear_points and readings in normalised form (``ingest.schema``).
    worked : None if no point can be forecast.
    dates : shape (f, 3), as :func:`models.forecast.dates.dates_of` gives them; None without them.
    """
    size, per_base = len(points), points["per_base"].to_numpy(float)
    last = last_reading(table)
    read = np.flatnonzero(last >= 0)
    day = readings["date"].to_numpy().astype("datetime64[us]")[last[read]]
    value = readings["value"].to_numpy(float)[last[read]]
    public = points[["point", "vehicle", "component", "position", "quantity", "unit"]].reset_index(drop=True)
    public = public.assign(
        as_of=np.floor(table.as_of_day).astype("datetime64[D]").astype("datetime64[us]"),
        as_of_odometer=table.as_of_odometer,
        last_date=_column(size, read, day, NOT_A_DAY),
        last_value=_column(size, read, value, np.nan) * per_base,
        condemning_limit=points["condemning_limit"].to_numpy(float) * per_base,
    )
    if worked is None or dates is None:
        no_dates = dict.fromkeys(DATE_COLUMNS, np.full(size, NOT_A_DAY))
        return public.assign(readings_used=0, method="", **no_dates).reindex(columns=PUBLIC)
    rows = worked.point
    for name, probability in MILES.items():
        public[name] = _column(size, rows, worked.quantile(probability), np.nan)
    for name, dated in zip(DATE_COLUMNS, dates.T, strict=True):
        public[name] = _column(size, rows, dated, NOT_A_DAY)
    rate = worked.wear_now.rate * 1000.0 * per_base[rows]
    return public.assign(
        rate_per_1000_mi=_column(size, rows, rate, np.nan),
        p_beyond_now=_column(size, rows, worked.beyond, np.nan),
        readings_used=_column(size, rows, table.lives.count[worked.life], 0),
        method=_column(size, rows, _methods(worked), ""),
    ).reindex(columns=PUBLIC)


def _column(size: int, rows: Ints, values: NDArray, empty: object) -> NDArray:
    """A column of so many rows: the values at their rows, empty elsewhere."""
    column = np.full(size, empty, dtype=values.dtype)
    column[rows] = values
    return column


def last_reading(table: LifeTable) -> Ints:
    """Row of the readings table of the last reading of each life in service; -1 where there is none."""
    known = table.in_service >= 0
    life = table.in_service[known]
    source = np.where(np.isfinite(table.lives.wear[life]), table.source[life], -1)
    column = np.where(source >= 0, np.arange(source.shape[1]), 0).max(axis=1)
    last = np.full(len(known), -1, dtype=np.int64)
    last[known] = source[np.arange(len(life)), column]
    return last


def _methods(worked: Worked) -> NDArray[np.object_]:
    """One line on how each wear point was forecast, shape (f,)."""
    heaviest = worked.kinds.argmax(axis=1)
    percent = np.round(100 * worked.kinds.max(axis=1)).astype(int)
    lines = [f"pooled wear, {KINDS[kind]} {p} %" for kind, p in zip(heaviest, percent, strict=True)]
    return np.array(lines, dtype=object)
