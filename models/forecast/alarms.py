"""What people must know at once, each with the readings that say so: one list for the flags, the first page,
the printed forecast and JSON.

An alarm never changes a forecast; what it is about was taken into account, or widened it, where it was found.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.gauges.fit_alike import FittedAlike
from models.lives.bend import bends_at
from models.lives.table import LifeTable
from models.seasons.changes import changes_of
from models.seasons.shared import Shared
from models.wear.model import PooledWear

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GAUGE, FASTER, SLOWER = "gauge", "faster since", "slower since"
SWAP, SWAPPED, UNRECORDED, ODD = "suspected swap", "swapped", "unrecorded renewal", "odd reading"
NO_WEAR = "no wear"
KINDS = (GAUGE, FASTER, SLOWER, SWAP, SWAPPED, UNRECORDED, NO_WEAR, ODD)
"""Kinds of alarm, what concerns most parts first."""
DEPARTED = 0.5
"""Chance from which a part is said to wear faster than in its own past."""
WILD = 0.5
"""Chance from which a reading is named as odd."""
GAUGE_OFF = 0.9
"""Chance from which a gauge is said to read otherwise than the first."""
READ = 6
"""Readings that stand beside an alarm at most."""
COLUMNS = ["kind", "vehicle", "point", "since", "words", "settled", "date", "value", "unit", "row_id"]
"""Of the frame ``alarms``: a row for each reading that raised an alarm, and for each point without one. Rows
of one kind, vehicle, day and words are one alarm; values in the point's own unit."""


@dataclass(frozen=True)
class Alarm:
    """One thing that people must know.

    Attributes
    ----------
    kind : one of ``KINDS``.
    vehicle : name.
    points : rows of the wear points concerned.
    since : day from which it holds, days since 1970-01-01. [d]
    words : one phrase without ``;``, which is also a flag of its points. It holds the word of its kind.
    readings : rows of the readings table that raised it.
    settled : later readings have answered it; nothing is to be done.
    """

    kind: str
    vehicle: str
    points: tuple[int, ...]
    since: float
    words: str
    readings: tuple[int, ...] = ()
    settled: bool = False


def alarms_of_lives(table: LifeTable, model: PooledWear | None) -> list[Alarm]:
    """Alarms that single lives raise: renewals missing from the record, odd readings of parts in service.

    Parameters
    ----------
    model : fitted to the lives; None: no reading was judged.
    """
    alarms = list(_unrecorded(table))
    if model is not None:
        alarms += [*_own_pace(table, model), *_odd(table, model)]
    return alarms


def alarms_of_gauges(alike: FittedAlike, per_base: Floats, units: Sequence[str]) -> list[Alarm]:
    """Gauges that read otherwise than the first of their kind: an alarm for each vehicle they were used on.

    Parameters
    ----------
    per_base, units : shape (points,). Of the wear points.
    """
    if alike.offsets is None:
        return []
    table, code, offsets = alike.table, alike.read.code, alike.offsets
    alarms = []
    for gauge in np.flatnonzero(offsets.chance >= GAUGE_OFF):
        life, column = np.nonzero(code == gauge)
        point = table.point[life]
        for vehicle in np.unique(table.scale.vehicle[point]):
            own = np.flatnonzero(table.scale.vehicle[point] == vehicle)
            at = own[np.argsort(table.lives.day[life[own], column[own]], kind="stable")]
            since = table.lives.day[life[at[0]], column[at[0]]]
            read = table.source[life[at], column[at]]
            first = int(point[at[0]])
            much = f"{abs(offsets.size[gauge]) * per_base[first]:.2g} {units[first]}"
            way = "higher" if offsets.size[gauge] > 0 else "lower"
            names = alike.read.name[[gauge, offsets.first[gauge]]]
            words = _gauge_words(names, f"{much} {way}", day_words(since))
            named = tuple(dict.fromkeys(point[at].tolist()))
            alarms.append(Alarm(GAUGE, vehicle_of(table, first), named, since, words, _ints(read[:READ])))
    return alarms


def _gauge_words(names: NDArray[np.object_], much: str, since: str) -> str:
    """What a gauge reads against the first; ``;`` parts one flag from the next."""
    gauge, first = (str(name).replace(";", ",") for name in names)
    if not gauge:
        return f"readings since {since} are {much} than those before, as by another gauge: put right, confirm"
    than = f"gauge {first}" if first else "the gauge before"
    return f"gauge {gauge} reads {much} than {than} since {since}: put right, have both checked"


def alarms_of_vehicles(shared: Shared, point: Ints) -> list[Alarm]:
    """Alarms that all parts of a vehicle raise together: they wear faster or slower since some season.

    Parameters
    ----------
    point : rows of the wear points that are forecast.
    """
    table, alarms = shared.table, []
    for change in changes_of(shared):
        since = float(np.datetime64(f"{change.year}-01-01", "D").astype(np.int64))
        lives = np.flatnonzero(table.scale.vehicle[table.point] == change.vehicle)
        after = (table.lives.day[lives] >= since) & (table.source[lives] >= 0)
        of = tuple(_ints(point[table.scale.vehicle[point] == change.vehicle]))
        vehicle = str(table.scale.vehicles[change.vehicle])
        kind = FASTER if change.factor > 1 else SLOWER
        read = _ints(np.sort(table.source[lives][after]))
        alarms.append(Alarm(kind, vehicle, of, since, change.words, read))
    return alarms


