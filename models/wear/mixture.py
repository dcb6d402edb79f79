"""The forecast of a life as a mixture: shapes and parameter nodes, each with its weight."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from models.distribution import place_reached
from models.laws.crossing import crossing_chance, ever_crossing_chance, near_limit
from models.threads import in_threads
from models.wear.life_states import Nodes, States
from models.wear.relative import Relative, Straightened, known_or_zero
from models.wear.shapes import Shape

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LOOK_POINTS, GRID_POINTS, FINE_POINTS = 8, 14, 28
"""Distances at which the chance is computed, to find where it rises and then for quantiles of the remaining
miles: between 1 and 99 % off by 0.0003 (straight wear) to 0.004 (shapes mixed) of the interval from 10 to
90 % in the mean, by more than 0.05 in at most three of a thousand; of families of three lives by 2 to 3 % of
the miles with 14, by less than 1 % with 28."""
WEAR_POINTS, FEW_WEAR_POINTS = 32, 17
"""Wears at which the chance is computed for quantiles of the wear, and for those of a picture: off by 0.00001
(straight wear) to 0.003, and to 0.01, of the interval from 10 to 90 % in the mean."""
PAIRS_AT_ONCE = 16_000
"""Pairs of a life and a node that are worked at once: some 2 MB an array of 15 distances."""
NEAR = 2.5
"""Spreads of the level from the limit within which the level's doubt is worked out by parts."""
FAR_APART = 0.3
"""Distance of a pair from the others, in allowances, beyond which it widens the grid of wears no further."""
RARE = 2e-4
"""Chance beyond which no quantile is asked for."""
LEAST_RISE = 1e-12
"""Of the normal score from place to place, so that it rises everywhere."""
SLOWEST_RATE = 0.05
"""Rate, in allowances a life, below which the place of the search grid is not computed from the rate."""
FAR_AHEAD = 100.0
"""Lives ahead beyond which a light pair that hardly wears takes the search grid's beginning no further."""
VERY_WIDE = 1e4
"""Ratio of a grid's ends from which it is narrowed a second time."""


@dataclass(frozen=True)
class Component:
    """One shape's part of the mixture: pairs of a life and a node, sorted by life; each array of shape
    (pairs,).

    Attributes
    ----------
    life : row of the life in :class:`models.wear.relative.Relative`.
    weight : of the pair within its life, all shapes together summing to 1.
    x, xx, b, bb, xb : level and rate at the last reading, on the straight scale.
    tau2, sigma2 : variances of the Brownian part and of a reading, in relative wear.
    u, m : bent and plain distance of the last reading, in the shape's own distance.
    limit : bent limit.
    factor : the shape's distance over the common relative distance.
    """

    shape: Shape
    life: Ints
    weight: Floats
    x: Floats
    xx: Floats
    b: Floats
    bb: Floats
    xb: Floats
    tau2: Floats
    sigma2: Floats
    u: Floats
    m: Floats
    limit: Floats
    factor: Floats

    def heaviest(self, most: int) -> "Component":
        """At most so many pairs of each life, the heaviest, their weights as they are."""
        order = np.lexsort((-self.weight, self.life))
        starts = np.flatnonzero(np.diff(self.life[order], prepend=-1))
        place = np.arange(len(order)) - np.repeat(starts, np.diff(np.append(starts, len(order))))
        return self.of(np.sort(order[place < most]))

    def of(self, pairs: Ints) -> "Component":
        """Some of the pairs."""
        arrays = {name: getattr(self, name)[pairs] for name in self.__dataclass_fields__ if name != "shape"}
        return Component(shape=self.shape, **arrays)

    def take(self, lives: Ints) -> "Component":
        """The pairs of some lives, given in increasing order and then numbered from 0."""
        low, high = np.searchsorted(self.life, (lives[0], lives[-1] + 1)) if len(lives) else (0, 0)
        life = self.life[low:high]
        place = np.minimum(np.searchsorted(lives, life), len(lives) - 1)
        wanted = np.flatnonzero(lives[place] == life)
        return replace(self.of(low + wanted), life=place[wanted])


