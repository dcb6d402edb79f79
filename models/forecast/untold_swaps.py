"""Two parts that nobody said were exchanged: from some day on the readings of each place go on where those of
the other place stopped.

Every reading that jumps away from its life is asked for a place of the same vehicle whose life it goes on,
and that place's readings for the first one: all that is measured on both parts counts together, in both
directions.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.catalogue import feature_of, goes_with
from ingest.catalogue.belongs import kinds_with_places, position_of_part
from ingest.names.positions import read_position
from models.forecast.alarms import FASTER, ODD, SLOWER, SWAP, UNRECORDED, Alarm, day_words
from models.lives.build import build_lives
from models.lives.follow import own_points
from models.lives.table import LifeTable
from models.lives.unrecorded import medians

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BEFORE, AFTER = 4, 3
"""Readings of a life before and after a day that are looked at, the nearest."""
LEAST = 2
"""Of these there must be so many on each side, in one quantity at least."""
JUMP = 3.0
"""Standard errors of a step from which it is asked whether another part came: it decides nothing yet."""
SURE = 10.0
"""Natural logarithm of how much likelier the readings must be with an exchange than without. An engine of 150
wear points, read twice a year, asks about 60 pairs of places at 20 days in ten years."""
FITS = 3.0
"""Mean square, in variances, within which the readings after must go on where the other place stopped."""
RATE_SD = 0.4
"""Spread of the rates of a family's parts over their mean, before any reading. Practice, no source."""
EXPLAINED = (UNRECORDED, FASTER, SLOWER, ODD)
"""Kinds of alarm that an exchange explains."""
MOST_SQUARE = 30.0
"""What a single step counts at most at first sight. [variances]"""
FREEDOM = 4.0
"""Degrees of freedom of the t law of readings: a single wild one must not decide."""


@dataclass(frozen=True)
class _Series:
    """Readings of one life on the odometer of its vehicle, in order."""

    point: int
    day: Floats
    odometer: Floats
    wear: Floats
    sd: float
    rate: float
    source: Ints


@dataclass(frozen=True)
class _Place:
    """Where a part sits: its wear points that go with the part, by what they measure."""

    vehicle: int
    words: str
    points: dict[str, int]


def with_untold_swaps(
    alarms: list[Alarm], tables: dict[str, pd.DataFrame], as_of: pd.Timestamp | None, *, asked: bool
) -> list[Alarm]:
    """The alarms, and those of exchanges that nobody told, which take the place of what they explain.

    Parameters
    ----------
    tables : with parts followed, so that what was told is asked no more.
    asked : False: the alarms as they are. A store that is forecast in runs is not asked: its places may lie
        in different runs.
    """
    if not asked:
        return alarms
    own = own_points(tables)
    table = build_lives(tables, as_of, as_written=True)
    swaps = untold_swaps(table, tables["wear_points"].iloc[:own])
    concerned = {point for swap in swaps for point in swap.points}
    explained = [alarm.kind in EXPLAINED and set(alarm.points) <= concerned for alarm in alarms]
    return swaps + [alarm for alarm, gone in zip(alarms, explained, strict=True) if not gone]


def untold_swaps(table: LifeTable, points: pd.DataFrame) -> list[Alarm]:
    """Alarms of exchanges that nobody told.

    Parameters
    ----------
    table : lives as the record has them (``as_written``): where no renewal was told, none ends a life.
    points : wear_points, in the order of the table's first ones.
    """
    groups = _places(table, points)
    named = {point for group in groups for place in group for point in place.points.values()}
    series = _series_of(table, named)
    found: list[tuple[float, Alarm]] = []
    for group in groups:
        for place in group:
            others = [other for other in group if other is not place]
            for between in _jumps(place, series):
                scored = [_asked(place, other, series, between) for other in others]
                sure, other, day = max(scored, key=lambda asked: asked[0], default=(-np.inf, place, 0.0))
                if sure >= SURE:
                    found.append((sure, _alarm(table, (place, other), series, day, between)))
    return _each_once(found)


