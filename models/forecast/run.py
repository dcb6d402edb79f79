"""The forecast of every wear point: tables in, frames out."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.value_state import value_states
from models.combined.weights import Evidence
from models.forecast.alarms import (
    FASTER,
    Alarm,
    alarms_frame,
    alarms_of_gauges,
    alarms_of_lives,
    alarms_of_vehicles,
)
from models.forecast.flags import flags_of
from models.forecast.frames import frames_of, with_lifetimes
from models.forecast.from_lifetimes import FromLifetimes, from_lifetimes
from models.forecast.no_wear import alarms_of_no_wear
from models.forecast.of_store import of_store
from models.forecast.own_past import alarms_of_own_past, with_swapped
from models.forecast.public import last_reading, public_table
from models.forecast.untold_swaps import with_untold_swaps
from models.forecast.worked import Worked, work_out
from models.gauges.gauges_read import gauges_read
from models.lifetimes.on_record import Renewals, renewals_on_record
from models.lives.build import build_lives
from models.lives.follow import follow_parts
from models.lives.table import LifeTable
from models.wear.fleet_pool import Sources
from models.wear.priors import Learned


@dataclass(frozen=True)
class Forecast:
    """Frames of a forecast run, by name; DEVELOPERS.md lists their columns.

    ``worked`` is what they were made from, for whoever asks the same forecast more (the track record); None
    where no point can be forecast.
    """

    frames: dict[str, pd.DataFrame]
    about: dict[str, object]
    worked: Worked | None = None


def make_forecast(
    tables: dict[str, pd.DataFrame],
    as_of: pd.Timestamp | None = None,
    *,
    learned: Learned | None = None,
    stretch: pd.Series | None = None,
    condemned: pd.DataFrame | None = None,
    sources: Sources | None = None,
    record: dict[str, Evidence] | None = None,
    repeats: pd.DataFrame | None = None,
    lifetimes: pd.DataFrame | None = None,
) -> Forecast:
    """Forecast every wear point.

    Parameters
    ----------
    tables : vehicles, wear_points, mileage, readings, work, usage in normalised form (``ingest.schema``), and
        what :func:`models.lives.follow.follow_parts` takes.
    as_of : day up to which the tables are believed; None: all (:func:`models.lives.build.build_lives`).
    learned : what was learned from a sample of all families, where the tables are one of many runs of them
        (:mod:`models.forecast.family_runs`).
    stretch : factor on the intervals by family name, where the track record proves them too narrow or wide.
    condemned : point, date, kind of findings that put a part out whatever its miles.
    sources : what other railways say of their families.
    record : what a track record says of the wear model and its rival together, by quantity
        (:mod:`models.combined.weights`); None: there is none.
    repeats : how well gauges repeat (:func:`models.gauges.read_twice.repeatability`), from all that is on
        record, whatever of it is in the tables; None: nothing is known.
    lifetimes : the catalogue's assumptions of that topic; None: nothing is learned from renewals
        (:mod:`models.forecast.from_lifetimes`, :mod:`models.forecast.from_renewals`).

    Returns
    -------
    Forecast : with every wear point in its frame ``forecast``; one that cannot be forecast with its reason
        in ``flags``.
    """
    tables = follow_parts(tables, as_of)
    table, spans, worked = _worked(
        tables, as_of, lifetimes, repeats, learned=learned, sources=sources, stretch=stretch, record=record
    )
    unread = from_lifetimes(table, spans)
    alarms = _alarms(table, worked, tables["wear_points"])
    alarms = with_untold_swaps(alarms, tables, as_of, asked=learned is None)
    frames = _frames(tables, table, worked, unread, condemned, alarms)
    return Forecast(frames, _about(frames["forecast"], worked, unread, as_of or _last_day(table)), worked)


def forecast_alone(
    tables: dict[str, pd.DataFrame],
    as_of: pd.Timestamp | None = None,
    *,
    learned: Learned | None = None,
    stretch: pd.Series | None = None,
    sources: Sources | None = None,
    record: dict[str, Evidence] | None = None,
    repeats: pd.DataFrame | None = None,
    lifetimes: pd.DataFrame | None = None,
) -> Worked | None:
    """What :func:`make_forecast` makes its frames from, without the frames, for whoever asks the forecasts of
    many days (the track record). None where no point can be forecast. Parameters as there."""
    return _worked(
        follow_parts(tables, as_of), as_of, lifetimes, repeats,
        learned=learned, sources=sources, stretch=stretch, record=record,
    )[2]  # fmt: skip


def _worked(
    tables: dict[str, pd.DataFrame],
    as_of: pd.Timestamp | None,
    lifetimes: pd.DataFrame | None,
    repeats: pd.DataFrame | None,
    *,
    learned: Learned | None,
    stretch: pd.Series | None,
    sources: Sources | None,
    record: dict[str, Evidence] | None,
) -> tuple[LifeTable, Renewals | None, Worked | None]:
    """Lives, renewals on record and the forecast, from tables whose parts are followed."""
    table = build_lives(tables, as_of)
    gauges = gauges_read(table, tables["readings"], tables.get("gauges"), repeats)
    spans = renewals_on_record(tables, table, lifetimes)
    worked = work_out(
        table, tables, gauges, spans, as_of, learned=learned, sources=sources, stretch=stretch, record=record
    )
    return table, spans, worked


def _frames(
    tables: dict[str, pd.DataFrame],
    table: LifeTable,
    worked: Worked | None,
    unread: FromLifetimes,
    condemned: pd.DataFrame | None,
    alarms: list[Alarm],
) -> dict[str, pd.DataFrame]:
    """The frames of a run, for the store's own wear points."""
    points, readings = tables["wear_points"], tables["readings"]
    drawn = {} if worked is None else frames_of(worked, points, readings)
    frames = with_lifetimes(drawn, unread, points)
    public = public_table(points, readings, table, worked, unread, tables)
    public["flags"] = _flags(public, tables, table, worked, unread, condemned, alarms)
    frames["alarms"] = alarms_frame(alarms, points, readings)
    return of_store(frames | {"forecast": public}, tables)


