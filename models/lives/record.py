"""What is on record of every wear point, in numbers: the mileage logs, the measurements, the work on it."""

from dataclasses import dataclass, fields, replace

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
    """Logs of v vehicles one after the other.

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
    day : days since 1970-01-01; those of the shop, and those told to be as found or as left, apart by
        ``SAME_DAY``. [d]
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
    worn : 1 where it is told that the old part came off because it was worn, 0 where it came off for another
        reason, NaN where nothing is told.
    """

    point: Ints
    day: Floats
    odometer: Floats
    renews: Bools
    step: Floats
    before: Floats
    after: Floats
    worn: Floats


@dataclass(frozen=True)
class OnRecord:
    """Everything that is on record up to as-of.

    Attributes
    ----------
    as_of_day, as_of_odometer : shape (points,). [d], [mi]
    marks : in order of point, life, day and odometer.
    number : shape (marks,). Renewals of its point before each mark.
    tracks : where parts moved, what is told of each part (:class:`models.lives.tracks.Tracks`, ``about``).
    """

    logs: MileageLogs
    as_of_day: Floats
    as_of_odometer: Floats
    events: Events
    marks: Marks
    number: Ints
    tracks: pd.DataFrame | None = None


def on_record(tables: dict[str, pd.DataFrame], scale: WearScale, as_of: pd.Timestamp | None) -> OnRecord:
    """Read the tables as numbers on the scale of wear.

    Parameters
    ----------
    tables : wear_points, mileage, readings, work in normalised form (``ingest.schema``), parts that moved
        followed (:func:`models.lives.follow.follow_parts`).
    as_of : day up to which the tables are believed; None: all of them, as of the last day of each vehicle's
        mileage log or its last reading, whichever is later.
    """
    codes = pd.Index(tables["wear_points"]["point"])
    logs = mileage_logs(tables["mileage"], scale.vehicles)
    readings = _marks_of_readings(tables["readings"], codes, scale)
    moved = _moved(tables["readings"])[readings.source]
    read = _last_read(tables.get("last_read"), readings.take(~moved), scale)
    by_vehicle = _as_of(as_of, logs, read, len(scale.vehicles))
    as_of_day, as_of_odometer = (values[scale.vehicle] for values in by_vehicle)
    # What was read of a part elsewhere may be later than anything of the vehicle where it is now.
    readings = readings.take((readings.day <= as_of_day[readings.point]) | (moved & (as_of is None)))
    # Work in the winter after the last entry is known to have been done: its metal is gone, its part renewed.
    believed = np.full(len(codes), np.inf) if as_of is None else as_of_day
    events = _events(tables["work"], codes, scale, logs, believed)
    readings = _as_told(readings, tables["readings"])
    marks = _with_shop_measurements(readings, events, _exchanged(tables.get("shop_marks"), codes, scale))
    number, marks = _number_of_life(marks, events, len(codes))
    return OnRecord(logs, as_of_day, as_of_odometer, events, marks, number, tables.get("tracks"))


def as_of_of_vehicles(
    tables: dict[str, pd.DataFrame], vehicles: pd.Index, vehicle: Ints, as_of: pd.Timestamp | None
) -> tuple[Floats, Floats]:
    """Day and odometer of each vehicle at as-of, as :func:`on_record` takes them, shape (vehicles,).

    Parameters
    ----------
    vehicle : shape (points,). Number of each wear point's vehicle.
    """
    readings = tables["readings"]
    point = pd.Index(tables["wear_points"]["point"]).get_indexer(pd.Index(readings["point"]))
    day, odometer = _days(readings["date"]), readings["odometer"].to_numpy(float)
    known = (point >= 0) & np.isfinite(day) & np.isfinite(odometer)
    read = vehicle[point[known]], day[known], odometer[known]
    last = tables.get("last_read")
    if last is not None:
        read = _with_others(read, last, vehicles)
    return _as_of(as_of, mileage_logs(tables["mileage"], vehicles), read, len(vehicles))


def _moved(readings: pd.DataFrame) -> Bools:
    """Readings of parts that were elsewhere then."""
    if "moved" not in readings:
        return np.zeros(len(readings), dtype=bool)
    return readings["moved"].to_numpy(dtype=bool)


def _exchanged(told: pd.DataFrame | None, codes: pd.Index, scale: WearScale) -> Marks | None:
    """What the shop measured as it exchanged parts."""
    if told is None or told.empty:
        return None
    point = codes.get_indexer(pd.Index(told["point"])).astype(np.int64)
    day, odometer, value = (told[name].to_numpy(float) for name in ("day", "odometer", "value"))
    wear = scale.sign[point] * (value - scale.new[point])
    nothing = np.zeros(len(point))
    marks = Marks(point, day, odometer, nothing, wear, np.full(len(point), -1))
    return marks.take(np.isfinite(odometer) & np.isfinite(wear))


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
    """Readings whose point, day, odometer and value are known, as wear; in the order of the table."""
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


def _as_told(readings: Marks, table: pd.DataFrame) -> Marks:
    """What is told to be as found comes before the work of its day, what is as left after it."""
    if "found_or_left" not in table:
        return readings
    told = table["found_or_left"].to_numpy(object)[readings.source]
    apart = SAME_DAY * ((told == "left").astype(float) - (told == "found").astype(float))
    return replace(readings, day=readings.day + apart)