def component(
    rel: Relative, shape: Shape, data: Straightened, nodes: Nodes, states: States, wanted: Floats
) -> Component:
    """Pairs of one shape from the states at its nodes.

    Parameters
    ----------
    wanted : shape (n,). The shape's weight in each life's family; lives for which it is 0 are left out.
    """
    weight = nodes.weight * wanted
    life, node = np.nonzero(weight.T > 0)
    present = np.isfinite(data.z)
    m = np.where(present, known_or_zero(rel.m), 0.0).max(axis=1) * rel.per_life(data.factor)
    u = np.where(present, data.u, 0.0).max(axis=1)
    factor = rel.per_life(data.factor)
    known = np.zeros(len(u)) if data.offset is None else data.offset
    return Component(
        shape=shape,
        life=life,
        weight=weight[node, life],
        x=(states.x + known * u)[node, life],
        xx=states.xx[node, life],
        b=(states.b + known)[node, life],
        bb=states.bb[node, life],
        xb=states.xb[node, life],
        tau2=(nodes.q * nodes.sigma2)[node, life],
        sigma2=nodes.sigma2[node, life],
        u=u[life],
        m=m[life],
        limit=data.limit[life],
        factor=factor[life],
    )


def chance_reached(components: list[Component], at: Floats) -> Floats:
    """Chance that each life has reached its limit by given distances since it began.

    Parameters
    ----------
    components : of n lives.
    at : shape (n, r). Common relative distance, not before the last reading.

    Returns
    -------
    Chance, shape (n, r), given that it reaches it at all: a rate below zero is no forecast.
    """
    total = np.zeros(at.shape)
    for c in components:
        own = at[c.life] * c.factor[:, None]
        d = np.maximum(c.shape.distance(own) - c.u[:, None], 0.0)
        plain = np.maximum(own - c.m[:, None], 0.0)
        tau2, left = c.tau2, c.limit - c.x
        if c.shape.growth != 0.0:
            worn, end = c.shape.straight_wear(np.minimum(c.x, c.limit)), c.shape.straight_wear(c.limit)
            tau2 = tau2 * c.shape.mean_square_slope(np.clip(worn, -0.5, 1.5), np.clip(end, 0.0, 1.5))
        var = c.bb[:, None] * d * d + 2.0 * c.xb[:, None] * d + c.xx[:, None]
        reached = crossing_chance(
            c.b[:, None] * d, np.maximum(var, 0.0), tau2[:, None] * plain, left[:, None]
        )
        reached = np.where(plain <= 0, ndtr(-left / np.sqrt(c.xx))[:, None], reached)
        ever = np.maximum(ever_crossing_chance(c.b, c.bb, np.maximum(tau2, 1e-300), left), 1e-6)
        near = np.flatnonzero(np.abs(left) < NEAR * np.sqrt(c.xx))
        if len(near):
            motion = c.b[near], c.bb[near], c.xb[near], c.xx[near]
            reached[near], ever[near] = near_limit(left[near], motion, tau2[near], d[near], plain[near])
        _add_by_life(total, c.life, (c.weight / ever)[:, None] * reached)
    return np.minimum(total, 1.0)


def _add_by_life(total: Floats, life: Ints, values: Floats) -> None:
    if len(life):
        starts = np.flatnonzero(np.diff(life, prepend=-1))
        total[life[starts]] += np.add.reduceat(values, starts, axis=0)


