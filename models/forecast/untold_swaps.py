"""Two parts that nobody said were exchanged: from some day on the readings of each place go on where those of
the other place stopped.

Every reading that jumps away from its life is asked for a place of the same vehicle, or of another one of its
class, whose life it goes on, and that place's readings for the first one: all that is measured on both parts
counts together, in both directions. Between vehicles the miles run on each count up to a day in the middle of
those between which it happened.
"""

from collections.abc import Iterator, Mapping
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
    vehicle: int
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
    vehicles = tables.get("vehicles", pd.DataFrame(columns=["vehicle", "class"]))
    classes = dict(
        zip(vehicles["vehicle"].astype(str), vehicles["class"].fillna("").astype(str), strict=True)
    )
    swaps = untold_swaps(table, tables["wear_points"].iloc[:own], classes)
    concerned = {point for swap in swaps for point in swap.points}
    explained = [alarm.kind in EXPLAINED and set(alarm.points) <= concerned for alarm in alarms]
    return swaps + [alarm for alarm, gone in zip(alarms, explained, strict=True) if not gone]


def untold_swaps(
    table: LifeTable, points: pd.DataFrame, classes: Mapping[str, str] | None = None
) -> list[Alarm]:
    """Alarms of exchanges that nobody told.

    Parameters
    ----------
    table : lives as the record has them (``as_written``): where no renewal was told, none ends a life.
    points : wear_points, in the order of the table's first ones.
    classes : class of each vehicle; only those of one named class are asked for each other's parts.
    """
    groups = _places(table, points, classes or {})
    named = {point for group in groups for place in group for point in place.points.values()}
    series = _series_of(table, named)
    found: list[tuple[float, list[Alarm]]] = []
    for group in groups:
        between_two = _sure_between_two(group)
        for place in group:
            for between in _jumps(place, series):
                sure, other, day = -np.inf, place, 0.0
                for each in group:
                    asked = (-np.inf, each, 0.0) if each is place else _asked(place, each, series, between)
                    least = SURE if each.vehicle == place.vehicle else between_two
                    if asked[0] >= least and asked[0] > sure:
                        sure, other, day = asked
                if other is not place:
                    found.append((sure, _alarms(table, (place, other), series, day, between)))
    return _each_once(found)


def _sure_between_two(group: list[_Place]) -> float:
    """As ``SURE``, of places of two vehicles: the more pairs of them are asked beside those within one, the
    surer."""
    own = pd.Series([place.vehicle for place in group]).value_counts().to_numpy()
    within = max(int((own * (own - 1)).sum()), 1)
    return SURE + float(np.log(max(len(group) * (len(group) - 1) / within, 1.0)))


def _places(table: LifeTable, points: pd.DataFrame, classes: Mapping[str, str]) -> list[list[_Place]]:
    """Places between which parts of one kind can be exchanged: of one group, and of one vehicle or class."""
    groups: dict[tuple[str, str, str], dict[tuple[int, str], dict[str, int]]] = {}
    cells = (points[name].astype(str) for name in ("component", "position", "quantity", "base_unit"))
    for row, (component, position, quantity, unit) in enumerate(zip(*cells, strict=True)):
        for kind in kinds_with_places():
            if goes_with(kind, component, quantity) != "part":
                continue
            read = read_position(position)
            own = position_of_part(position, kind)
            side = read.side if read is not None and own != position else ""
            feature = "|".join((*feature_of(component, quantity), unit, side))
            vehicle = int(table.scale.vehicle[row])
            name = str(table.scale.vehicles[vehicle])
            of = classes.get(name, "") and f"class {classes[name]}"
            group = (of or name, kind, read.group if read is not None else "")
            groups.setdefault(group, {}).setdefault((vehicle, own), {}).setdefault(feature, row)
    return [
        [_Place(vehicle, words, of_part) for (vehicle, words), of_part in own.items()]
        for own in groups.values()
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
            int(table.scale.vehicle[table.point[life]]),
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
    run = float(after.odometer[new] - before.odometer[old]) - _apart(before, after, day)
    off = float(after.wear[new] - before.wear[old]) - before.rate * run
    return off**2 / (2 * before.sd**2 + (RATE_SD * before.rate * run) ** 2)


def _apart(before: _Series, after: _Series, day: float) -> float:
    """How much further the odometer of the vehicle stands on which a part goes on. [mi] 0 on one vehicle."""
    if before.vehicle == after.vehicle:
        return 0.0
    since = max(before.day[before.day.searchsorted(day) - 1], after.day[after.day.searchsorted(day) - 1])
    until = min(before.day[before.day.searchsorted(day)], after.day[after.day.searchsorted(day)])
    middle = (since + until) / 2
    at = [float(np.interp(middle, each.day, each.odometer)) for each in (after, before)]
    return at[0] - at[1]


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
    ahead = np.stack([np.ones(len(new)), after.odometer[new] - _apart(before, after, day) - here], axis=1)
    cov = ahead @ np.linalg.solve(information, ahead.T) + np.eye(len(new)) * after.sd**2
    off = after.wear[new] - ahead @ state
    square = float(off @ np.linalg.solve(cov, off))
    size = len(new)
    log_det = float(np.linalg.slogdet(cov)[1])
    return -0.5 * log_det - 0.5 * (FREEDOM + size) * float(np.log1p(square / FREEDOM)), square


def _alarms(
    table: LifeTable,
    places: tuple[_Place, _Place],
    series: dict[int, list[_Series]],
    day: float,
    between: tuple[float, float],
) -> list[Alarm]:
    """The alarm of an exchange, with the readings after it; one for each vehicle concerned."""
    names = " and ".join(sorted(_named(table, place, places) for place in places))
    words = (
        f"suspected swap of {names} between {day_words(between[0])} and {day_words(between[1])}: tell it, or "
        "measure both again"
    )
    lives = [life for pair in _both(*places, series, day) for life in pair]
    alarms = []
    for vehicle in dict.fromkeys(place.vehicle for place in places):
        own = [life for life in lives if life.vehicle == vehicle]
        read = [row for life in own for row in life.source[life.day >= day][:LEAST].tolist() if row >= 0]
        points = tuple(life.point for life in own)
        name = str(table.scale.vehicles[vehicle])
        alarms.append(Alarm(SWAP, name, points, between[1], words, tuple(read)))
    return alarms


def _named(table: LifeTable, place: _Place, places: tuple[_Place, _Place]) -> str:
    """A place in words, with its vehicle where the two are not of one."""
    several = places[0].vehicle != places[1].vehicle
    return f"{table.scale.vehicles[place.vehicle]} {place.words}" if several else place.words


def _each_once(found: list[tuple[float, list[Alarm]]]) -> list[Alarm]:
    """Of exchanges about one wear point and nearly one time the surest."""
    kept: list[Alarm] = []
    for _, alarms in sorted(found, key=lambda pair: -pair[0]):
        if not any(_alike(alarm, other) for alarm in alarms for other in kept):
            kept += alarms
    return kept


NEAR = 200.0
"""Days within which two suspected exchanges of one place are one. [d]"""


def _alike(one: Alarm, other: Alarm) -> bool:
    return bool(set(one.points) & set(other.points)) and abs(one.since - other.since) <= NEAR