def _last_read(last: pd.DataFrame | None, readings: Marks, scale: WearScale) -> tuple[Ints, Floats, Floats]:
    """Vehicle, day and odometer [mi] of readings: those at hand, and the last of all wear points where only
    some are at hand (vehicle, date, odometer)."""
    read = scale.vehicle[readings.point], readings.day, readings.odometer
    return read if last is None else _with_others(read, last, scale.vehicles)


def _with_others(
    read: tuple[Ints, Floats, Floats], last: pd.DataFrame, vehicles: pd.Index
) -> tuple[Ints, Floats, Floats]:
    """As :func:`_last_read`, from the readings at hand and those of all wear points."""
    code = vehicles.get_indexer(pd.Index(last["vehicle"])).astype(np.int64)
    known = (code >= 0) & last["odometer"].notna().to_numpy()
    others = code[known], _days(last["date"])[known], last["odometer"].to_numpy(float)[known]
    vehicle, day, odometer = (np.concatenate(pair) for pair in zip(read, others, strict=True))
    return vehicle, day, odometer


def _as_of(
    as_of: pd.Timestamp | None, logs: MileageLogs, read: tuple[Ints, Floats, Floats], n_vehicles: int
) -> tuple[Floats, Floats]:
    """Day and odometer per vehicle, shape (n_vehicles,).

    After the end of its log a vehicle has the odometer of the last entry, or of a reading that is further on.
    """
    vehicle, read_on, odometer = read
    if as_of is None:
        day = np.full(n_vehicles, np.nan)
        np.fmax.at(day, vehicle, read_on)
        day = np.fmax(logs.last_day, day)
    else:
        day = np.full(n_vehicles, float(np.datetime64(as_of, "D").astype(np.int64)))
    past = read_on <= day[vehicle]
    furthest = np.full(n_vehicles, np.nan)
    np.fmax.at(furthest, vehicle[past], odometer[past])
    logged = logs.at(np.arange(n_vehicles), day)
    inside = np.isfinite(logged) & (day <= logs.last_day)
    return day, np.where(inside, logged, np.fmax(logged, furthest))


def _events(
    work: pd.DataFrame, codes: pd.Index, scale: WearScale, logs: MileageLogs, believed: Floats
) -> Events:
    """Work that renewed or cut a part, up to the day until which each point's is believed.

    A cut that gave wear back counts as a renewal.
    """
    point = codes.get_indexer(pd.Index(work["point"])).astype(np.int64)
    day = _days(work["date"])
    use = (point >= 0) & np.isfinite(day)
    use[use] = day[use] <= believed[point[use]]
    work, point, day = work[use], point[use], day[use]
    order = np.lexsort((day, point))
    work, point, day = work.iloc[order], point[order], day[order]
    before, after = (
        scale.sign[point] * (work[column].to_numpy(float) - scale.new[point])
        for column in ("value_before", "value_after")
    )
    step = after - before
    renewed = (work["action"] == "renewed").to_numpy()
    odometer = logs.at(scale.vehicle[point], day)
    if "odometer" in work:  # of work on a part that was elsewhere then
        told = work["odometer"].to_numpy(float)
        odometer = np.where(np.isfinite(told), told, odometer)
    return Events(
        point,
        day,
        odometer,
        renewed | (step < 0),
        np.where(renewed, np.nan, step),
        before,
        after,
        _told_worn(work),
    )


def _told_worn(work: pd.DataFrame) -> Floats:
    """1 where the work says that the part was worn, 0 where it says another reason, NaN where none."""
    if "why" not in work:
        return np.full(len(work), np.nan)
    why = work["why"].fillna("").astype(str).to_numpy()
    return np.where(why == "worn", 1.0, np.where(why == "", np.nan, 0.0))


def _with_shop_measurements(readings: Marks, events: Events, exchanged: Marks | None) -> Marks:
    """The readings, then what the shop measured before and after the work, and as parts were exchanged."""
    parts = [readings] if exchanged is None else [readings, exchanged]
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


def _number_of_life(marks: Marks, events: Events, n_points: int) -> tuple[Ints, Marks]:
    """Renewals of its point before each mark; and the marks, sorted.

    A reading on the day of a renewal is of the old part if it is nearer to the last reading before than to
    the value after the renewal.
    """
    marks = marks.take(np.lexsort((marks.odometer, marks.day, marks.point)))
    renewed_point, renewed_day = events.point[events.renews], events.day[events.renews]
    wear_after = np.where(np.isfinite(events.after), events.after, 0.0)[events.renews]
    renewal_axis, mark_axis = renewed_point * APART + renewed_day, marks.point * APART + marks.day
    before = np.searchsorted(renewal_axis, mark_axis, side="left")
    through = np.searchsorted(renewal_axis, mark_axis, side="right")
    first_renewal = np.searchsorted(renewed_point, np.arange(n_points), side="left")
    same_day = np.flatnonzero(through > before)
    if len(same_day):
        previous = np.maximum(same_day - 1, 0)
        has_previous = (same_day > 0) & (marks.point[previous] == marks.point[same_day])
        wear_before = np.where(has_previous, marks.wear[previous], np.inf)
        wear, renewed_to = marks.wear[same_day], wear_after[through[same_day] - 1]
        of_new = np.abs(wear - renewed_to) <= np.abs(wear - wear_before)
        before[same_day[of_new]] = through[same_day[of_new]]
    number = (before - first_renewal[marks.point]).astype(np.int64)
    if not len(same_day):
        return number, marks  # in order already
    again = np.lexsort((marks.odometer, marks.day, number, marks.point))
    return number[again], marks.take(again)
