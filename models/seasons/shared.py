"""The wear model on effective miles, and its forecasts in miles over the futures of each vehicle."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.distribution import PROBABILITIES, chance_by
from models.lives.table import LifeTable
from models.seasons.ahead import Futures
from models.seasons.effective import effective_since_began
from models.seasons.mixing import mixed
from models.seasons.season_table import SeasonTable
from models.seasons.severity import Explanations
from models.wear.fit_steps import NODES
from models.wear.model import PooledWear

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WEAR_LEVELS: Floats = np.array([0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.99])
"""Probabilities at which the wear in each future is asked for."""
PICTURED = 4
"""A picture, which is asked for with fewer nodes, takes one of so many futures."""
WEAR_STEPS = 12
"""Effective distances at which it is; between them it is linear."""


@dataclass(frozen=True)
class Shared:
    """The fitted model and what each vehicle's seasons were; v vehicles, s seasons, n lives.

    Attributes
    ----------
    model : on effective miles.
    table, seasons : lives in miles, seasons of the vehicles.
    severity : shape (v, s). Log of the factor of each season that the effective miles were made with.
    found : what may have happened to each vehicle.
    of_rate : shape (n, s). As in :class:`models.seasons.sensitivity.Sensitivity`.
    futures : of the vehicles whose parts share something.
    row : shape (v,). Row of the futures of each vehicle; -1: nothing is shared, its miles are as they are.
    """

    model: PooledWear
    table: LifeTable
    seasons: SeasonTable
    severity: Floats
    found: Explanations
    of_rate: Floats
    futures: Futures
    row: Ints

    def row_of(self, life: Ints) -> Ints:
        """Row of the futures of each life's vehicle, -1 without."""
        return np.asarray(self.row[self.table.scale.vehicle[self.table.point[life]]])

    def slower(self, life: Ints) -> Floats:
        """Log by which the rate of each life is lower in each future than in the mean, (n, K); lives with
        futures only. The same readings after harder seasons mean a slower part."""
        row = self.row_of(life)
        away = self.futures.past[row] - self.severity[self.futures.vehicle[row]][:, None]
        return np.asarray(-np.einsum("nks,ns->nk", away, self.of_rate[life]))

    def since_read(self, life: Ints) -> tuple[Floats, Floats]:
        """Effective miles from the last reading to as-of as the model has them, (n,), and in each future,
        (n, K); lives with futures only. [mi]"""
        row, table = self.row_of(life), self.table
        vehicle, miles = self.futures.vehicle[row], table.lives.miles[life]
        last = np.where(np.isfinite(miles), miles, 0.0).max(axis=1)
        until = np.stack([last, np.fmax(table.lives.as_of_miles[life], last)], axis=1)
        began = table.began_odometer[life]
        run = np.diff(self.seasons.miles_in(vehicle, began, began[:, None] + until), axis=1)[:, 0]
        in_futures = np.einsum("ns,nks->nk", run, np.exp(self.futures.past[row]))
        return (run * np.exp(self.severity[vehicle])).sum(axis=1), in_futures

    def in_miles(self, life: Ints, quantiles: Floats, beyond: Floats) -> tuple[Floats, Floats]:
        """Remaining miles from effective ones.

        Parameters
        ----------
        life : shape (n,). Rows of the lives.
        quantiles : shape (n, 33). Effective miles from as-of at ``models.distribution.PROBABILITIES``.
        beyond : shape (n,). Chance that the limit was reached before as-of.

        Returns
        -------
        The same two over the futures; as they are where nothing is shared.
        """
        out, chance = quantiles.copy(), beyond.copy()
        of = np.flatnonzero(self.row_of(life) >= 0)
        if len(of):
            out[of] = mixed(self.in_futures(life[of], quantiles[of]), PROBABILITIES, PROBABILITIES)
            mean, run = self.since_read(life[of])
            slower = self.slower(life[of])
            more = run * np.exp(-slower) - mean[:, None]
            reached = np.maximum(chance_by(quantiles[of], np.maximum(more, 0.0)), beyond[of, None])
            chance[of] = np.where(more > 0, reached, beyond[of, None]).mean(axis=1)
        return out, chance

    def in_futures(self, life: Ints, quantiles: Floats) -> Floats:
        """Quantiles of remaining miles in each future, (n, K, p), from effective ones, (n, p); lives with
        futures only. [mi]"""
        mean, run = self.since_read(life)
        since_read = (quantiles + mean[:, None])[:, None] * np.exp(self.slower(life))[..., None]
        return self.futures.to_miles(self.row_of(life), since_read - run[..., None])

    def new_lives(self, point: Ints) -> Floats:
        """Miles from new to the limit of the next part of wear points, as if renewed at as-of, (n, 33).
        [mi]"""
        scale = self.table.scale
        out = self.model.new_lives(scale.family[point], scale.limit[point], PROBABILITIES)
        row = self.row[scale.vehicle[point]]
        of = np.flatnonzero(row >= 0)
        if len(of):
            effective = np.repeat(out[of][:, None], self.futures.effective.shape[1], axis=1)
            out[of] = mixed(self.futures.to_miles(row[of], effective), PROBABILITIES, PROBABILITIES)
        return out

    def paces(self, life: Ints) -> list[Floats]:
        """Factor on the wear per effective mile ahead in each future of the lives' vehicles, (K,) each; empty
        where nothing is shared."""
        return [self.futures.pace[row] if row >= 0 else np.empty(0) for row in self.row_of(life)]

    def pace(self, life: Ints) -> tuple[Floats, Floats]:
        """Factor on the wear per effective mile that makes it wear per mile ahead, and the factor's variance,
        (n,) each; 1 and 0 where nothing is shared."""
        mean, var = np.ones(len(life)), np.zeros(len(life))
        of = np.flatnonzero(self.row_of(life) >= 0)
        if len(of):
            factor = self.futures.pace[self.row_of(life[of])] * np.exp(-self.slower(life[of]))
            mean[of], var[of] = factor.mean(axis=1), factor.var(axis=1)
        return mean, var

    def wear_ahead(
        self,
        miles: Floats,
        probabilities: Floats,
        *,
        with_gauge: bool,
        life: Ints,
        nodes: int = NODES[1],
    ) -> Floats:
        """Quantiles of the wear of lives at later miles, (n, q, p), as
        :meth:`models.wear.model.PooledWear.wear_ahead`, over the futures.

        Parameters
        ----------
        miles : shape (n, q). Miles since the life began, at or after as-of; NaN: not asked. [mi]
        """
        shared = self.row_of(life) >= 0
        out = np.empty((*miles.shape, len(probabilities)))
        alone = np.flatnonzero(~shared)
        if len(alone):
            out[alone] = self.model.wear_ahead(
                miles[alone], probabilities, with_gauge=with_gauge, life=life[alone], nodes=nodes
            )
        of = np.flatnonzero(shared & np.isfinite(miles).any(axis=1))
        if len(of):
            # The futures are in order of what explains them: every fourth is a picture of all.
            at = self._distances(life[of], miles[of])[:, :: PICTURED if nodes < NODES[1] else 1]
            low, high = np.nanmin(at, axis=(1, 2)), np.nanmax(at, axis=(1, 2))
            grid = low[:, None] + np.maximum(high - low, 1e-6)[:, None] * np.linspace(0.0, 1.0, WEAR_STEPS)
            wear = self.model.wear_ahead(grid, WEAR_LEVELS, with_gauge=with_gauge, life=life[of], nodes=nodes)
            out[of] = _mixed_wear(grid, wear, at, probabilities)
        return np.asarray(np.where(np.isfinite(miles)[..., None], out, np.nan))

    def _distances(self, life: Ints, miles: Floats) -> Floats:
        """Effective miles since lives began at which the model has the wear of each future, (n, K, q)."""
        table = self.table
        _, run = self.since_read(life)
        as_of = table.lives.as_of_miles[life]
        ahead = self.futures.to_effective(self.row_of(life), np.maximum(miles - as_of[:, None], 0.0))
        read = np.where(np.isfinite(table.lives.miles[life]), table.lives.miles[life], 0.0).max(axis=1)
        last = effective_since_began(table, self.seasons, self.severity, life, read[:, None])
        return np.asarray(last[..., None] + (ahead + run[..., None]) * np.exp(-self.slower(life))[..., None])


def _mixed_wear(grid: Floats, wear: Floats, at: Floats, probabilities: Floats) -> Floats:
    """Wear at distances ``at`` (n, K, q) over the futures, (n, q, p), that on equal steps, (n, g),
    at ``WEAR_LEVELS``, (n, g, 9)."""
    n, k, q = at.shape
    step = (grid[:, 1] - grid[:, 0])[:, None, None]
    place = np.clip((np.nan_to_num(at) - grid[:, :1, None]) / step, 0.0, grid.shape[1] - 1.0)
    left = np.minimum(place.astype(np.int64), grid.shape[1] - 2)
    share = (place - left)[..., None]
    row = np.arange(n)[:, None, None]
    given = (1.0 - share) * wear[row, left] + share * wear[row, left + 1]  # (n, K, q, 9)
    flat = given.transpose(0, 2, 1, 3).reshape(n * q, k, len(WEAR_LEVELS))
    return mixed(flat, WEAR_LEVELS, probabilities).reshape(n, q, len(probabilities))