def _unrecorded(table: LifeTable) -> Iterable[Alarm]:
    for point, before, after in zip(
        table.suspected.point, table.suspected.day_before, table.suspected.day_after, strict=True
    ):
        words = f"unrecorded renewal suspected between {day_words(before)} and {day_words(after)}: confirm"
        rows = np.flatnonzero((table.point == point) & np.isfinite(table.lives.day).any(axis=1))
        about = np.isin(np.where(table.source[rows] >= 0, table.lives.day[rows], np.nan), (before, after))
        yield Alarm(
            UNRECORDED,
            vehicle_of(table, point),
            (int(point),),
            after,
            words,
            _ints(table.source[rows][about]),
        )


def _own_pace(table: LifeTable, model: PooledWear) -> Iterable[Alarm]:
    """Parts in service that have left their family's way of wearing and wear faster and faster."""
    life = table.in_service[np.flatnonzero(table.reason == "")]
    for own in life[model.departed_[model.row_of_[life]] >= DEPARTED]:
        column = bends_at(table.lives.miles[own], table.lives.wear[own])
        since, point = float(table.lives.day[own, column]), int(table.point[own])
        year = day_words(since)[:4]
        words = f"wears faster since {year} than in its own past, unlike its kind: measure again"
        source = table.source[own, column:]
        yield Alarm(FASTER, vehicle_of(table, point), (point,), since, words, _ints(source[source >= 0]))


def _odd(table: LifeTable, model: PooledWear) -> Iterable[Alarm]:
    life = table.in_service[np.flatnonzero(table.reason == "")]
    odd = model.wild_[model.row_of_[life]] >= WILD
    last = table.lives.count[life] - 1
    for row, column in np.argwhere(odd):
        own, day = life[row], table.lives.day[life[row], column]
        settled = bool((~odd[row, column + 1 : last[row] + 1]).any())
        do = "a later one is as expected" if settled else "measure again"
        words = f"odd reading on {day_words(day)}: counts little, {do}"
        source = int(table.source[own, column])
        point = int(table.point[own])
        read = (source,) if source >= 0 else ()
        yield Alarm(ODD, vehicle_of(table, point), (point,), day, words, read, settled)


def alarm_flags(alarms: Sequence[Alarm]) -> list[tuple[int, str]]:
    """Wear point and phrase of every alarm, in the order of ``KINDS``."""
    order = sorted(alarms, key=lambda alarm: (KINDS.index(alarm.kind), alarm.since))
    return [(point, alarm.words) for alarm in order for point in alarm.points]


def alarms_frame(alarms: Sequence[Alarm], points: pd.DataFrame, readings: pd.DataFrame) -> pd.DataFrame:
    """The frame ``alarms`` of a run (``COLUMNS``), in the order of ``KINDS``, the latest first.

    Parameters
    ----------
    points, readings : tables wear_points and readings in normalised form (``ingest.schema``).
    """
    order = sorted(
        alarms, key=lambda alarm: (alarm.settled, KINDS.index(alarm.kind), -alarm.since, alarm.vehicle)
    )
    codes = pd.Index(points["point"])
    rows: list[tuple[int, int, int]] = []  # alarm, wear point, reading
    for number, alarm in enumerate(order):
        read = list(alarm.readings)
        of_point = codes.get_indexer(pd.Index(readings["point"].iloc[read])).tolist()
        rows += [(number, point, reading) for point, reading in zip(of_point, read, strict=True)]
        rows += [(number, point, -1) for point in alarm.points if point not in of_point]
    which, where, read_in = np.array(rows, dtype=np.int64).reshape(-1, 3).T
    # -1 takes the row of an empty reading that is put at the end
    told = readings.reindex(columns=["date", "value", "row_id"]).reset_index(drop=True)
    told = told.reindex(np.where(read_in >= 0, read_in, len(told)))
    since = np.array([alarm.since for alarm in order] or [0.0])
    return pd.DataFrame(
        {
            "kind": _texts(alarm.kind for alarm in order)[which],
            "vehicle": _texts(alarm.vehicle for alarm in order)[which],
            "point": points["point"].to_numpy()[where],
            "since": np.floor(since).astype("datetime64[D]").astype("datetime64[us]")[which],
            "words": _texts(alarm.words for alarm in order)[which],
            "settled": np.array([alarm.settled for alarm in order], dtype=bool)[which],
            "date": told["date"].to_numpy().astype("datetime64[us]"),
            "value": told["value"].to_numpy(float) * points["per_base"].to_numpy(float)[where],
            "unit": points["unit"].to_numpy()[where],
            "row_id": told["row_id"].fillna(-1).to_numpy(np.int64),
        }
    )[COLUMNS]


def vehicle_of(table: LifeTable, point: int) -> str:
    """Name of a wear point's vehicle."""
    return str(table.scale.vehicles[table.scale.vehicle[point]])


def day_words(day: float) -> str:
    """A day as people write it in a table: 2024-05-31."""
    return str(np.datetime64(int(day), "D"))


def _texts(texts: Iterable[str]) -> NDArray[np.object_]:
    return np.array(list(texts), dtype=object)


def _ints(values: Ints) -> tuple[int, ...]:
    return tuple(int(value) for value in values)