def crossing_quantiles(
    components: list[Component], as_of: Floats, scores: Floats, points: int = GRID_POINTS
) -> tuple[Floats, Floats]:
    """Distance from as-of until each life first reaches its limit.

    Parameters
    ----------
    components : of n lives.
    as_of : shape (n,). Common relative distance since the life began from which is counted.
    scores : shape (p,) or (n, p), increasing. Normal scores of the quantiles.
    points : distances at which the chance is computed; quantiles lie between them.

    Returns
    -------
    Quantiles, shape (n, p), 0 where the limit was reached before as-of; and the chance of that, shape (n,).
    """
    low, high = _narrowed(components, as_of, *_search_range(components, as_of))
    wide = high > VERY_WIDE * low
    if wide.any():  # the few distances looked at lie far apart
        again = _narrowed(components, as_of, low, high)
        low, high = np.where(wide, again[0], low), np.where(wide, again[1], high)
    grid = low[:, None] * (high / low)[:, None] ** np.linspace(0.0, 1.0, points)
    at = np.concatenate([np.zeros((len(as_of), 1)), grid], axis=1)
    chance = np.maximum.accumulate(chance_reached(components, at + as_of[:, None]), axis=1)
    return _invert(chance, at, scores, geometric=True), chance[:, 0]


def _narrowed(components: list[Component], as_of: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """The part of a range in which the chance rises, by a look at few distances: where parts of the mixture
    differ much the range is wide, and the chance rises in little of it."""
    at = low[:, None] * (high / low)[:, None] ** np.linspace(0.0, 1.0, LOOK_POINTS)
    chance = np.maximum.accumulate(chance_reached(components, at + as_of[:, None]), axis=1)
    below = np.count_nonzero(chance <= RARE, axis=1)
    upto = np.count_nonzero(chance < 1.0 - RARE, axis=1)
    row = np.arange(len(at))
    return at[row, np.clip(below - 1, 0, LOOK_POINTS - 2)], at[row, np.clip(upto, 1, LOOK_POINTS - 1)]


def _search_range(components: list[Component], as_of: Floats) -> tuple[Floats, Floats]:
    """Distances between which the quantiles lie, from each pair's mean path and its spread."""
    n = len(as_of)
    low, high = np.full(n, np.inf), np.zeros(n)
    for c in components:
        rate = np.maximum(c.b, SLOWEST_RATE)
        left = np.maximum(c.limit - c.x, 0.0)
        spread = np.sqrt(c.bb) / rate
        slow = left / np.maximum(rate - 3.5 * np.sqrt(c.bb), rate * 0.12) + 4.0 * np.sqrt(c.xx) / rate
        fast = np.maximum(left - 3.5 * np.sqrt(c.xx), 0.0) / (rate * (1.0 + 3.5 * spread))
        far = c.shape.straight_distance(c.u + slow) / c.factor - as_of[c.life]
        near = c.shape.straight_distance(c.u + fast) / c.factor - as_of[c.life]
        wander = 3.5 * np.sqrt(c.tau2 * np.maximum(far, 0.0) * c.factor) / rate / c.factor
        np.minimum.at(low, c.life, near - wander)
        np.maximum.at(high, c.life, far + wander)
    high = np.maximum(high, 1e-3)
    return np.clip(low, 2e-4 * np.minimum(high, FAR_AHEAD), 0.5 * high), high


def _invert(
    chance: Floats, at: Floats, scores: Floats, below: float = 0.0, *, geometric: bool = False
) -> Floats:
    """Where the normal score of each row's chance first reaches ``scores``, (p,) or (n, p); past the grid's
    end its last step is carried on.

    ``below`` is the answer where the chance exceeds the probability from the grid's start on; NaN: the start
    itself. ``geometric``: what is interpolated is the logarithm of the place, after a first place of 0.
    Between places runs a cubic in the score that only rises [1]_.

    References
    ----------
    .. [1] F. N. Fritsch, J. Butland, "A method for constructing local monotone piecewise cubic interpolants",
       SIAM J. Sci. Stat. Comput. 5 (1984) 300-304.
    """
    n, r = chance.shape
    normal = np.clip(ndtri(np.clip(chance, 1e-12, 1 - 1e-12)), -7.0, 7.0)
    normal = np.maximum.accumulate(normal + np.arange(r) * LEAST_RISE, axis=1)
    asked = np.broadcast_to(scores, (n, scores.shape[-1]))
    reached = place_reached(normal, asked)
    right = np.clip(reached, 1, r - 1) + r * np.arange(n)[:, None]  # of the flat arrays
    left = right - 1
    place = np.log(np.maximum(at, 1e-300)) if geometric else at
    x, y, d = normal.ravel(), place.ravel(), _rising_slopes(normal, place, int(geometric)).ravel()
    width, step = np.maximum(x[right] - x[left], LEAST_RISE), y[right] - y[left]
    share = np.clip((asked - x[left]) / width, 0.0, 3.0)
    t, d0, d1 = np.minimum(share, 1.0), d[left] * width, d[right] * width
    out = y[left] + (share - t) * step
    out += t * (d0 + t * (3.0 * step - 2.0 * d0 - d1 + t * (d0 + d1 - 2.0 * step)))
    if geometric:
        out = np.where(reached <= 1, share * at[:, 1:2], np.exp(np.minimum(out, 700.0)))
    return np.where(reached == 0, at[:, :1] if np.isnan(below) else below, out)


def _rising_slopes(x: Floats, y: Floats, first: int) -> Floats:
    """Slope of y over x at each place of a row, from column ``first`` on, shape (n, r); 0 before."""
    width = np.maximum(np.diff(x[:, first:], axis=1), LEAST_RISE)
    flat = width / np.maximum(np.diff(y[:, first:], axis=1), 1e-300)
    before, after = width[:, :-1] + 2.0 * width[:, 1:], 2.0 * width[:, :-1] + width[:, 1:]
    out = np.zeros(x.shape)
    out[:, first], out[:, -1] = 1.0 / flat[:, 0], 1.0 / flat[:, -1]
    out[:, first + 1 : -1] = (before + after) / (before * flat[:, :-1] + after * flat[:, 1:])
    return out


def reading_quantiles(
    components: list[Component],
    at: Floats,
    scores: Floats,
    with_gauge: bool,
    points: int = WEAR_POINTS,
) -> Floats:
    """Relative wear at later distances: quantiles of the mixture, with or without the gauge's error.

    Parameters
    ----------
    components : of n lives.
    at : shape (n, r). Common relative distance since the life began, not before the last reading.
    scores : shape (p,) or (n, p), increasing. Normal scores of the quantiles.
    points : wears at which the chance is computed; quantiles lie between them.

    Returns
    -------
    Relative wear, shape (n, r, p).
    """
    of_life = np.broadcast_to(scores, (len(at), scores.shape[-1]))
    out = np.full((*at.shape, of_life.shape[1]), np.nan)
    pairs = np.zeros(len(at), dtype=np.int64)
    for c in components:
        np.add.at(pairs, c.life, 1)
    for c in components:
        own = c.of(np.flatnonzero(pairs[c.life] == 1))  # one normal, of which the quantiles are known
        mean, sd = _wear_at(own, at, with_gauge)
        out[own.life] = mean[..., None] + sd[..., None] * of_life[own.life][:, None]
    if len(several := np.flatnonzero(pairs > 1)):
        parts = [c.take(several) for c in components]
        out[several] = _searched(parts, at[several], of_life[several], with_gauge, points)
    return out


def _searched(
    components: list[Component], at: Floats, scores: Floats, with_gauge: bool, points: int
) -> Floats:
    """:func:`reading_quantiles` where each life has several pairs."""
    moments = [_wear_at(c, at, with_gauge) for c in components]
    low = np.full(at.shape, np.inf)
    high = np.full(at.shape, -np.inf)
    for c, (mean, sd) in zip(components, moments, strict=True):
        np.minimum.at(low, c.life, mean - 4.0 * sd)
        np.maximum.at(high, c.life, mean + 4.0 * sd)
    grid = _dense_grid(components, moments, low, high, points)
    chance = np.zeros(grid.shape)
    for c, (mean, sd) in zip(components, moments, strict=True):
        _add_by_life(
            chance, c.life, c.weight[:, None, None] * ndtr((grid[c.life] - mean[..., None]) / sd[..., None])
        )
    whole = np.zeros(len(at))  # below 1 where only the heaviest pairs were taken
    for c in components:
        np.add.at(whole, c.life, c.weight)
    chance /= np.maximum(whole, 1e-300)[:, None, None]
    asked = np.broadcast_to(np.atleast_2d(scores)[:, None], (*at.shape, scores.shape[-1]))
    chances, places, rows = (np.reshape(x, (-1, x.shape[-1])) for x in (chance, grid, asked))
    return _invert(chances, places, rows, below=np.nan).reshape(asked.shape)


def _dense_grid(
    components: list[Component], moments: list[tuple[Floats, Floats]], low: Floats, high: Floats, points: int
) -> Floats:
    """Wears from ``low`` to ``high``, (n, r), close together where most of the mixture is, shape (n, r,
    points).

    A light pair of great spread reaches far: even steps over all that would be wider than the rest of the
    mixture.
    """
    centre, width = np.zeros(low.shape), np.full(low.shape, 1e-9)
    for c, (mean, _) in zip(components, moments, strict=True):
        _add_by_life(centre, c.life, c.weight[:, None] * mean)
    for c, (mean, sd) in zip(components, moments, strict=True):
        apart = np.minimum(np.abs(mean - centre[c.life]) + sd, FAR_APART)
        _add_by_life(width, c.life, c.weight[:, None] * apart)
    ends = np.arcsinh((np.stack([low, high]) - centre) / width)
    steps = ends[0][..., None] + (ends[1] - ends[0])[..., None] * np.linspace(0.0, 1.0, points)
    return np.asarray(centre[..., None] + width[..., None] * np.sinh(steps))


def _wear_at(c: Component, at: Floats, with_gauge: bool) -> tuple[Floats, Floats]:
    """Mean and standard deviation of the relative wear of each pair, shape (pairs, r)."""
    own = at[c.life] * c.factor[:, None]
    d = np.maximum(c.shape.distance(own) - c.u[:, None], 0.0)
    plain = np.maximum(own - c.m[:, None], 0.0)
    z = c.x[:, None] + c.b[:, None] * d
    var = c.xx[:, None] + 2.0 * c.xb[:, None] * d + c.bb[:, None] * d * d
    # Beyond the scale's ends the wear would be infinite: held at three allowances, and at one below new.
    wear = np.clip(c.shape.straight_wear(z), -1.0, 3.0)
    slope = c.shape.slope(np.clip(wear, -0.5, 3.0))
    spread = np.minimum(np.sqrt(np.maximum(var, 0.0)) / slope, 2.0)
    noise = c.tau2[:, None] * plain + (c.sigma2[:, None] if with_gauge else 0.0)
    return wear, np.sqrt(spread**2 + noise)


def for_runs_of_lives(
    work: Callable[[list[Component], slice], None],
    components: list[Component],
    lives: Ints,
    most: int = PAIRS_AT_ONCE,
) -> None:
    """Do the work, in a few threads, for one run of lives after another.

    Parameters
    ----------
    work : takes the mixture of a run, its lives numbered from 0, and the run's place among ``lives``.
    lives : rows of the lives, in increasing order.
    most : a run has about so many pairs, so that what is computed at once stays in the processor's cache.
    """
    in_threads(lambda run: work(*run), _runs_of_lives(components, lives, most))


def _runs_of_lives(
    components: list[Component], lives: Ints, most: int
) -> Iterator[tuple[list[Component], slice]]:
    pairs = np.zeros(len(lives), dtype=np.int64)
    for c in components:
        pairs += np.searchsorted(c.life, lives, side="right") - np.searchsorted(c.life, lives)
    ends = np.cumsum(pairs)
    low = 0
    while low < len(lives):
        done = ends[low - 1] if low else 0
        high = max(int(np.searchsorted(ends, done + most, side="right")), low + 1)
        run = lives[low:high]
        yield [c.take(run) for c in components], slice(low, high)
        low = high
