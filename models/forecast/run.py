"""The forecast of every wear point: tables in, frames out."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.distribution import PROBABILITIES
from models.forecast.explain import family_frame, kind_weights_of, method_of
from models.forecast.flags import flags_of
from models.forecast.paths import paths_ahead, reading_checks, wear_now
from models.forecast.recalibrate import stretched_remaining
from models.forecast.worked import Worked
from models.lives.build import LifeTable, build_lives
from models.lives.unrecorded import split_at_unrecorded
from models.running.ahead import dates_with_spread, usage_ahead, usage_plan
from models.wear.fleet_pool import Sources
from models.wear.known import Learned
from models.wear.model import PooledWear
from models.wear.rate_covariates import covariates_of_positions
from models.wear.shapes import KINDS
from models.wear.shared_prior import part_keys, summary_frame

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MONTHS_AHEAD = 12 * 60
"""Usage is carried on this far; a date beyond it is left empty."""
NORMALS = np.array([-1.2815515655446004, 0.0, 1.2815515655446004])  # normal 10, 50, 90 % quantiles
FIFTY = int(np.flatnonzero(PROBABILITIES == 0.5)[0])
NINETY = int(np.flatnonzero(PROBABILITIES == 0.9)[0])
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
    as_of : day up to which the tables are believed; None: the last day of each vehicle's mileage log.
    learned : what a sample of all families taught, where the tables are a run of families out of many
        (:mod:`models.forecast.family_runs`).
    stretch : factor on the intervals by family name, where the track record proves them too narrow or wide.
    condemned : point, date, kind of findings that put a part out whatever its miles.
    sources : what other railways told of their families.

    Returns
    -------
    Forecast : with every wear point in its frame ``forecast``; one that cannot be forecast with its reason
        in ``flags``.
    """
    table, suspected = split_at_unrecorded(build_lives(tables, as_of))
    reason = _reasons(table)
    point = np.flatnonzero(reason == "")
    life = table.in_service[point]
    frames: dict[str, pd.DataFrame] = {}
    public = _public_start(tables, table)
    worked = None
    if len(point):
        positions = covariates_of_positions(tables["wear_points"]["position"]).iloc[table.point]
        known = None if learned is None else learned.of(table.scale.quantity_name)
        told = None if sources is None else sources.tell(part_keys(_parts(tables, table)))
        model = PooledWear(known=known, told=told).fit(
            table.lives, table.scale.quantity, forecast=life, covariates=positions
        )
        remaining, beyond = model.remaining(PROBABILITIES, life)
        factor = _stretch_of(table, point, stretch)
        remaining = stretched_remaining(remaining, remaining[:, FIFTY], factor)
        worked = Worked(
            table, suspected, model, point, life, remaining, beyond, wear_now(model, life), factor
        )
        _fill_public(public, worked, tables)
        frames |= _other_frames(worked, tables)
    public["flags"] = flags_of(public, reason, worked, condemned)
    frames["forecast"] = public[PUBLIC]
    days = table.as_of_day[np.isfinite(table.as_of_day)]
    about: dict[str, object] = {
        "as_of": as_of or (pd.Timestamp(int(days.max()), unit="D") if len(days) else None),
        "model": "pooled wear",
        "points": len(public),
        "forecast": len(point),
    }
    return Forecast(frames, about)


def _parts(tables: dict[str, pd.DataFrame], table: LifeTable) -> pd.DataFrame:
    """component, quantity, base_unit of each family, shape (families,)."""
    first = np.unique(table.scale.family, return_index=True)[1]
    return tables["wear_points"][["component", "quantity", "base_unit"]].iloc[first]


def _stretch_of(table: LifeTable, point: Ints, stretch: pd.Series | None) -> Floats:
    """Factor of each wear point's family, shape (f,)."""
    if stretch is None or stretch.empty:
        return np.ones(len(point))
    names = pd.Series(table.scale.family_name[table.scale.family[point]])
    return names.map(stretch[~stretch.index.duplicated()]).fillna(1.0).to_numpy(float)


def _reasons(table: LifeTable) -> NDArray[np.object_]:
    """Why a wear point cannot be forecast, the state of its readings considered."""
    reason = table.reason.copy()
    count = table.lives.count
    read = np.zeros(len(table.scale.family_name), dtype=np.int64)
    np.add.at(read, table.lives.family, count)
    life = np.maximum(table.in_service, 0)
    known = table.in_service >= 0
    if len(count) == 0:
        reason[reason == ""] = "no reading of this kind of part yet"
        return reason
    none_here = known & (count[life] == 0)
    began_known = table.number[life] > 1
    reason[(reason == "") & (read[table.scale.family] == 0)] = "no reading of this kind of part yet"
    new_at_start = table.began_odometer[life] <= 1.0
    reason[(reason == "") & none_here & ~began_known & ~new_at_start] = "no reading, and no renewal on record"
    return reason


def _public_start(tables: dict[str, pd.DataFrame], table: LifeTable) -> pd.DataFrame:
    points = tables["wear_points"].reset_index(drop=True)
    public = points[["point", "vehicle", "component", "position", "quantity", "unit"]].copy()
    public["as_of"] = _dates(table.as_of_day)
    public["as_of_odometer"] = table.as_of_odometer
    per_base = points["per_base"].to_numpy(float)
    public["condemning_limit"] = points["condemning_limit"].to_numpy(float) * per_base
    last = _last_reading(table)
    readings = tables["readings"]
    day = readings["date"].to_numpy().astype("datetime64[us]")
    value = readings["value"].to_numpy(float)
    has = last >= 0
    public["last_date"] = np.where(
        has, day[np.maximum(last, 0)] if len(day) else np.datetime64("NaT"), np.datetime64("NaT", "us")
    )
    public["last_value"] = (
        np.where(has, value[np.maximum(last, 0)] if len(value) else np.nan, np.nan) * per_base
    )
    for name in PUBLIC:
        if name not in public:
            public[name] = pd.NaT if name.startswith("date_") else np.nan
    public["readings_used"] = 0
    public["method"] = ""
    return public


