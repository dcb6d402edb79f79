"""From what is on record to lives.

A renewal ends a life and begins the next. A cut moves the dimension within a life. Toward the limit: what it
took is no wear, so it is taken out of the readings after it and off the wear that is left to the limit
(unknown depth: the level is left free there). Away from the limit: the wear was restored and a new life
begins. A part whose beginning is not on record has a free first level.
"""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.lives.record import SAME_DAY, Events, Marks, MileageLogs, OnRecord
from models.lives.table import EveryLife, LifeTable, Lives, Suspected, combine_hash
from models.lives.wear_scale import WearScale

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LEAST_LEFT = 0.02
"""Share of the allowance that a life is taken to have had for wear, however much was cut: a scale, no
claim."""
NEW_AT_MILES = 1.0
"""A vehicle whose log begins at no more than this was new then, and so were its parts. [mi]"""


@dataclass(frozen=True)
class _Cuts:
    """What cuts took.

    Attributes
    ----------
    before_mark : shape (marks,). In its life before each mark. [base unit]
    in_life : shape (all lives,). [base unit]
    unknown : shape (marks,). A cut of unknown depth comes right before this mark.
    """

    before_mark: Floats
    in_life: Floats
    unknown: Bools


def life_table(record: OnRecord, scale: WearScale) -> LifeTable:
    """Lives of all wear points as the record has them, and why a point cannot be forecast."""
    events = record.events
    renewals = np.bincount(events.point[events.renews], minlength=len(scale.sign))
    first_life = np.cumsum(renewals + 1) - (renewals + 1)
    marks = record.marks
    life_of_mark = first_life[marks.point] + record.number
    spans = _spans(scale, record.logs, events, renewals, marks, life_of_mark)
    spans = _of_moved_parts(spans, record, renewals, life_of_mark)
    life_of_event = first_life[events.point] + _renewals_until(events)
    cuts = _cuts(marks, life_of_mark, events, life_of_event, len(spans.point))
    lives, source, cut = _padded(scale, marks, life_of_mark, cuts, spans, record)
    reason = scale.reason.copy()
    _say(reason, ~np.isfinite(record.as_of_odometer), "the vehicle has no mileage on record")
    usable = (reason == "")[spans.point] & np.isfinite(spans.began_odometer)
    keep = np.flatnonzero(usable)
    place = np.full(len(usable), -1)
    place[keep] = np.arange(len(keep))
    table = LifeTable(
        scale=scale,
        as_of_day=record.as_of_day,
        as_of_odometer=record.as_of_odometer,
        lives=lives.take(keep),
        point=spans.point[keep],
        number=spans.renewals[keep] + 1,
        began_day=spans.began_day[keep],
        began_odometer=spans.began_odometer[keep],
        cut=cut[keep],
        cut_now=cuts.in_life[keep],
        source=source[keep],
        in_service=_where_fitted(place[first_life + renewals], record.tracks),
        reason=reason,
        suspected=Suspected(np.empty(0, dtype=np.int64), np.empty(0), np.empty(0)),
        every=spans,
    )
    return replace(table, reason=_reasons(table))


def _say(reason: NDArray[np.object_], where: Bools, text: str) -> None:
    """Give a reason to the wear points that have none yet."""
    reason[where & (reason == "")] = text


def _reasons(table: LifeTable) -> NDArray[np.object_]:
    """Why a wear point cannot be forecast, its lives and the readings of its family considered."""
    reason, family = table.reason.copy(), table.scale.family
    known = table.in_service >= 0
    _say(reason, ~known, "the beginning of the life is not on record")
    count = table.lives.count
    readings = np.bincount(table.lives.family, count, minlength=len(table.scale.family_name))
    _say(reason, readings[family] == 0, "no reading of this kind of part yet")
    life = table.in_service[known]
    unseen = np.zeros(len(reason), dtype=bool)
    unseen[known] = (
        (count[life] == 0) & (table.number[life] == 1) & (table.began_odometer[life] > NEW_AT_MILES)
    )
    _say(reason, unseen, "no reading, and no renewal on record")
    return reason


def _renewals_until(events: Events) -> Ints:
    """Renewals of its point up to and with each event, which come in order of point and day."""
    count = np.cumsum(events.renews)
    before = np.searchsorted(events.point, events.point, side="left")
    return np.asarray(count - np.concatenate([[0], count])[before], dtype=np.int64)


def _spans(
    scale: WearScale, logs: MileageLogs, events: Events, renewals: Ints, marks: Marks, life: Ints
) -> EveryLife:
    """Where each life begins: at its renewal, with the log, or with the first mark."""
    point = np.repeat(np.arange(len(renewals)), renewals + 1)
    number = np.arange(len(point)) - (np.cumsum(renewals + 1) - (renewals + 1))[point]
    vehicle = scale.vehicle[point]
    first_day, first_mark = np.full(len(point), np.inf), np.full(len(point), np.inf)
    np.minimum.at(first_day, life, marks.day)
    np.minimum.at(first_mark, life, marks.odometer)
    logged = np.isfinite(logs.first[vehicle])
    read = np.isfinite(first_mark)
    day = np.where(logged, logs.first_day[vehicle], np.where(read, np.floor(first_day), np.nan))
    odometer = np.where(logged, logs.first[vehicle], np.where(read, first_mark, np.nan))
    new_then = logged & (odometer <= NEW_AT_MILES)
    later = number > 0
    day[later], odometer[later] = events.day[events.renews], events.odometer[events.renews]
    new_then[later] = True
    current = number == renewals[point]
    end_odometer, end_worn = np.full((2, len(point)), np.nan)
    # Renewals and the lives that they ended come in one order: of point, then of day.
    unmeasured = np.isnan(events.before) & np.isnan(events.step)
    end_odometer[~current] = np.where(unmeasured, events.odometer, np.nan)[events.renews]
    end_worn[~current] = events.worn[events.renews]
    began = np.minimum(odometer, first_mark)
    return EveryLife(point, number, day, began, new_then, current, end_odometer, end_worn)


