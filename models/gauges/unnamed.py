"""A change of gauge, or of the hand that holds it, that nobody wrote down: from one day on all readings of
a kind of part of a vehicle are off by the same.

A hard or an easy season moves readings too, but each part by its own wear and every kind of part of the
vehicle; so does a rate that changes for good. Only where a step explains the readings far better than
either is it believed: what is doubtful is left to the forecast's own spread.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.gauges.gauges_read import GaugesRead
from models.gauges.offsets import RATE_SD, START_SD, USUAL_OFFSET
from models.gauges.precision import Fitted, precision, residuals
from models.lives.table import LifeTable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_LIVES = 3
"""Lives that must have been read both before and after a day."""
FEWEST_READ = 0.5
"""Share of the lives of a kind that must have a reading on the day itself: gauges change at an
examination."""
CHANGED = 0.05
"""Chance before any reading that the gauge of a kind of part was changed once, unnamed. Practice, no
source."""
SURE = 20.0
"""Odds from which a change is believed. [1]"""
SEASON_SD = 0.5
"""Spread of the logarithm of what a season, or a change for good, does to all rates. Practice, no source."""
OVER_SEASONS = 3.0
"""By how much the log evidence of steps must be above that of a season or a change of rate."""


CALMER: Floats = np.array([1.0, 0.25, 0.06])
"""Factors on the Brownian part that are tried: a step that is not known of was taken for wander."""


HINT = 2.0
"""Log likelihood that a step must gain before calmer wear is tried."""


@dataclass(frozen=True)
class _Seen:
    """What the lives of one family on one vehicle say, c factors of ``CALMER``, at each of d days.

    Attributes
    ----------
    plain : shape (c,). Log likelihood if nothing happened.
    score, info : shape (c, 3, d). Of a step of all readings, of a season's wear before the day, of a rate
        that changed on it.
    allowed : shape (d,). Whether enough lives were read on both sides.
    prior : spread of a step, over the bent wear.
    """

    plain: Floats
    score: Floats
    info: Floats
    allowed: NDArray[np.bool_]
    prior: float


def with_unnamed(table: LifeTable, read: GaugesRead, fitted: Fitted) -> GaugesRead:
    """The gauges read, with a further, nameless one for readings that were taken with another from some day
    on.

    Parameters
    ----------
    fitted : the lives as a model sees them.
    """
    vehicle = table.scale.vehicle[table.point]
    changes: list[tuple[int, int, float]] = []  # vehicle, family, day
    for number in np.unique(vehicle):
        lives = np.flatnonzero(vehicle == number)
        nameless = (read.code[lives] >= 0) & (read.name[np.maximum(read.code[lives], 0)] == "")
        if nameless.any():
            changes += _of_vehicle(table, fitted, lives, nameless, int(number))
    for number, family, day in changes:
        own = (vehicle == number) & (table.lives.family == family)
        later = own[:, None] & (read.code >= 0) & (table.lives.day >= day)
        read = _divided(read, later & (read.name[np.maximum(read.code, 0)] == ""))
    return read


def _of_vehicle(
    table: LifeTable, fitted: Fitted, lives: Ints, nameless: NDArray[np.bool_], vehicle: int
) -> list[tuple[int, int, float]]:
    """Kinds of part of a vehicle whose gauge changed, and the day."""
    day = np.where(nameless, table.lives.day[lives], np.nan)
    days = np.unique(day[np.isfinite(day)])[1:]
    if not len(days):
        return []
    families = np.unique(table.lives.family[lives])
    seen = []
    for family in families:
        own = table.lives.family[lives] == family
        sign = table.scale.sign[table.point[lives[own]]]
        seen.append(_seen(fitted.take(lives[own]), day[own], days, sign))
    step = np.stack([np.where(s.allowed, _of_step(s), -np.inf) for s in seen])
    believed = step + np.log(CHANGED / len(days) / (1.0 - CHANGED))
    best = believed.argmax(axis=1)
    odds = believed[np.arange(len(seen)), best]
    other = max(_shared(seen, 1), _shared(seen, 2), 0.0)
    if np.maximum(odds, 0.0).sum() - other < OVER_SEASONS:
        return []
    changed = np.flatnonzero(odds > np.log(SURE))
    return [(vehicle, int(families[i]), float(days[best[i]])) for i in changed]


def _of_step(seen: _Seen) -> Floats:
    """Log evidence for a step of one kind of part at each day, shape (d,)."""
    with_step = seen.plain[:, None] + _log_bayes(seen.score[:, 0], seen.info[:, 0], seen.prior)
    return np.asarray(with_step.max(axis=0) - seen.plain.max())


def _shared(seen: list[_Seen], what: int) -> float:
    """Log evidence of what all kinds of part of a vehicle share, at the day that has the most for it."""
    plain = np.sum([s.plain for s in seen], axis=0)
    score, info = (np.sum([getattr(s, name)[:, what] for s in seen], axis=0) for name in ("score", "info"))
    most = (plain[:, None] + _log_bayes(score, info, SEASON_SD)).max()
    return float(most - sum(s.plain.max() for s in seen))


def _seen(lives: Fitted, day: Floats, days: Floats, sign: Floats) -> _Seen:
    """See :class:`_Seen`."""
    read = np.isfinite(lives.z)
    later = read[:, :, None] & (day[:, :, None] >= days)  # (n, k, d)
    before = read[:, :, None] & (day[:, :, None] < days)
    spans = np.asarray(later.any(axis=1) & before.any(axis=1))
    on_day = (day[:, :, None] == days).any(axis=1)
    u = np.where(read, lives.u, 0.0)
    at = np.where(later, u[:, :, None], np.inf).min(axis=1)
    last = np.where(before, u[:, :, None], 0.0).max(axis=1)
    run = np.where(spans, at - last, 0.0) * lives.mu[:, None]
    gone = np.where(later & spans[:, None, :], u[:, :, None] - last[:, None, :], 0.0)
    step = later * (sign[:, None] * lives.gain)[:, :, None]
    columns = np.concatenate([step, later * run[:, None, :], gone * lives.mu[:, None, None]], axis=2)
    means = np.stack([read.astype(float), u], axis=2)
    found = [_stated(lives, columns, means)]
    score, info = (part[: len(days)] for part in found[0][1:])
    hint = (0.5 * score**2 / np.maximum(info, 1e-300)).max() > HINT
    calmer = CALMER if hint else CALMER[:1]
    found += [_stated(replace(lives, q=lives.q * calm), columns, means) for calm in calmer[1:]]
    found += found[-1:] * (len(CALMER) - len(found))
    plain, score, info = (np.array(part) for part in zip(*found, strict=True))
    allowance = 1.0 / np.median(lives.gain[read]) if read.any() else 1.0
    enough = (spans.sum(axis=0) >= LEAST_LIVES) & (on_day.sum(axis=0) >= FEWEST_READ * spans.sum(axis=0))
    shape = (len(CALMER), 3, len(days))
    return _Seen(plain, score.reshape(shape), info.reshape(shape), enough, USUAL_OFFSET * float(allowance))


def _stated(lives: Fitted, columns: Floats, means: Floats) -> tuple[float, Floats, Floats]:
    """Log likelihood of the lives, and score and information of columns added to the readings, shape (c,);
    the family's mean start and rate taken out."""
    inverse, off = precision(lives), residuals(lives)
    weighed = inverse @ means
    known = np.einsum("nki,nkj->ij", means, weighed) + np.diag([1.0 / START_SD**2, 1.0 / RATE_SD**2])
    pull, turn = np.einsum("nki,nk->i", weighed, off), np.linalg.inv(known)
    own = inverse @ columns
    shared = np.einsum("nkd,nki->di", columns, weighed)
    info = np.einsum("nkd,nkd->d", columns, own) - np.einsum("di,ij,dj->d", shared, turn, shared)
    score = np.einsum("nkd,nk->d", own, off) - shared @ turn @ pull
    absent = (means[:, :, 0] == 0)[:, :, None] * np.eye(means.shape[1])
    size = np.linalg.slogdet(inverse + absent)[1].sum() - np.linalg.slogdet(known)[1]
    square = np.einsum("nk,nkj,nj->", off, inverse, off) - pull @ turn @ pull
    return float(0.5 * (size - square)), score, info


def _log_bayes(score: Floats, info: Floats, sd: float) -> Floats:
    """Log evidence for an effect, normal about 0 with this spread, over none; from its score and
    information."""
    info = np.maximum(info, 0.0)
    return np.asarray(0.5 * score**2 / (info + 1.0 / sd**2) - 0.5 * np.log1p(info * sd**2))


def _divided(read: GaugesRead, later: NDArray[np.bool_]) -> GaugesRead:
    """These readings were taken with a gauge of their own, which has no name either."""
    if not later.any():
        return read
    entry = int(read.code[later][0])
    code = np.where(later, len(read.name), read.code)
    return replace(
        read,
        code=code,
        name=np.append(read.name, ""),
        quantity=np.append(read.quantity, read.quantity[entry]),
        accuracy=np.append(read.accuracy, np.nan),
    )
