"""What is on record of every wear point, in numbers: the mileage logs, the measurements, the work on it."""

from dataclasses import dataclass, fields

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.lives.wear_scale import WearScale

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

APART = 1_000_000.0
"""Days between two vehicles (or wear points) on one axis on which all of them are looked up together."""
SAME_DAY = 0.25
"""What the shop measured before the work comes this much before the readings of that day, what it measured
after the work this much after them. [d]"""


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
        return np.interp(vehicle * APART + inside, self.axis, self.odometer)


@dataclass(frozen=True)
class Marks:
    """Measurements of wear, shape (marks,): readings, and what the shop measured.

    Attributes
    ----------
    point : wear point.
    day : days since 1970-01-01; those of the shop apart by ``SAME_DAY``. [d]
    odometer, odometer_sd : [mi]
    wear : since new, growing toward the limit. [base unit]
    source : row of the readings table; -1: measured at the shop.
    """

    point: Ints
    day: Floats
    odometer: Floats
    odometer_sd: Floats
    wear: Floats
    source: Ints

    def take(self, index: Ints | Bools) -> "Marks":
        """Some of the marks."""
        return Marks(*(values[index] for values in vars(self).values()))


@dataclass(frozen=True)
class Events:
    """Renewals and cuts in order of point and day, shape (events,).

    Attributes
    ----------
    point, day, odometer : wear point, [d], [mi].
    renews : a new life begins; else the event is a cut within one.
    step : wear after less wear before; NaN where not both were measured. [base unit]
    before, after : wear before and after the event; NaN where not measured. [base unit]
    """

    point: Ints
    day: Floats
    odometer: Floats
    renews: Bools
    step: Floats
    before: Floats
    after: Floats


@dataclass(frozen=True)
class OnRecord:
    """Everything that is on record up to as-of; ``as_of_day`` and ``as_of_odometer`` by wear point."""

    logs: MileageLogs
    as_of_day: Floats
    as_of_odometer: Floats
    marks: Marks
    events: Events


def on_record(tables: dict[str, pd.DataFrame], scale: WearScale, as_of: pd.Timestamp | None) -> OnRecord:
    """Read the tables as numbers on the scale of wear.

    Parameters
    ----------
    tables : wear_points, mileage, readings, work in normalised form (``ingest.schema``).
    as_of : day up to which the tables are believed; None: the last day of each vehicle's mileage log.
    """
    codes = pd.Index(tables["wear_points"]["point"])
    logs = mileage_logs(tables["mileage"], scale.vehicles)
    readings = _marks_of_readings(tables["readings"], codes, scale)
    as_of_day, as_of_odometer = _as_of(as_of, logs, readings, scale)
    readings = readings.take(readings.day <= as_of_day[readings.point])
    events = _events(tables["work"], codes, scale, logs, as_of_day)
    return OnRecord(logs, as_of_day, as_of_odometer, _with_shop_measurements(readings, events), events)


def mileage_logs(mileage: pd.DataFrame, vehicles: pd.Index) -> MileageLogs:
    """Logs of the named vehicles.

    Parameters
    ----------
    mileage : vehicle, date, odometer [mi]; rows without an odometer are left out.
    vehicles : names; their order numbers them.
    """
    code = vehicles.get_indexer(pd.Index(mileage["vehicle"]))
    day, odometer = _days(mileage["date"]), mileage["odometer"].to_numpy(float)
    use = (code >= 0) & np.isfinite(day) & np.isfinite(odometer)
    code, day, odometer = code[use].astype(np.int64), day[use], odometer[use]
    order = np.lexsort((odometer, day, code))
    code, day, odometer = code[order], day[order], odometer[order]
    ends = np.full((4, len(vehicles)), np.nan)
    first = np.flatnonzero(np.diff(code, prepend=-1))
    last = np.append(first[1:], len(code)) - 1
    if len(code):
        ends[:, code[first]] = np.stack([day[first], day[last], odometer[first], odometer[last]])
    return MileageLogs(code * APART + day, odometer, *ends)