def _places(table: LifeTable, points: pd.DataFrame) -> list[list[_Place]]:
    """Places between which parts of one kind can be exchanged: of one vehicle and group."""
    groups: dict[tuple[int, str, str], dict[str, dict[str, int]]] = {}
    cells = (points[name].astype(str) for name in ("component", "position", "quantity", "base_unit"))
    for row, (component, position, quantity, unit) in enumerate(zip(*cells, strict=True)):
        for kind in kinds_with_places():
            if goes_with(kind, component, quantity) != "part":
                continue
            read = read_position(position)
            own = position_of_part(position, kind)
            side = read.side if read is not None and own != position else ""
            feature = "|".join((*feature_of(component, quantity), unit, side))
            group = (int(table.scale.vehicle[row]), kind, read.group if read is not None else "")
            groups.setdefault(group, {}).setdefault(own, {}).setdefault(feature, row)
    return [
        [_Place(vehicle, words, of_part) for words, of_part in own.items()]
        for (vehicle, _, _), own in groups.items()
        if len(own) > 1
    ]


def _series_of(table: LifeTable, points: set[int]) -> dict[int, list[_Series]]:
    """Lives of some wear points as series."""
    lives = table.lives
    run, rise = np.diff(lives.miles, axis=1), np.diff(lives.wear, axis=1)
    read = np.isfinite(rise) & (run > 0)
    owner = np.broadcast_to(lives.family[:, None], rise.shape)[read]
    rate = medians(rise[read] / run[read], owner, lives.n_families)
    off = medians(np.abs(rise[read] - rate[owner] * run[read]), owner, lives.n_families) / 0.6745
    found: dict[int, list[_Series]] = {}
    for life in np.flatnonzero(np.isin(table.point, list(points))):
        count, family = int(lives.count[life]), int(lives.family[life])
        stated = np.nanmax(lives.gauge_sd[life, :count], initial=0.0)
        sd = float(stated) if stated > 0 else float(off[family] / np.sqrt(2))
        if count < LEAST + LEAST or sd <= 0:
            continue
        series = _Series(
            int(table.point[life]),
            lives.day[life, :count],
            table.began_odometer[life] + lives.miles[life, :count],
            lives.wear[life, :count] + table.cut[life, :count],
            sd,
            max(float(rate[family]), 0.0),
            table.source[life, :count],
        )
        found.setdefault(series.point, []).append(series)
    return found


def _jumps(place: _Place, series: dict[int, list[_Series]]) -> list[tuple[float, float]]:
    """Days between which something measured at a place stepped as no wear does."""
    found = set()
    for point in place.points.values():
        for one in series.get(point, []):
            run = np.diff(one.odometer)
            step = np.diff(one.wear) - one.rate * run
            usual = np.sqrt(2 * one.sd**2 + (RATE_SD * one.rate * run) ** 2)
            for k in np.flatnonzero(np.abs(step) > JUMP * usual):
                found.add((float(one.day[k]), float(one.day[k + 1])))
    return sorted(found)


def _asked(
    place: _Place, other: _Place, series: dict[int, list[_Series]], between: tuple[float, float]
) -> tuple[float, _Place, float]:
    """How much likelier an exchange of two places between two days makes their readings: log likelihood
    ratio, the other place, the day from which readings count as after it."""
    best = (-np.inf, other, between[1])
    for day in (float(np.nextafter(between[0], np.inf)), between[1]):
        pairs = list(_both(place, other, series, day))
        if not _at_first_sight(pairs, day):
            continue
        sure, fit, count, most = 0.0, 0.0, 0, 0
        for one, two in pairs:
            for own, foreign in ((one, two), (two, one)):
                goes, off = _likelihood(foreign, own, day)
                sure += goes - _likelihood(own, own, day)[0]
                fit += off
                count += int(min((own.day >= day).sum(), AFTER))
            most = max(most, min(_enough(one, day), _enough(two, day)))
        if most >= LEAST and fit <= FITS * count and sure > best[0]:
            best = (sure, other, day)
    return best


def _at_first_sight(pairs: list[tuple[_Series, _Series]], day: float) -> bool:
    """Whether the first readings after a day fit the other place's last ones before it better than their own:
    a look that costs little, before the whole readings are asked."""
    stays = goes = 0.0
    for one, two in pairs:
        for own, foreign in ((one, two), (two, one)):
            stays += min(_step(own, own, day), MOST_SQUARE)
            goes += min(_step(foreign, own, day), MOST_SQUARE)
    return stays - goes > SURE and goes < FITS * FITS * len(pairs)