def _of_moved_parts(spans: EveryLife, record: OnRecord, renewals: Ints, life: Ints) -> EveryLife:
    """The lives of parts that moved: they began where the part was first fitted, and ended where it was taken
    off for good."""
    tracks = record.tracks
    if tracks is None:
        return spans
    told = {name: tracks[name].to_numpy() for name in tracks}
    first = np.cumsum(renewals + 1) - (renewals + 1)
    day, odometer, new = spans.began_day.copy(), spans.began_odometer.copy(), spans.new_then.copy()
    some = np.isfinite(told["began_odometer"])
    rows = first[told["target"][some]]
    first_mark = np.full(len(spans.point), np.inf)
    np.minimum.at(first_mark, life, record.marks.odometer)
    day[rows], new[rows] = told["began_day"][some], told["new_then"][some]
    odometer[rows] = np.minimum(told["began_odometer"][some], first_mark[rows])
    current, end_odometer, end_worn = spans.current.copy(), spans.end_odometer.copy(), spans.end_worn.copy()
    gone = np.isfinite(told["gone_day"])
    rows = (first + renewals)[told["target"][gone]]
    current[rows], end_odometer[rows] = False, told["gone_odometer"][gone]
    end_worn[rows] = told["worn"][gone]
    return replace(
        spans,
        began_day=day,
        began_odometer=odometer,
        new_then=new,
        current=current,
        end_odometer=end_odometer,
        end_worn=end_worn,
    )


def _where_fitted(in_service: Ints, tracks: pd.DataFrame | None) -> Ints:
    """The life in service of each wear point; -1 for parts that went."""
    if tracks is None:
        return in_service
    fitted = in_service.copy()
    fitted[tracks.loc[np.isfinite(tracks["gone_day"]), "target"]] = -1
    return fitted


def _cuts(marks: Marks, life: Ints, events: Events, life_of_event: Ints, n_lives: int) -> _Cuts:
    """What cuts took before each mark and in each life, and where a depth is unknown.

    A mark of the day of a cut is of before or after, whichever measurement of that day it is nearer to.
    """
    before_mark, in_life, unknown = np.zeros(len(life)), np.zeros(n_lives), np.zeros(len(life), dtype=bool)
    for i in np.flatnonzero(~events.renews):  # a few per wear point at most; each touches one life's marks
        own = life_of_event[i]
        low, high = np.searchsorted(life, [own, own + 1])
        days, wear = marks.day[low:high], marks.wear[low:high]
        nearer_after = np.abs(wear - events.after[i]) < np.abs(wear - events.before[i])
        later = (days > events.day[i]) | ((days == events.day[i]) & nearer_after)
        if np.isfinite(events.step[i]):
            before_mark[low:high][later] += events.step[i]
            in_life[own] += events.step[i]
        elif later.any():
            unknown[low + int(later.argmax())] = True
    return _Cuts(before_mark, in_life, unknown)


def _padded(
    scale: WearScale, marks: Marks, life: Ints, cuts: _Cuts, spans: EveryLife, record: OnRecord
) -> tuple[Lives, Ints, Floats]:
    """The marks as one row a life; the source of each and what was cut before it, in the same places."""
    place_of = np.arange(len(scale.sign))
    if record.tracks is not None:  # a part that went leaves its memory at its place
        place_of[record.tracks["target"]] = record.tracks["row"]
    n, point = len(spans.point), spans.point
    count = np.bincount(life, minlength=n)
    column = np.arange(len(life)) - (np.cumsum(count) - count)[life]
    width = max(int(count.max(initial=0)), 1)

    def pad(values: NDArray, fill: float | bool = np.nan) -> NDArray:
        padded = np.full((n, width), fill, dtype=np.result_type(values.dtype, type(fill)))
        padded[life, column] = values
        return padded

    as_of_miles = np.maximum(record.as_of_odometer[point] - spans.began_odometer, 0.0)
    unknown = pad(cuts.unknown | ((column == 0) & ~spans.new_then[life]), False)
    unknown[(count == 0) & ~spans.new_then, 0] = True
    lives = Lives(
        family=scale.family[point],
        miles=_never_back(pad(np.maximum(marks.odometer - spans.began_odometer[life], 0.0))),
        wear=pad(marks.wear - cuts.before_mark),
        limit=np.maximum(scale.limit[point] - cuts.in_life, LEAST_LEFT * scale.limit[point]),
        gauge_sd=pad(scale.gauge_sd[marks.point]),
        as_of_miles=np.where(spans.current, np.fmax(as_of_miles, 0.0), np.nan),
        ended=~spans.current,
        day=pad(np.floor(marks.day + SAME_DAY)),
        miles_sd=pad(marks.odometer_sd),
        unknown_step=unknown,
        place=place_of[point],
        key=combine_hash(scale.key[point], spans.renewals),
        end_miles=np.maximum(spans.end_odometer - spans.began_odometer, 0.0),
        end_worn=spans.end_worn,
    )
    return lives, pad(marks.source, -1), pad(cuts.before_mark)


def _never_back(miles: Floats) -> Floats:
    """Miles in order of days that never fall: an odometer read low is held at the one before."""
    return np.where(np.isfinite(miles), np.fmax.accumulate(miles, axis=1), np.nan)