def _days(dates: pd.Series) -> Floats:
    """Days since 1970-01-01 [d], NaN where the date is missing."""
    day = dates.to_numpy().astype("datetime64[D]")
    return np.where(np.isnat(day), np.nan, day.astype(np.int64).astype(float))


def _marks_of_readings(readings: pd.DataFrame, codes: pd.Index, scale: WearScale) -> Marks:
    point = codes.get_indexer(pd.Index(readings["point"])).astype(np.int64)
    wear = scale.sign[point] * (readings["value"].to_numpy(float) - scale.new[point])
    sd = readings["odometer_sd"].to_numpy(float) if "odometer_sd" in readings else np.zeros(len(point))
    marks = Marks(
        point,
        _days(readings["date"]),
        readings["odometer"].to_numpy(float),
        np.nan_to_num(sd),
        wear,
        np.arange(len(point)),
    )
    known = (point >= 0) & np.isfinite(marks.day) & np.isfinite(marks.odometer) & np.isfinite(wear)
    return marks.take(known)


def _as_of(
    as_of: pd.Timestamp | None, logs: MileageLogs, readings: Marks, scale: WearScale
) -> tuple[Floats, Floats]:
    """Day and odometer per wear point. A vehicle without a log is taken at its last reading."""
    n_vehicles = len(scale.vehicles)
    vehicle = scale.vehicle[readings.point]
    if as_of is None:
        last_read = np.full(n_vehicles, -np.inf)
        np.maximum.at(last_read, vehicle, readings.day)
        day = np.where(np.isfinite(logs.last_day), logs.last_day, last_read)
        day = np.where(np.isfinite(day), day, np.nan)
    else:
        day = np.full(n_vehicles, float(np.datetime64(as_of, "D").astype(np.int64)))
    past = readings.day <= day[vehicle]
    last_miles = np.full(n_vehicles, -np.inf)
    np.maximum.at(last_miles, vehicle[past], readings.odometer[past])
    logged = logs.at(np.arange(n_vehicles), day)
    odometer = np.where(np.isfinite(logged), logged, last_miles)
    odometer = np.where(np.isfinite(odometer), odometer, np.nan)
    return day[scale.vehicle], odometer[scale.vehicle]


def _events(
    work: pd.DataFrame, codes: pd.Index, scale: WearScale, logs: MileageLogs, as_of_day: Floats
) -> Events:
    """Work that renewed or cut a part, up to as-of; a cut that gave wear back counts as a renewal."""
    point = codes.get_indexer(pd.Index(work["point"])).astype(np.int64)
    day = _days(work["date"])
    use = (point >= 0) & np.isfinite(day)
    use[use] = day[use] <= as_of_day[point[use]]
    work, point, day = work[use], point[use], day[use]
    order = np.lexsort((day, point))
    work, point, day = work.iloc[order], point[order], day[order]
    before, after = (
        scale.sign[point] * (work[column].to_numpy(float) - scale.new[point])
        for column in ("value_before", "value_after")
    )
    step = after - before
    renewed = (work["action"] == "renewed").to_numpy()
    return Events(
        point,
        day,
        logs.at(scale.vehicle[point], day),
        renewed | (step < 0),
        np.where(renewed, np.nan, step),
        before,
        after,
    )


def _with_shop_measurements(readings: Marks, events: Events) -> Marks:
    """The readings, then what the shop measured before and after the work."""
    parts = [readings]
    for wear, offset in ((events.before, -SAME_DAY), (events.after, SAME_DAY)):
        use = np.isfinite(wear) & np.isfinite(events.odometer)
        parts.append(
            Marks(
                events.point[use],
                events.day[use] + offset,
                events.odometer[use],
                np.zeros(use.sum()),
                wear[use],
                np.full(use.sum(), -1),
            )
        )
    columns = (field.name for field in fields(Marks))
    return Marks(*(np.concatenate([getattr(part, name) for part in parts]) for name in columns))