def _step(before: _Series, after: _Series, day: float) -> float:
    """Square of a step between two readings about a day, in variances."""
    old, new = int(before.day.searchsorted(day)) - 1, int(after.day.searchsorted(day))
    run = float(after.odometer[new] - before.odometer[old])
    off = float(after.wear[new] - before.wear[old]) - before.rate * run
    return off**2 / (2 * before.sd**2 + (RATE_SD * before.rate * run) ** 2)


def _both(
    place: _Place, other: _Place, series: dict[int, list[_Series]], day: float
) -> Iterator[tuple[_Series, _Series]]:
    """Lives of two places that measure the same and were read before and after a day."""
    for feature in sorted(place.points.keys() & other.points.keys()):
        one, two = (_life_on(series.get(each.points[feature], []), day) for each in (place, other))
        if one is not None and two is not None:
            yield one, two


def _enough(series: _Series, day: float) -> int:
    """The fewer of the readings before and after a day."""
    return int(min((series.day < day).sum(), (series.day >= day).sum()))


def _life_on(lives: list[_Series], day: float) -> _Series | None:
    """The life that was read both before and after a day."""
    return next((one for one in lives if one.day[0] < day <= one.day[-1]), None)


def _likelihood(before: _Series, after: _Series, day: float) -> tuple[float, float]:
    """Log likelihood (t law, up to a constant) of the readings of one series after a day as those that go on
    from another before it; the sum of squares in standard deviations."""
    old = np.flatnonzero(before.day < day)[-BEFORE:]
    new = np.flatnonzero(after.day >= day)[:AFTER]
    m, w = before.odometer[old], before.wear[old]
    here = m[-1]
    # Level at the last reading free, rate by the family and the readings.
    design = np.stack([np.ones_like(m), m - here], axis=1)
    prior = np.array([0.0, before.rate])
    spread = max(RATE_SD * before.rate, 1e-12)
    information = design.T @ design / before.sd**2 + np.diag([0.0, spread**-2])
    state = np.linalg.solve(information, design.T @ w / before.sd**2 + prior / np.array([np.inf, spread**2]))
    ahead = np.stack([np.ones(len(new)), after.odometer[new] - here], axis=1)
    cov = ahead @ np.linalg.solve(information, ahead.T) + np.eye(len(new)) * after.sd**2
    off = after.wear[new] - ahead @ state
    square = float(off @ np.linalg.solve(cov, off))
    size = len(new)
    log_det = float(np.linalg.slogdet(cov)[1])
    return -0.5 * log_det - 0.5 * (FREEDOM + size) * float(np.log1p(square / FREEDOM)), square


def _alarm(
    table: LifeTable,
    places: tuple[_Place, _Place],
    series: dict[int, list[_Series]],
    day: float,
    between: tuple[float, float],
) -> Alarm:
    """The alarm of an exchange, with the readings after it."""
    points: list[int] = []
    read: list[int] = []
    for pair in _both(*places, series, day):
        points += [life.point for life in pair]
        for life in pair:
            read += life.source[life.day >= day][:LEAST].tolist()
    names = " and ".join(sorted(place.words for place in places))
    words = (
        f"suspected swap of {names} between {day_words(between[0])} and {day_words(between[1])}: tell it, or "
        "measure both again"
    )
    vehicle = str(table.scale.vehicles[places[0].vehicle])
    return Alarm(SWAP, vehicle, tuple(points), between[1], words, tuple(row for row in read if row >= 0))


def _each_once(found: list[tuple[float, Alarm]]) -> list[Alarm]:
    """Of alarms about one wear point and nearly one time the surest."""
    kept: list[Alarm] = []
    for _, alarm in sorted(found, key=lambda pair: -pair[0]):
        if not any(_alike(alarm, other) for other in kept):
            kept.append(alarm)
    return kept


NEAR = 200.0
"""Days within which two suspected exchanges of one place are one. [d]"""


def _alike(one: Alarm, other: Alarm) -> bool:
    return bool(set(one.points) & set(other.points)) and abs(one.since - other.since) <= NEAR
