"""From the tables to lives: which readings belong to which life, at which miles, on which scale.

A renewal ends a life and begins the next. A cut moves the dimension within a life. Toward the limit: what it
took is no wear, so it is taken out of the readings after it and off the wear that is left to the limit
(unknown depth: the level is left free there). Away from the limit: the wear was restored and a new life
begins. A part whose beginning is not on record has a free first level.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.lives.mileage_log import MileageLogs, days, mileage_logs
from models.lives.table import Lives
from models.lives.wear_scale import WearScale, wear_scale

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LEAST_LEFT = 0.02
"""Share of the allowance that a life is taken to have had for wear, however much was cut: a scale, no
claim."""
NEW_AT_MILES = 1.0
"""A vehicle whose log begins at no more than this was new then, and so were its parts. [mi]"""


@dataclass(frozen=True)
class LifeTable:
    """Lives of all wear points and what is needed to speak of them in the points' own terms.

    Attributes
    ----------
    scale : direction, allowance and family of every wear point.
    logs : mileage logs of the vehicles.
    as_of_day, as_of_odometer : shape (points,). [d], [mi]
    lives : every life that can be used, ordered by wear point and number.
    point, number : shape (n,). Wear point of each life; 1 for its first.
    began_day, began_odometer : shape (n,). [d], [mi]
    cut : shape (n, k). What was cut before each entry, to be added to its wear. [base unit]
    cut_now : shape (n,). What was cut in the whole life; ``lives.limit`` is the allowance less this. [base
        unit]
    source : shape (n, k). Row of the readings table behind each entry; -1: measured at the shop (work table).
    in_service : shape (points,). Row of the life in service; -1 where there is none.
    reason : shape (points,). Why a wear point cannot be forecast; empty where it can.
    """

    scale: WearScale
    logs: MileageLogs
    as_of_day: Floats
    as_of_odometer: Floats
    lives: Lives
    point: Ints
    number: Ints
    began_day: Floats
    began_odometer: Floats
    cut: Floats
    cut_now: Floats
    source: Ints
    in_service: Ints
    reason: NDArray[np.object_]


@dataclass(frozen=True)
class _Marks:
    """Measurements in order of point, day and miles: readings, and what the shop measured."""

    point: Ints
    day: Floats
    odometer: Floats
    odometer_sd: Floats
    wear: Floats
    source: Ints

    def take(self, index: Ints | Bools) -> "_Marks":
        return _Marks(*(getattr(self, name)[index] for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class _Cuts:
    """Marks as though nothing had been cut, what was cut before each, and in each life; unknown depths."""

    marks: _Marks
    taken: Floats
    total: Floats
    free: Bools


@dataclass(frozen=True)
class _Events:
    """Renewals and cuts in order of point and day."""

    point: Ints
    day: Floats
    odometer: Floats
    renews: Bools
    step: Floats  # wear after less wear before; NaN where not both were measured
    before: Floats
    after: Floats


def build_lives(tables: dict[str, pd.DataFrame], as_of: pd.Timestamp | None = None) -> LifeTable:
    """Build the lives of all wear points from the tables.

    Parameters
    ----------
    tables : vehicles, wear_points, mileage, readings, work in normalised form (``ingest.schema``).
    as_of : day up to which the tables are believed; None: the last day of each vehicle's mileage log.
    """
    points = tables["wear_points"]
    scale = wear_scale(points, tables["vehicles"])
    logs = mileage_logs(tables["mileage"], scale.vehicles)
    codes = pd.Index(points["point"])
    readings = _marks_of_readings(tables["readings"], codes, scale)
    as_of_day, as_of_odometer = _as_of(as_of, logs, readings, scale)
    readings = readings.take(readings.day <= as_of_day[readings.point])
    events = _events(tables["work"], codes, scale, logs, as_of_day)
    marks = _with_shop_measurements(readings, events)
    return _assemble(scale, logs, (as_of_day, as_of_odometer), marks, events)


def _marks_of_readings(readings: pd.DataFrame, codes: pd.Index, scale: WearScale) -> _Marks:
    point = codes.get_indexer(pd.Index(readings["point"])).astype(np.int64)
    wear = scale.sign[point] * (readings["value"].to_numpy(float) - scale.new[point])
    sd = readings["odometer_sd"].to_numpy(float) if "odometer_sd" in readings else np.zeros(len(point))
    marks = _Marks(
        point,
        days(readings["date"]),
        readings["odometer"].to_numpy(float),
        np.nan_to_num(sd),
        wear,
        np.arange(len(point)),
    )
    known = (point >= 0) & np.isfinite(marks.day) & np.isfinite(marks.odometer) & np.isfinite(wear)
    return marks.take(known)


def _as_of(
    as_of: pd.Timestamp | None, logs: MileageLogs, readings: _Marks, scale: WearScale
) -> tuple[Floats, Floats]:
    """Day and odometer per wear point. A vehicle without a log is taken at its last reading."""
    v = len(scale.vehicles)
    vehicle = scale.vehicle[readings.point]
    last_read, last_miles = np.full(v, -np.inf), np.full(v, -np.inf)
    np.maximum.at(last_read, vehicle, readings.day)
    np.maximum.at(last_miles, vehicle, readings.odometer)
    own = np.where(
        np.isfinite(logs.last_day), logs.last_day, np.where(np.isfinite(last_read), last_read, np.nan)
    )
    day = own if as_of is None else np.full(v, float(np.datetime64(as_of, "D").astype(np.int64)))
    at = logs.at(np.arange(v), day)
    if as_of is None:
        odometer = np.where(np.isfinite(at), np.fmax(at, -np.inf), last_miles)
    else:
        past = readings.day <= day[vehicle]
        last_miles = np.full(v, -np.inf)
        np.maximum.at(last_miles, vehicle[past], readings.odometer[past])
        odometer = np.where(np.isfinite(at), at, last_miles)
    odometer = np.where(np.isfinite(odometer), odometer, np.nan)
    return day[scale.vehicle], odometer[scale.vehicle]


def _events(
    work: pd.DataFrame, codes: pd.Index, scale: WearScale, logs: MileageLogs, as_of_day: Floats
) -> _Events:
    point = codes.get_indexer(pd.Index(work["point"])).astype(np.int64)
    day = days(work["date"])
    use = (point >= 0) & np.isfinite(day)
    use[use] = day[use] <= as_of_day[point[use]]
    work, point, day = work[use], point[use], day[use]
    order = np.lexsort((day, point))
    work, point, day = work.iloc[order], point[order], day[order]
    before, after = (
        scale.sign[point] * (work[c].to_numpy(float) - scale.new[point])
        for c in ("value_before", "value_after")
    )
    step = after - before
    renewed = (work["action"] == "renewed").to_numpy()
    return _Events(
        point,
        day,
        logs.at(scale.vehicle[point], day),
        renewed | (step < 0),
        np.where(renewed, np.nan, step),
        before,
        after,
    )


def _with_shop_measurements(readings: _Marks, events: _Events) -> _Marks:
    """Add what the shop measured before and after the work, unless the readings of that day say the same."""
    parts = []
    for value, offset in ((events.before, -0.25), (events.after, 0.25)):
        here = np.isfinite(value) & np.isfinite(events.odometer)
        parts.append(
            _Marks(
                events.point[here],
                events.day[here] + offset,
                events.odometer[here],
                np.zeros(here.sum()),
                value[here],
                np.full(here.sum(), -1),
            )
        )
    joined = [readings, *parts]
    return _Marks(
        *(np.concatenate([getattr(m, name) for m in joined]) for name in readings.__dataclass_fields__)
    )


def _assemble(
    scale: WearScale, logs: MileageLogs, as_of: tuple[Floats, Floats], marks: _Marks, events: _Events
) -> LifeTable:
    n_points = len(scale.sign)
    renewals = np.bincount(events.point[events.renews], minlength=n_points)
    number, marks = _number_of_life(marks, events, n_points)
    first_life = np.concatenate([[0], np.cumsum(renewals + 1)[:-1]]) if n_points else np.array([], int)
    life_of_mark = first_life[marks.point] + number
    point = np.repeat(np.arange(n_points), renewals + 1)
    life_number = np.arange(len(point)) - first_life[point]
    began_day, began_odometer, known = _beginnings(
        scale, logs, events, point, life_number, marks, life_of_mark
    )
    life_of_event = first_life[events.point] + _renewals_until(events)
    cuts = _take_cuts_out(marks, life_of_mark, events, life_of_event, len(point))
    marks = cuts.marks
    reason = scale.reason.copy()
    reason[(reason == "") & ~np.isfinite(as_of[1])] = "the vehicle has no mileage on record"
    lives, source, cut = _padded(
        scale,
        marks,
        life_of_mark,
        cuts,
        (point, began_odometer, known, as_of[1], life_number == renewals[point]),
    )
    usable = (reason == "")[point] & np.isfinite(began_odometer)
    index = np.full(len(point), -1)
    index[usable] = np.arange(usable.sum())
    last = first_life + renewals if n_points else first_life
    in_service = index[last] if n_points else last
    reason[(reason == "") & (in_service < 0)] = "the beginning of the life is not on record"
    keep = np.flatnonzero(usable)
    return LifeTable(
        scale,
        logs,
        *as_of,
        _take(lives, keep),
        point[keep],
        life_number[keep] + 1,
        began_day[keep],
        began_odometer[keep],
        cut[keep],
        cuts.total[keep],
        source[keep],
        in_service,
        reason,
    )


def _renewals_until(events: _Events) -> Ints:
    """Renewals of its point up to and with each event, which come in order of point and day."""
    count = np.cumsum(events.renews)
    before = np.searchsorted(events.point, events.point, side="left")
    return np.asarray(count - np.concatenate([[0], count])[before], dtype=np.int64)


def _number_of_life(marks: _Marks, events: _Events, n_points: int) -> tuple[Ints, _Marks]:
    """Renewals of its point before each mark; and the marks, sorted.

    A reading on the day of a renewal is of the old part if it is nearer to the last reading before than to
    the value after the renewal.
    """
    order = np.lexsort((marks.odometer, marks.day, marks.point))
    marks = marks.take(order)
    cut_point, cut_day = events.point[events.renews], events.day[events.renews]
    after = np.where(np.isfinite(events.after), events.after, 0.0)[events.renews]
    stride = 4_000_000.0
    axis = cut_point * stride + cut_day
    key = marks.point * stride + marks.day
    earlier = np.searchsorted(axis, key, side="left")
    through = np.searchsorted(axis, key, side="right")
    same_day = np.flatnonzero(through > earlier)
    if len(same_day):
        back = np.maximum(same_day - 1, 0)
        has_back = (same_day > 0) & (marks.point[back] == marks.point[same_day])
        was = np.where(has_back, marks.wear[back], np.inf)
        becomes = after[through[same_day] - 1]
        new = np.abs(marks.wear[same_day] - becomes) <= np.abs(marks.wear[same_day] - was)
        earlier[same_day[new]] = through[same_day[new]]
    base = np.searchsorted(cut_point, np.arange(n_points), side="left")
    number = (earlier - base[marks.point] if n_points else earlier).astype(np.int64)
    if not len(same_day):
        return number, marks  # in order already
    again = np.lexsort((marks.odometer, marks.day, number, marks.point))
    return number[again], marks.take(again)


def _beginnings(
    scale: WearScale, logs: MileageLogs, events: _Events, point: Ints, number: Ints, marks: _Marks, life: Ints
) -> tuple[Floats, Floats, Bools]:
    """Day and odometer at which each life began, and whether the part was new then."""
    vehicle = scale.vehicle[point]
    day, odometer = logs.first_day[vehicle], logs.first[vehicle]
    first_mark = np.full(len(point), np.inf)
    np.minimum.at(first_mark, life, marks.odometer)
    first_day = np.full(len(point), np.inf)
    np.minimum.at(first_day, life, marks.day)
    logged = np.isfinite(odometer)
    day = np.where(logged, day, np.where(np.isfinite(first_day), np.floor(first_day), np.nan))
    odometer = np.where(logged, odometer, np.where(np.isfinite(first_mark), first_mark, np.nan))
    known = logged & (odometer <= NEW_AT_MILES)
    later = number > 0
    renewed_day, renewed_at = events.day[events.renews], events.odometer[events.renews]
    day[later], odometer[later] = renewed_day, renewed_at
    known[later] = True
    odometer = np.minimum(odometer, first_mark)
    return day, odometer, known


def _take_cuts_out(marks: _Marks, life: Ints, events: _Events, life_of_event: Ints, lives: int) -> _Cuts:
    """What cuts took before each mark and in each life; the marks without it; where a depth is unknown.

    A mark of the day of a cut is of before or after, whichever measurement of that day it is nearer to.
    """
    taken, total, free = np.zeros(len(life)), np.zeros(lives), np.zeros(len(life), dtype=bool)
    for i in np.flatnonzero(~events.renews):  # a few per wear point at most; each touches one life's marks
        own = life_of_event[i]
        low, high = np.searchsorted(life, [own, own + 1])
        days, wear = marks.day[low:high], marks.wear[low:high]
        nearer_after = np.abs(wear - events.after[i]) < np.abs(wear - events.before[i])
        later = (days > events.day[i]) | ((days == events.day[i]) & nearer_after)
        if np.isfinite(events.step[i]):
            taken[low:high][later] += events.step[i]
            total[own] += events.step[i]
        elif later.any():
            free[low + int(later.argmax())] = True
    return _Cuts(replace(marks, wear=marks.wear - taken), taken, total, free)


def _padded(
    scale: WearScale, marks: _Marks, life: Ints, cuts: _Cuts, about: tuple[Ints, Floats, Bools, Floats, Bools]
) -> tuple[Lives, Ints, Floats]:
    point, began, known, as_of_odometer, current = about
    n = len(point)
    count = np.bincount(life, minlength=n)
    width = int(count.max()) if n and len(life) else 1
    column = np.arange(len(life)) - np.concatenate([[0], np.cumsum(count)[:-1]])[life] if n else life
    first = column == 0

    def pad(values: NDArray, fill: float | bool = np.nan) -> NDArray:
        out = np.full(
            (n, max(width, 1)), fill, dtype=np.asarray(values).dtype if fill is not np.nan else float
        )
        out[life, column] = values
        return out

    miles = np.maximum(marks.odometer - began[life], 0.0)
    as_of = np.maximum(as_of_odometer[point] - began, 0.0)
    lives = Lives(
        family=scale.family[point],
        miles=_never_back(pad(miles)),
        wear=pad(marks.wear),
        limit=np.maximum(scale.limit[point] - cuts.total, LEAST_LEFT * scale.limit[point]),
        gauge_sd=pad(scale.gauge_sd[marks.point]),
        as_of_miles=np.where(current, np.fmax(as_of, 0.0), np.nan),
        ended=~current,
        day=pad(np.floor(marks.day + 0.25)),
        miles_sd=pad(marks.odometer_sd),
        unknown_step=pad(cuts.free | (first & ~known[life]), False),
        place=point,
    )
    return lives, pad(marks.source, -1), pad(cuts.taken)


def _never_back(miles: Floats) -> Floats:
    """Miles in order of days that never fall: an odometer read low is held at the one before."""
    return np.where(np.isfinite(miles), np.fmax.accumulate(miles, axis=1), np.nan)


def _take(lives: Lives, index: Ints) -> Lives:
    parts: dict[str, Any] = {name: getattr(lives, name) for name in lives.__dataclass_fields__}
    taken: dict[str, Any] = {name: None if x is None else x[index] for name, x in parts.items()}
    return Lives(**taken)