def _about(
    public: pd.DataFrame, worked: Worked | None, unread: FromLifetimes, day: pd.Timestamp | None
) -> dict[str, object]:
    """What is kept of a run beside its frames."""
    said = unread.point if worked is None else np.concatenate([worked.point, unread.point])
    count = int((said < len(public)).sum())
    return {"as_of": day, "model": "pooled wear", "points": len(public), "forecast": count}


def _alarms(table: LifeTable, worked: Worked | None, points: pd.DataFrame) -> list[Alarm]:
    """All that people must know of the wear points at once."""
    if worked is None:
        return alarms_of_lives(table, None)
    of_gauges = alarms_of_gauges(worked.alike, points["per_base"].to_numpy(float), points["unit"].tolist())
    of_vehicles = alarms_of_vehicles(worked.shared, worked.point)
    of_lives = with_swapped(alarms_of_lives(table, worked.model), worked.table, worked.model)
    told = {alarm.points[0] for alarm in of_lives if alarm.kind == FASTER}
    of_parts = alarms_of_own_past(worked.table, worked.model, worked.point)
    of_parts = [alarm for alarm in of_parts if alarm.points[0] not in told]
    no_wear = alarms_of_no_wear(worked.table, worked.point, worked.wear_now)
    return of_gauges + of_vehicles + of_parts + of_lives + no_wear


def _flags(
    public: pd.DataFrame,
    tables: dict[str, pd.DataFrame],
    table: LifeTable,
    worked: Worked | None,
    unread: FromLifetimes,
    condemned: pd.DataFrame | None,
    alarms: list[Alarm],
) -> NDArray[np.object_]:
    """Flags of every wear point; ``public`` as it stands but for them."""
    points = tables["wear_points"]
    late = _after_the_log(table, tables["readings"])
    read = value_states(public["last_value"] / points["per_base"].to_numpy(float), _limits(points))
    return flags_of(public, worked, unread, condemned, after_the_log=late, read=read, alarms=alarms)


def _last_day(table: LifeTable) -> pd.Timestamp | None:
    """The latest day that any wear point is forecast from."""
    days = table.as_of_day[np.isfinite(table.as_of_day)]
    return pd.Timestamp(int(days.max()), unit="D") if len(days) else None


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
