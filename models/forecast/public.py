"""The public forecast table: one row per wear point, values in the wear point's own unit."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.forecast.dates import DATED, dates_of
from models.forecast.from_lifetimes import FromLifetimes
from models.forecast.worked import Worked
from models.lives.table import LifeTable
from models.wear.shapes import KINDS

Floats = NDArray[np.float64]
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
    unread: FromLifetimes,
    tables: dict[str, pd.DataFrame],
) -> pd.DataFrame:
    """Every wear point with all columns, those of the forecast empty where there is none; flags still empty.

    Parameters
    ----------
    points, readings : tables wear_points and readings in normalised form (``ingest.schema``).
    worked : the forecast by the wear model; None if it can forecast no point.
    unread : the wear points forecast without readings.
    tables : usage and mileage, which date the miles.
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
    said = _said(worked, unread)
    rows = said.point
    dates = np.empty((0, len(DATED)), dtype="datetime64[us]")
    if len(rows):
        dated = np.stack([said.miles[probability] for probability in DATED], axis=1)
        dates = dates_of(table, rows, dated, tables["usage"], tables["mileage"])
    for name, probability in MILES.items():
        public[name] = _column(size, rows, said.miles[probability], np.nan)
    for name, column in zip(DATE_COLUMNS, dates.T, strict=True):
        public[name] = _column(size, rows, column, NOT_A_DAY)
    return public.assign(
        rate_per_1000_mi=_column(size, rows, said.rate * 1000.0 * per_base[rows], np.nan),
        p_beyond_now=_column(size, rows, said.beyond, np.nan),
        readings_used=_column(size, rows, said.readings, 0),
        method=_column(size, rows, said.method, ""),
    ).reindex(columns=PUBLIC)


@dataclass(frozen=True)
class _Said:
    """What is said of f wear points: rows, miles by probability, present rate a mile, chance to be beyond the
    limit, readings that count, method."""

    point: Ints
    miles: dict[float, Floats]
    rate: Floats
    beyond: Floats
    readings: Ints
    method: NDArray[np.object_]


def _said(worked: Worked | None, unread: FromLifetimes) -> _Said:
    """What the wear model says, then what is said without readings."""
    count = len(unread.point)
    asked = {*MILES.values(), *DATED}
    said = _Said(
        point=unread.point,
        miles={probability: unread.quantile(probability) for probability in asked},
        rate=np.full(count, np.nan),
        beyond=np.zeros(count),
        readings=np.zeros(count, dtype=np.int64),
        method=np.array(unread.method, dtype=object),
    )
    if worked is None:
        return said
    return _Said(
        point=np.concatenate([worked.point, said.point]),
        miles={p: np.concatenate([worked.quantile(p), said.miles[p]]) for p in asked},
        rate=np.concatenate([worked.wear_now.median_rate, said.rate]),
        beyond=np.concatenate([worked.beyond, said.beyond]),
        readings=np.concatenate([worked.table.lives.count[worked.life], said.readings]),
        method=np.concatenate([_methods(worked), said.method]),
    )


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
    together = worked.combination
    for row, name in zip(together.asked, together.name, strict=True):
        lines[row] += f"; {name} counts {100 * together.weight[row]:.0f} %"
    return np.array(lines, dtype=object)
