"""Readings to come and remaining miles from drawn paths of wear: what a forecaster without closed forms gets.

Paths are drawn in batches with a fixed seed, so that two calls give the same digits. Where a path crosses is
found on a grid of distances, first a wide one and then one where the crossings are, and is linear between.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from models.lives.table import Lives

Floats = NDArray[np.float64]
Paths = Callable[[Floats, int, np.random.Generator], Floats]
"""As :meth:`models.wear.estimator.Forecaster.wear_paths`."""

DRAWS = 2000
"""Paths of each life. The chance behind a quantile is then known to 1.1 % at one half, to 0.07 % at one
thousandth (standard errors)."""
LOOK_DRAWS = 200
"""Paths of the first look, which only finds where the crossings are."""
LOOK_RATIOS: Floats = np.geomspace(1e-4, 1e3, 29)
"""Distances of that look, over the longest distance run by a life of the family."""
GRID_POINTS = 96
"""Distances between which a crossing is then interpolated. A path that wanders may touch the limit between
two of them and come back: it is then found late, on average by 0.6 of what it wanders in one step."""
MARGIN = 1.5
"""The grid reaches beyond the crossings of the first look by this factor."""
AT_ONCE = 4_000_000
"""Numbers drawn at once: 32 MB."""
SEED = 20_260_101


def readings_drawn(paths: Paths, lives: Lives, miles: Floats, probabilities: Floats, sd: Floats) -> Floats:
    """Quantiles of readings; see :meth:`models.wear.estimator.Forecaster.predict_readings`.

    Parameters
    ----------
    miles : shape (n, r), in any order, NaN where nothing is asked. [mi]
    sd : shape (n,). Standard deviation of a reading about the wear.

    Returns
    -------
    Shape (n, r, p).
    """
    rng = np.random.default_rng(SEED)
    order = np.argsort(miles, axis=1)  # NaN last
    sorted_miles = np.take_along_axis(miles, order, axis=1)
    farthest = np.where(np.isnan(miles), _counted_from(lives)[:, None], miles).max(axis=1, initial=0.0)
    filled = np.where(np.isnan(sorted_miles), farthest[:, None], sorted_miles)
    wear = np.concatenate(
        [paths(filled, count, rng) for count in _batches(DRAWS, filled.size)] or [np.empty((0, *miles.shape))]
    )
    wear = wear + sd[:, None] * rng.standard_normal(wear.shape)
    quantiles = np.moveaxis(np.quantile(wear, probabilities, axis=0), 0, -1)
    back = np.argsort(order, axis=1)
    quantiles = np.take_along_axis(quantiles, back[..., None], axis=1)
    return np.asarray(np.where(np.isnan(miles)[..., None], np.nan, quantiles))


def remaining_drawn(paths: Paths, lives: Lives, probabilities: Floats) -> Floats:
    """Quantiles of remaining miles; see :meth:`models.wear.estimator.Forecaster.predict_remaining`.

    Returns
    -------
    Shape (n, p). [mi]
    """
    rng = np.random.default_rng(SEED)
    since = _counted_from(lives)
    scale = np.zeros(lives.n_families)
    np.maximum.at(scale, lives.family, since)
    scale = np.where(scale > 0, scale, 1.0)[lives.family]
    look = np.concatenate([np.zeros((len(since), 1)), scale[:, None] * LOOK_RATIOS], axis=1)
    first = _first_crossings(paths, lives.limit, since, look, LOOK_DRAWS, rng)
    reached = np.isfinite(first) & (first > 0)
    low = np.where(reached, first, np.inf).min(axis=0, initial=np.inf) / MARGIN
    high = np.where(reached, first, 0.0).max(axis=0, initial=0.0) * MARGIN
    none = ~np.isfinite(low)
    low, high = np.where(none, look[:, 1], low), np.where(none, look[:, -1], high)
    steps = low[:, None] * (high / low)[:, None] ** np.linspace(0.0, 1.0, GRID_POINTS)
    grid = np.sort(np.concatenate([look, steps], axis=1), axis=1)
    crossings = np.sort(_first_crossings(paths, lives.limit, since, grid, DRAWS, rng), axis=0)
    rank = np.clip(np.ceil(probabilities * DRAWS).astype(int) - 1, 0, DRAWS - 1)
    unknown = np.isnan(crossings[-1])
    return np.asarray(np.where(unknown[:, None], np.nan, crossings[rank].T))


def _first_crossings(
    paths: Paths, limit: Floats, since: Floats, distance: Floats, draws: int, rng: np.random.Generator
) -> Floats:
    """Distance from ``since`` at which each drawn path first reaches its limit, shape (draws, n); +inf where
    it does not within the grid ``distance`` (n, r), NaN where the path is not known."""
    miles = since[:, None] + distance
    batches = [
        _crossing_of(paths(miles, count, rng), limit, distance) for count in _batches(draws, miles.size)
    ]
    return np.concatenate(batches) if batches else np.empty((draws, 0))


def _crossing_of(wear: Floats, limit: Floats, distance: Floats) -> Floats:
    """Where paths (d, n, r) first reach the limit (n,), linear between the distances (n, r)."""
    beyond = wear >= limit[:, None]
    i = beyond.argmax(axis=2)
    before = np.maximum(i - 1, 0)
    right, left = (np.take_along_axis(wear, x[..., None], axis=2)[..., 0] for x in (i, before))
    life = np.arange(len(limit))
    to_right, to_left = distance[life, i], distance[life, before]
    rise = right - left
    share = np.divide(limit - left, rise, out=np.ones_like(rise), where=rise > 0)
    crossing = np.where(beyond.any(axis=2), to_left + share * (to_right - to_left), np.inf)
    return np.where(np.isnan(wear).any(axis=2), np.nan, crossing)


def _counted_from(lives: Lives) -> Floats:
    """Miles at which remaining miles are counted, shape (n,); those of the last reading where as-of is not
    known."""
    last = np.where(np.isfinite(lives.miles), lives.miles, 0.0).max(axis=1, initial=0.0)
    return np.where(np.isfinite(lives.as_of_miles), lives.as_of_miles, last)


def _batches(draws: int, size: int) -> list[int]:
    """Numbers of draws that are made at once, where each draw holds ``size`` numbers; none without lives."""
    if size == 0:
        return []
    most = max(1, AT_ONCE // size)
    return [min(most, draws - done) for done in range(0, draws, most)]
