"""Lives in relative units: wear as a share of the family's allowance, distance in lives of the family.

Whatever unit the readings came in, the numbers that the model sees are the same; its priors can be stated
once, and nothing overflows.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.lives.table import Lives, combine_hash
from models.wear.shapes import Shape

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SLOWEST = 0.02
"""A family whose readings show no wear is taken to use this share of its allowance on its longest run: a
scale, no claim."""
USUAL_GAUGE = 0.012
"""Gauge error as a share of the allowance where none is stated; a scale for steps of the level only."""
STEP_UNKNOWN = 0.3
"""Standard deviation of a level that may be anything, as a share of the allowance."""
PASSAGE_SD = 0.1
"""How far from the limit a part was that came off worn without a measurement, as a share of the allowance:
shops renew at the winter before the limit or at the first look after it. Practice, no source."""
READ_TO_TELL = 1
"""Readings up to which a life's passage is taken in. Where there are more they tell its rate better; where
there are none, it is one of the fastest, and left out the family would seem to last longer than it does."""


@dataclass(frozen=True)
class Relative:
    """n lives of f families, lives sorted by family.

    Attributes
    ----------
    order : shape (n,). Row of each life in the lives given.
    starts, sizes : shape (f,). First life and number of lives of each family; every family has one.
    family : shape (f,). The family's number in the lives given.
    m, w : shape (n, k). Relative miles and wear; NaN where there is no reading.
    limit : shape (n,). Relative wear at the limit; about 1.
    noise : shape (n, k). Variance of a reading over that of the family's usual gauge.
    jump : shape (n, k) or None. Variance of an unknown step before the reading, same unit as ``noise``.
    as_of : shape (n,). Relative miles at which remaining miles are counted; those of the last reading for an
        ended life.
    allowance, life : shape (f,). Wear [unit of the lives] and distance [mi] that are 1.
    gauge : shape (f,). Relative gauge error where stated, else NaN.
    key : shape (n,). Hash of each life, whatever became of it.
    worn : shape (n,) or None. Then the last column of ``m``, ``w`` and ``noise`` is no reading: there a life
        that was renewed without a measurement met its limit, more or less, if it came off worn; 1 where that
        is told, NaN where it is not, 0 or not at all (``w`` NaN) elsewhere.
    place : shape (n,) or None. As in :class:`models.lives.table.Lives`.
    offset : shape (n,) or None. What is known of each life's rate beforehand, over its family's mean rate.
    """

    order: Ints
    starts: Ints
    sizes: Ints
    family: Ints
    m: Floats
    w: Floats
    limit: Floats
    noise: Floats
    jump: Floats | None
    as_of: Floats
    allowance: Floats
    life: Floats
    gauge: Floats
    key: NDArray[np.uint64]
    worn: Floats | None = None
    place: Ints | None = None
    offset: Floats | None = None

    def per_life(self, values: Floats) -> Floats:
        """Values of families (last axis f) at each of their lives (last axis n)."""
        return np.repeat(values, self.sizes, axis=-1)


def relative(lives: Lives) -> Relative:
    """Scale the lives of every family by its own allowance and life."""
    order = np.argsort(lives.family, kind="stable")
    family = lives.family[order]
    starts = np.flatnonzero(np.diff(family, prepend=-1))
    sizes = np.diff(np.append(starts, len(family)))
    limit = lives.limit[order]
    allowance = np.exp(np.add.reduceat(np.log(limit), starts) / sizes)
    per_life = np.repeat(allowance, sizes)
    miles, wear = lives.miles[order], lives.wear[order]
    present = np.isfinite(miles) & np.isfinite(wear)
    m = np.where(present, miles, np.nan)
    w = np.where(present, wear / per_life[:, None], np.nan)
    passed, worn = _passages(lives, order)
    as_of = np.where(
        np.isfinite(lives.as_of_miles[order]), lives.as_of_miles[order], np.where(present, m, 0.0).max(1)
    )
    life = _life(np.column_stack([m, passed]), np.column_stack([w, limit / per_life]), as_of, starts)
    scale = np.repeat(life, sizes)
    gauge, noise = _gauges(np.where(present, lives.gauge_sd[order], np.nan), allowance, starts, sizes)
    m = m / scale[:, None]
    usual = np.where(np.isfinite(gauge), gauge, USUAL_GAUGE)[:, None].repeat(sizes, axis=0)
    if lives.miles_sd is not None:
        noise = noise + (known_or_zero(lives.miles_sd[order]) / scale[:, None] / usual) ** 2
    jump = None
    if lives.unknown_step is not None and lives.unknown_step.any():
        jump = _jumps(lives.unknown_step[order], m, w, starts, sizes) / usual**2
    if worn is not None:
        m, w, noise, jump = _with_passages((m, w, noise, jump), passed / scale, limit / per_life, usual)
    return Relative(
        order,
        starts,
        sizes,
        family[starts],
        m,
        w,
        limit / per_life,
        noise,
        jump,
        as_of / scale,
        allowance,
        life,
        gauge,
        combine_hash(np.zeros(len(order), dtype=np.uint64), order) if lives.key is None else lives.key[order],
        worn,
        None if lives.place is None else lives.place[order],
    )


def _passages(lives: Lives, order: Ints) -> tuple[Floats, Floats | None]:
    """Miles at which lives, in this order, met their limit unmeasured, NaN where they did not; and whether
    that is told (1) or not (NaN). None where there is no such life."""
    if lives.end_miles is None or lives.end_worn is None:
        return np.full(len(order), np.nan), None
    worn = lives.end_worn[order]
    last = known_or_zero(np.where(np.isfinite(lives.wear), lives.miles, 0.0)).max(axis=1, initial=0.0)[order]
    passed = np.where(worn == 0.0, np.nan, np.maximum(lives.end_miles[order], last))
    count = lives.count[order]
    passed = np.where((passed > 0) & (count <= READ_TO_TELL), passed, np.nan)
    if lives.unknown_step is not None:  # unmeasured, its beginning not on record: no distance is known
        passed = np.where((count == 0) & lives.unknown_step[order, 0], np.nan, passed)
    # A family's readings tell its gauge; more passages than that would say that it is as coarse as they are.
    readings, passages = (np.bincount(lives.family[order], x) for x in (count, np.isfinite(passed)))
    passed = np.where((passages <= readings)[lives.family[order]], passed, np.nan)
    return passed, worn if np.isfinite(passed).any() else None


def _with_passages(
    arrays: tuple[Floats, Floats, Floats, Floats | None], passed: Floats, limit: Floats, usual: Floats
) -> tuple[Floats, Floats, Floats, Floats | None]:
    """Miles, wear, noise and steps with the passages as a last column.

    Given the rate, the density of a first passage at a distance is that of the level being at the limit
    there, times a factor without parameters (the inverse Gaussian's h/d): so a passage enters as a reading of
    the limit.
    """
    m, w, noise, jump = arrays
    met = np.isfinite(passed)
    m = np.column_stack([m, passed])
    unread = ~np.isfinite(w).any(axis=1)
    w = np.column_stack([w, np.where(met, limit, np.nan)])
    noise = np.column_stack([noise, np.where(met, (PASSAGE_SD / usual[:, 0]) ** 2, 1.0)])
    if jump is not None:
        # A life without a reading, its beginning not on record: what it had worn then is not known.
        jump = np.column_stack([jump, np.where(unread, jump[:, 0], 0.0)])
    return m, w, noise, jump


def _life(m: Floats, w: Floats, as_of: Floats, starts: Ints) -> Floats:
    """Distance at which the pooled wear reaches the allowance. [mi]"""
    m, w = known_or_zero(m), known_or_zero(w)
    longest = np.maximum.reduceat(np.maximum(m.max(axis=1), as_of), starts)
    longest = np.where(longest > 0, longest, 1.0)
    square = np.add.reduceat((m * m).sum(axis=1), starts)
    rate = np.add.reduceat((m * w).sum(axis=1), starts) / np.where(square > 0, square, 1.0)
    return np.asarray(1.0 / np.maximum(rate, SLOWEST / longest))


def _gauges(sd: Floats, allowance: Floats, starts: Ints, sizes: Ints) -> tuple[Floats, Floats]:
    """Usual gauge error of each family, and each reading's variance over its square."""
    stated = np.isfinite(sd) & (sd > 0)
    count = np.add.reduceat(stated.sum(axis=1), starts)
    logs = np.add.reduceat(np.where(stated, np.log(np.where(stated, sd, 1.0)), 0.0).sum(axis=1), starts)
    usual = np.exp(logs / np.maximum(count, 1))
    ratio = np.where(stated, sd / np.repeat(usual, sizes)[:, None], 1.0)
    return np.where(count > 0, usual / allowance, np.nan), ratio**2


def _jumps(free: NDArray[np.bool_], m: Floats, w: Floats, starts: Ints, sizes: Ints) -> Floats:
    """Variance of unknown steps. For first readings the family's own lives say how new their parts were.

    A part whose past is not on record may have been new when the record began, or half worn: the mean square
    of (first reading - pooled rate x miles on record) over the family's lives tells, drawn toward "may be
    anything" with the weight of one life.
    """
    rise, run = _within(m, w, starts)
    rate = np.repeat(np.clip(rise / np.where(run > 0, run, 1.0), 0.0, 3.0), sizes)
    miss = np.where(free[:, 0], (known_or_zero(w[:, 0]) - rate * known_or_zero(m[:, 0])) ** 2, 0.0)
    count = np.add.reduceat((free[:, 0] & np.isfinite(w[:, 0])).astype(float), starts)
    pooled = (np.add.reduceat(miss, starts) + STEP_UNKNOWN**2) / (count + 1.0)
    out = np.where(free, STEP_UNKNOWN**2, 0.0)
    out[:, 0] = np.where(free[:, 0], np.minimum(np.repeat(pooled, sizes), STEP_UNKNOWN**2), 0.0)
    return out


def known_or_zero(values: Floats) -> Floats:
    """0 where nothing is known (NaN); a third of the time of ``numpy.nan_to_num``, which minds inf too."""
    return np.where(np.isnan(values), 0.0, values)


def _within(m: Floats, w: Floats, starts: Ints) -> tuple[Floats, Floats]:
    """Sums over each family of rise x run and run x run between the first reading of a life and the
    others."""
    dm, dw = known_or_zero(m - m[:, :1]), known_or_zero(w - w[:, :1])
    return np.add.reduceat((dm * dw).sum(axis=1), starts), np.add.reduceat((dm * dm).sum(axis=1), starts)


@dataclass(frozen=True)
class Straightened:
    """Lives on the scale on which one shape's wear is straight, distance scaled so that the pooled rate is 1.

    Attributes
    ----------
    u, clock, z, noise, jump : shape (n, k). Bent distance, time of the Brownian part, bent wear, variances
        of readings and of unknown steps.
    log_jacobian : shape (f,). Of the readings' change of scale, for comparing likelihoods.
    factor : shape (f,). This shape's relative distance over the common one.
    limit : shape (n,). Bent limit.
    offset : shape (n,) or None. Rate taken out of ``z`` beforehand, to be put back into states.
    """

    u: Floats
    clock: Floats
    z: Floats
    noise: Floats
    jump: Floats | None
    log_jacobian: Floats
    factor: Floats
    limit: Floats
    offset: Floats | None = None


def straighten(rel: Relative, shape: Shape, factor: Floats | None = None) -> Straightened:
    """Put the lives on the straight scale of a shape.

    Parameters
    ----------
    factor : shape (f,), optional. Distance scale of an earlier call for the same families, when these are
        other lives of theirs; computed from the lives if not given.
    """
    wear, present = known_or_zero(rel.w), np.isfinite(rel.w)
    z = shape.wear(wear)
    if factor is None:
        factor = _distance_scale(rel, shape, np.where(present, z, 0.0))
    m = rel.m * rel.per_life(factor)[:, None]
    u = shape.distance(m)
    if rel.offset is not None:
        z = z - rel.offset[:, None] * known_or_zero(u)
    slope = shape.slope(np.clip(wear, -0.1, 1.1 * rel.limit[:, None]))
    log_jacobian = np.add.reduceat(np.where(present, np.log(slope), 0.0).sum(axis=1), rel.starts)
    return Straightened(
        u=u,
        clock=shape.clock(m, rel.w),
        z=np.where(present, z, np.nan),
        noise=rel.noise * slope**2,
        jump=None if rel.jump is None else rel.jump * slope**2,
        log_jacobian=log_jacobian,
        factor=factor,
        limit=shape.wear(rel.limit),
        offset=rel.offset,
    )


def stacked(parts: list[Straightened]) -> Straightened:
    """The lives of several straightened sets, and their families, one set after the other."""
    if len(parts) == 1:
        return parts[0]
    width = max(part.z.shape[1] for part in parts)
    empty = {"u": 0.0, "clock": 0.0, "z": np.nan, "noise": 1.0, "jump": 0.0}
    joined: dict[str, Any] = {}
    for name in vars(parts[0]):
        values = [getattr(part, name) for part in parts]
        if name in empty and values[0] is not None:
            fill = empty[name]
            values = [
                np.pad(x, ((0, 0), (0, width - x.shape[1])), constant_values=fill)
                if x.shape[1] < width
                else x
                for x in values
            ]
        joined[name] = None if values[0] is None else np.concatenate(values)
    return Straightened(**joined)


def put_lives(
    data: Straightened, part: Straightened, rows: NDArray[np.bool_], families: Ints
) -> Straightened:
    """Some lives, ``rows`` of shape (n,), and their ``families`` put on another scale, that of ``part``."""
    put: dict[str, Any] = {}
    for name, new in vars(part).items():
        if new is not None:
            put[name] = getattr(data, name).copy()
            put[name][families if name in ("log_jacobian", "factor") else rows] = new
    return replace(data, **put)


def _distance_scale(rel: Relative, shape: Shape, z: Floats) -> Floats:
    """Factor on the distance that makes the pooled bent rate 1, shape (f,)."""
    u = shape.distance(known_or_zero(rel.m))
    square = np.add.reduceat(np.where(z == 0.0, 0.0, u * u).sum(axis=1), rel.starts)
    rate = np.add.reduceat((u * z).sum(axis=1), rel.starts) / np.where(square > 0, square, 1.0)
    longest = np.maximum.reduceat(np.maximum(known_or_zero(rel.m).max(axis=1), rel.as_of), rel.starts)
    least = SLOWEST / shape.distance(np.where(longest > 0, longest, 1.0))
    return shape.straight_distance(np.maximum(rate, least))


def take_lives(rel: Relative, most: int, families: Ints | None = None) -> Relative:
    """At most so many lives of each family, of some families or all: those that say anything, by their hash.

    The choice knows nothing of how long a life was: those with most readings would be the slowest.
    """
    says = np.isfinite(rel.w).any(axis=1)
    number = np.repeat(np.arange(len(rel.starts)), rel.sizes)
    by_hash = np.lexsort((rel.key, ~says, number))
    place = np.empty(len(number), dtype=np.int64)
    place[by_hash] = np.arange(len(number)) - rel.starts[number[by_hash]]
    keep = place < most
    if families is not None:
        keep &= np.isin(number, families)
    return without_empty_columns(keep_lives(rel, keep)[0])


def lives_read(rel: Relative) -> Ints:
    """Lives of each family that say anything, shape (f,)."""
    return np.asarray(np.add.reduceat(np.isfinite(rel.w).any(axis=1).astype(np.int64), rel.starts))


def readings_alone(rel: Relative) -> Relative:
    """The same lives without the column of passages."""
    if rel.worn is None:
        return rel
    jump = None if rel.jump is None else rel.jump[:, :-1]
    return replace(rel, m=rel.m[:, :-1], w=rel.w[:, :-1], noise=rel.noise[:, :-1], jump=jump, worn=None)


def without_empty_columns(rel: Relative) -> Relative:
    """The same lives in arrays no wider than their readings need."""
    width = 1 + int(np.flatnonzero(np.isfinite(rel.w).any(axis=0)).max(initial=0))
    jump = None if rel.jump is None else rel.jump[:, :width]
    return replace(rel, m=rel.m[:, :width], w=rel.w[:, :width], noise=rel.noise[:, :width], jump=jump)


def keep_lives(rel: Relative, keep: NDArray[np.bool_]) -> tuple[Relative, Ints]:
    """Some of the lives, shape (n,) telling which; and the families that still have one."""
    count = np.add.reduceat(keep.astype(np.int64), rel.starts)
    kept = np.flatnonzero(count)
    sizes = count[kept]
    part = Relative(
        order=rel.order[keep],
        starts=np.concatenate([[0], np.cumsum(sizes)[:-1]]),
        sizes=sizes,
        family=rel.family[kept],
        m=rel.m[keep],
        w=rel.w[keep],
        limit=rel.limit[keep],
        noise=rel.noise[keep],
        jump=None if rel.jump is None else rel.jump[keep],
        as_of=rel.as_of[keep],
        allowance=rel.allowance[kept],
        life=rel.life[kept],
        gauge=rel.gauge[kept],
        key=rel.key[keep],
        worn=None if rel.worn is None else rel.worn[keep],
        place=None if rel.place is None else rel.place[keep],
        offset=None if rel.offset is None else rel.offset[keep],
    )
    return part, kept


def fresh_lives(rel: Relative, families: Ints, sizes: Ints, limit: Floats) -> Relative:
    """Lives that begin now and have no reading: so many of each named family, with their relative limits."""
    n = len(limit)
    empty = np.full((n, 1), np.nan)
    return Relative(
        order=np.arange(n),
        starts=np.concatenate([[0], np.cumsum(sizes)[:-1]]),
        sizes=sizes,
        family=rel.family[families],
        m=empty,
        w=empty,
        limit=limit,
        noise=np.ones((n, 1)),
        jump=None,
        as_of=np.zeros(n),
        allowance=rel.allowance[families],
        life=rel.life[families],
        gauge=rel.gauge[families],
        key=np.arange(n, dtype=np.uint64),
    )
