"""Futures of a vehicle: what its seasons may have been, and what those ahead may do to all of its parts.

Every future is a draw of one explanation of the vehicle's past (:mod:`models.seasons.severity`), of its
change and shocks, and of shocks ahead. Random numbers come from the vehicle's name alone, so that a future is
the same whenever it is drawn.
"""

import zlib
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtri

from models.distribution import between_places, place_reached
from models.seasons.season_table import SeasonTable
from models.seasons.sensitivity import Sensitivity
from models.seasons.severity import Explanations

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FUTURES = 40
SEASONS_AHEAD = 30
"""Seasons that each have a shock of their own; what is run beyond them has the mean of all."""
FAR = 1000.0
"""Usual seasons after which nothing is asked for."""


@dataclass(frozen=True)
class Futures:
    """Futures of m vehicles: K futures, s seasons on record, h stretches ahead.

    Attributes
    ----------
    vehicle : shape (m,). Row of the vehicle in the table of seasons.
    past : shape (m, K, s). Log of each season's factor.
    miles : shape (m, h + 1). Miles from as-of to the end of each stretch, from 0. [mi]
    effective : shape (m, K, h + 1). Effective miles to the same. [mi]
    """

    vehicle: Ints
    past: Floats
    miles: Floats
    effective: Floats

    @property
    def pace(self) -> Floats:
        """Factor of a usual season ahead in each future, shape (m, K)."""
        run = self.effective[:, :, 2] - self.effective[:, :, 1]
        return np.asarray(run / (self.miles[:, 2] - self.miles[:, 1])[:, None])

    def to_miles(self, row: Ints, effective: Floats) -> Floats:
        """Miles from as-of in which effective miles are run, shape (n, K, p). [mi]

        Parameters
        ----------
        row : shape (n,). Row of each one's vehicle.
        effective : shape (n, K, p). [mi]; less than 0 counts as 0, +inf stays.
        """
        n, k, p = effective.shape
        wanted = np.maximum(effective.reshape(n * k, p), 0.0)
        grid = self.effective.reshape(-1, self.effective.shape[2])
        values = np.repeat(self.miles, k, axis=0)
        at = np.repeat((row[:, None] * k + np.arange(k)).reshape(-1, 1), p, axis=1)
        miles = between_places(grid, values, wanted, place_reached(grid, wanted, at), at)
        return np.where(np.isfinite(wanted), miles, np.inf).reshape(n, k, p)

    def to_effective(self, row: Ints, miles: Floats) -> Floats:
        """Effective miles run in miles from as-of, shape (n, K, q); row, miles : (n,), (n, q). [mi]"""
        q = miles.shape[1]
        at = np.repeat(row[:, None], q, axis=1)
        place = place_reached(self.miles, miles, at)
        return np.stack(
            [between_places(self.miles, self.effective[:, k], miles, place, at) for k in range(FUTURES)],
            axis=1,
        )


def draw_futures(
    names: pd.Index,
    seasons: SeasonTable,
    found: Explanations,
    sensed: Sensitivity,
    vehicle: Ints,
) -> Futures:
    """Draw the futures of some vehicles, ``vehicle`` of shape (m,).

    Parameters
    ----------
    names : of all vehicles.
    """
    s = sensed.severity.shape[1]
    pull, pattern = sensed.pull, found.kinds.pattern(s)
    past = np.empty((len(vehicle), FUTURES, s))
    ahead = np.empty((len(vehicle), FUTURES, SEASONS_AHEAD + 1))
    middle = (np.arange(FUTURES) + 0.5) / FUTURES
    for row, v in enumerate(vehicle):
        rng = np.random.default_rng(zlib.crc32(str(names[v]).encode()))
        chosen = np.searchsorted(np.cumsum(found.weight[v]), middle * found.weight[v].sum())
        chosen = np.minimum(chosen, len(found.kinds.shock) - 1)
        size = ndtri(rng.permutation(middle))
        change = found.change[v, chosen] + np.sqrt(found.change_var[v, chosen]) * size
        level = change[:, None] * pattern[chosen]
        normals = _mirrored(rng, s + SEASONS_AHEAD)
        shock = found.kinds.shock[chosen]
        past[row] = level + _shocks(sensed.information[v], pull[v], level, shock, normals[:, :s])
        ahead[row, :, 1:] = level[:, -1:] + shock[:, None] * normals[:, s:]
        ahead[row, :, 0] = past[row, :, -1]
    return Futures(vehicle, past, *_run_ahead(seasons, vehicle, np.exp(ahead)))


def _mirrored(rng: np.random.Generator, columns: int) -> Floats:
    """Standard normals, shape (FUTURES, columns), each column its own halves mirrored and of variance 1."""
    half = rng.standard_normal((FUTURES // 2, columns))
    half /= np.sqrt((half**2).mean(axis=0))
    return rng.permuted(np.concatenate([half, -half]), axis=0)


def _shocks(information: Floats, pull: Floats, level: Floats, shock: Floats, normals: Floats) -> Floats:
    """Shocks of the past given the level, shape (K, s)."""
    out = np.zeros(level.shape)
    eye = np.eye(level.shape[1])
    for w in np.unique(shock[shock > 0]):
        of = shock == w
        spread = np.linalg.inv(information + eye / w**2)
        spread = 0.5 * (spread + spread.T)
        mean = (pull - level[of] @ information) @ spread
        out[of] = mean + normals[of] @ np.linalg.cholesky(spread + 1e-12 * eye).T
    return out


def _run_ahead(seasons: SeasonTable, vehicle: Ints, factor: Floats) -> tuple[Floats, Floats]:
    """Miles to the end of each stretch, (m, h + 1), and effective ones, (m, K, h + 1)."""
    usual = seasons.usual[vehicle]
    begun = seasons.edge[vehicle, -1] if seasons.edge.shape[1] else np.zeros(len(vehicle))
    rest = np.maximum(usual - (seasons.as_of[vehicle] - begun), 0.02 * usual)
    step = np.concatenate(
        [rest[:, None], np.repeat(usual[:, None], SEASONS_AHEAD, axis=1), FAR * usual[:, None]], axis=1
    )
    far = np.concatenate([factor, factor[:, :, 1:].mean(axis=2, keepdims=True)], axis=2)
    start = np.zeros((len(vehicle), 1))
    miles = np.concatenate([start, np.cumsum(step, axis=1)], axis=1)
    effective = np.cumsum(step[:, None] * far, axis=2)
    return miles, np.concatenate([np.zeros((*far.shape[:2], 1)), effective], axis=2)
