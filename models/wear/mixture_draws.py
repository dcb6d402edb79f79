"""Paths of wear drawn from the mixture: what the closed forms of ``models.wear.mixture`` say, as draws."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from models.wear.mixture import Component

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def draw_paths(
    components: list[Component], distance: Floats, draws: int, rng: np.random.Generator, spread: Floats
) -> Floats:
    """Relative wear of every life along a distance.

    Parameters
    ----------
    components : of n lives; a life without a pair gets NaN.
    distance : shape (n, r), non-decreasing along the row. Common relative distance since the life began, not
        before the last reading.
    spread : shape (n,). Factor on all standard deviations of a life.

    Returns
    -------
    Shape (draws, n, r). A path keeps its shape, its parameters, its level and its rate, which is above zero,
    as for :func:`models.wear.mixture.chance_reached`; the Brownian part walks along it.
    """
    paths = np.full((draws, *distance.shape), np.nan)
    if not components:
        return paths
    number = np.concatenate([np.full(len(c.life), i) for i, c in enumerate(components)])
    pair = np.concatenate([np.arange(len(c.life)) for c in components])
    lives, chosen = _chosen(
        np.concatenate([c.life for c in components]),
        np.concatenate([c.weight for c in components]),
        draws,
        rng,
    )
    for i, c in enumerate(components):
        draw, column = np.nonzero(number[chosen] == i)
        life = lives[column]
        paths[draw, life] = _walk(c.of(pair[chosen[draw, column]]), distance[life], rng, spread[life])
    return paths


def _chosen(life: Ints, weight: Floats, draws: int, rng: np.random.Generator) -> tuple[Ints, Ints]:
    """Lives that have a pair, and for every draw a pair of each by its weight, shape (draws, lives)."""
    order = np.argsort(life, kind="stable")
    ends = np.cumsum(weight[order])
    starts = np.flatnonzero(np.diff(life[order], prepend=-1))
    last = np.append(starts[1:], len(order)) - 1
    before = np.where(starts > 0, ends[starts - 1], 0.0)
    target = before + rng.random((draws, len(starts))) * (ends[last] - before)
    place = np.clip(np.searchsorted(ends, target, side="right"), starts, last)
    return life[order][starts], order[place]


def _walk(c: Component, distance: Floats, rng: np.random.Generator, spread: Floats) -> Floats:
    """One path of each pair along its own distance, shape (pairs, r)."""
    size = len(c.life)
    rate_sd = spread * np.sqrt(c.bb)
    lowest = ndtr(-c.b / rate_sd)
    rate = c.b + rate_sd * ndtri(lowest + (1.0 - lowest) * rng.random(size))
    level_sd = spread * np.sqrt(np.maximum(c.xx - c.xb**2 / c.bb, 0.0))
    level = c.x + c.xb / c.bb * (rate - c.b) + level_sd * rng.standard_normal(size)
    own = distance * c.factor[:, None]
    d = np.maximum(c.shape.distance(own) - c.u[:, None], 0.0)
    plain = np.maximum(own - c.m[:, None], 0.0)
    wear = np.clip(c.shape.straight_wear(level[:, None] + rate[:, None] * d), -1.0, 3.0)
    step_sd = spread[:, None] * np.sqrt(c.tau2[:, None] * np.diff(plain, axis=1, prepend=0.0))
    return wear + np.cumsum(step_sd * rng.standard_normal(wear.shape), axis=1)