def _last_reading(table: LifeTable) -> Ints:
    """Row of the readings table of the last reading of each life in service; -1 where there is none."""
    source = np.where(np.isfinite(table.lives.wear), table.source, -1)
    last = np.full(len(table.in_service), -1, dtype=np.int64)
    known = table.in_service >= 0
    rows = source[table.in_service[known]]
    if rows.size:
        place = np.where(rows >= 0, np.arange(rows.shape[1]), -1).max(axis=1)
        last[known] = np.where(place >= 0, rows[np.arange(len(rows)), np.maximum(place, 0)], -1)
    return last


def _fill_public(public: pd.DataFrame, worked: Worked, tables: dict[str, pd.DataFrame]) -> None:
    table, point = worked.table, worked.point
    for name, p in (("p05", 0.05), ("p10", 0.1), ("p50", 0.5), ("p90", 0.9), ("p95", 0.95)):
        _put(public, f"miles_{name}", point, worked.remaining[:, int(np.flatnonzero(p == PROBABILITIES)[0])])
    _put(public, "p_beyond_now", point, worked.beyond)
    now = worked.now
    per_base = tables["wear_points"]["per_base"].to_numpy(float)[point]
    _put(public, "rate_per_1000_mi", point, now.rate * 1000.0 * per_base)
    count = np.zeros(len(public), dtype=np.int64)
    count[point] = table.lives.count[worked.life]
    public["readings_used"] = count
    method = np.full(len(public), "", dtype=object)
    method[point] = method_of(worked.model, worked.life)
    public["method"] = method
    for name, column in zip(("p10", "p50", "p90"), _date_quantiles(worked, tables).T, strict=True):
        dates = np.full(len(public), np.datetime64("NaT", "us"))
        dates[point] = column
        public[f"date_{name}"] = dates


def _put(public: pd.DataFrame, name: str, point: Ints, values: Floats) -> None:
    column = np.full(len(public), np.nan)
    column[point] = values
    public[name] = column


def _date_quantiles(worked: Worked, tables: dict[str, pd.DataFrame]) -> NDArray[np.datetime64]:
    scale = worked.table.scale
    vehicles, first = np.unique(scale.vehicle[worked.point], return_index=True)
    days = worked.table.as_of_day[worked.point[first]]
    as_of = pd.Series(_dates(days), index=scale.vehicles[vehicles])
    ahead = usage_ahead(usage_plan(tables["usage"], tables["mileage"], as_of, MONTHS_AHEAD), as_of)
    columns = [int(np.flatnonzero(p == PROBABILITIES)[0]) for p in (0.1, 0.5, 0.9)]
    names = scale.vehicles.to_numpy()[scale.vehicle[worked.point]]
    return dates_with_spread(ahead, names, worked.remaining[:, columns], NORMALS)


def _other_frames(worked: Worked, tables: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    points = tables["wear_points"].reset_index(drop=True)
    names = points["point"].to_numpy()
    new_life = worked.model.new_lives(
        worked.table.scale.family[worked.point], worked.table.scale.limit[worked.point], PROBABILITIES
    )
    distribution = pd.DataFrame({"point": names[worked.point]})
    distribution["remaining"] = list(worked.remaining)
    distribution["new_life"] = list(new_life)
    return {
        "distribution": distribution,
        "state": _state_frame(worked, points),
        "family": family_frame(worked.model, worked.table.scale.family_name),
        "summary": summary_frame(
            worked.model.summary(), _parts(tables, worked.table).iloc[worked.model.relative_.family]
        ),
        "reading_check": reading_checks(worked.model, worked.table, tables["readings"], points),
        "path": paths_ahead(worked.model, worked.table, worked.point, points, worked.remaining[:, NINETY]),
    }


def _state_frame(worked: Worked, points: pd.DataFrame) -> pd.DataFrame:
    table, point, life = worked.table, worked.point, worked.life
    now = worked.now
    weights = kind_weights_of(worked.model, life)
    return pd.DataFrame(
        {
            "point": points["point"].to_numpy()[point],
            "family": table.scale.family_name[table.scale.family[point]],
            "level": now.level + table.cut_now[life],
            "level_var": now.level_var,
            "rate": now.rate,
            "rate_var": now.rate_var,
            "level_rate_cov": now.cov,
            "tau": now.tau,
            "sigma": now.sigma,
            "limit": table.scale.limit[point],
            "sign": table.scale.sign[point],
            "new_value": table.scale.new[point],
            "life_miles": table.lives.as_of_miles[life],
            "life_number": table.number[life],
            "life_began": _dates(table.began_day[life]),
            **{f"weight {kind}": weights[:, i] for i, kind in enumerate(KINDS)},
        }
    )


def _dates(days: Floats) -> NDArray[np.datetime64]:
    out = np.full(len(days), np.datetime64("NaT", "us"))
    known = np.isfinite(days)
    out[known] = np.floor(days[known]).astype("datetime64[D]").astype("datetime64[us]")
    return out
