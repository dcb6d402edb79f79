"""In which season each life that a plan may hold ends, in every future: what joint risk is counted from."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.futures.simulation import Simulation
from models.plan import rounding as rounded
from models.plan.chances import miles_by_date, node_days
from models.plan.problem import Bools, Floats, Ints
from models.plan.risk import STANDING

Seasons = NDArray[np.int8]
Words = NDArray[np.uint64]
"""Futures as bits, 64 a word: what holds in all of them is looked at in a few steps."""

PRICED_DRAWS = 1000
"""Futures by which choices are weighed; what a plan comes to is told from all that are drawn."""


@dataclass(frozen=True)
class Failures:
    """Of one vehicle: n futures, U units, W windows. Season s runs from node s to node s + 1, node 0 is now,
    nodes 1 .. W are the windows, node W + 1 is the end of the years planned.

    Attributes
    ----------
    season : shape (n, U, W + 1). Season in which a life of the unit, begun at a node, reaches its limit while
        the engine runs; W + 1 where that is later than the years planned.
    """

    season: Seasons

    @property
    def n_seasons(self) -> int:
        """Number of seasons."""
        return int(self.season.shape[2])

    @property
    def count(self) -> int:
        """Number of futures."""
        return len(self.season)

    @cached_property
    def ended(self) -> Words:
        """Futures in which a life, begun at a node, of a unit ends in a season, shape (words, W + 1, seasons,
        U): what is counted together lies side by side in memory."""
        n, units, seasons = self.season.shape
        words = -(-n // 64)
        of_start = np.full((seasons, units, 64 * words), seasons, dtype=np.int8)
        of_start[:, :, :n] = np.moveaxis(self.season, (0, 2), (2, 0))
        out = np.empty((words, seasons, seasons, units), dtype=np.uint64)
        for s in range(seasons):
            packed = np.packbits(of_start == s, axis=2).view(np.uint64)
            out[:, :, s] = np.moveaxis(packed, 2, 0)
        return out

    def stopping(self, renewed: Bools) -> Words:
        """Futures in which each unit stops the engine, shape (words, seasons, U); as :meth:`of_plan`."""
        units, seasons = len(renewed), self.n_seasons
        begun = begun_at(renewed).T
        found = self.ended[:, begun, np.arange(seasons)[:, None], np.arange(units)[None, :]]
        return np.ascontiguousarray(found)

    @cached_property
    def _by_season(self) -> tuple[NDArray[np.int32], Ints]:
        """Futures of each life in the order of the seasons in which it ends, shape (U, W + 1, n), and how
        many end before each season, shape (U, W + 1, seasons + 1)."""
        n, units, seasons = self.season.shape
        order = np.empty((units, seasons, n), dtype=np.int32)
        for unit in range(units):
            order[unit] = np.argsort(self.season[:, unit].T, axis=1, kind="stable")
        ended = np.moveaxis(np.bitwise_count(self.ended).sum(axis=0, dtype=np.int64), 2, 0)
        return order, np.pad(np.cumsum(ended, axis=2), ((0, 0), (0, 0), (1, 0)))

    def ending(self, unit: Ints, start: Ints, season: Ints) -> tuple[Ints, Ints]:
        """Futures in which lives, begun at a node, end in a season, shapes (a,): row among them, future."""
        order, before = self._by_season
        row, place = ranges(before[unit, start, season], before[unit, start, season + 1])
        return row, order[unit[row], start[row], place].astype(np.int64)

    def of_plan(self, renewed: Bools) -> Bools:
        """Whether each unit stops the engine in each season of each future.

        Parameters
        ----------
        renewed : shape (U, W). Windows at which each unit is renewed.

        Returns
        -------
        Shape (n, U, seasons). A part that fails is not followed on to the next window: the engine stands
        once.
        """
        n, units, seasons = self.season.shape
        out = np.zeros((n, units, seasons), bool)
        begun = np.zeros(units, dtype=np.int64)
        row = np.arange(units)
        for s in range(seasons):
            if s > 0:
                begun = np.where(renewed[:, s - 1], s, begun)
            out[:, :, s] = self.season[:, row, begun] == s
        return out


def ranges(start: Ints, stop: Ints) -> tuple[Ints, Ints]:
    """The whole numbers from each start up to its stop, one after the other: row of the pair, number."""
    length = stop - start
    row = np.repeat(np.arange(len(length)), length)
    first = np.cumsum(length) - length
    return row, np.arange(len(row)) - first[row] + start[row]


def begun_at(renewed: Bools) -> Ints:
    """Node at which the life in service in each season was begun, shape (U, seasons), of a plan (U, W)."""
    nodes = np.pad(renewed * np.arange(1, renewed.shape[1] + 1), ((0, 0), (1, 0)))
    return np.asarray(np.maximum.accumulate(nodes, axis=1), dtype=np.int64)


def failures_of(
    simulation: Simulation,
    vehicle: str,
    units: list[Ints],
    opens: NDArray[np.datetime64],
    end: pd.Timestamp | None,
    ignored: Bools,
) -> Failures:
    """Failures of one vehicle.

    Parameters
    ----------
    simulation : the futures. vehicle : its name.
    units : by unit the rows of the vehicle's wear points; a unit without any never fails.
    opens : days on which the windows open. end : day up to which parts must last.
    ignored : shape (p,). Wear points of the vehicle that are at their limit already: what they do before they
        are renewed is said elsewhere.

    Notes
    -----
    Draws of lives that begin at neighbouring windows are different ones; all are joint over the parts.
    """
    index = simulation.vehicles.index(vehicle)
    own = np.flatnonzero((simulation.points["vehicle"] == vehicle).to_numpy())
    take = slice(0, PRICED_DRAWS)
    days = node_days(simulation, vehicle, opens, end)
    run = rounded.miles(miles_by_date(simulation, index, days)[take])
    run[:, 0] = 0.0
    n, seasons = len(run), len(days) - 1
    season = np.full((n, len(units), seasons), seasons, dtype=np.int8)
    for node in range(seasons):
        lives = _lives_begun(simulation, own, node)[take]
        ends = run[:, [node]] + rounded.miles(np.maximum(lives, STANDING))
        # The season in which the miles of the life are run: the number of nodes that lie before it.
        at = np.full(ends.shape, -1, dtype=np.int8)
        for place in range(seasons + 1):
            at += (run[:, [place]] < ends).astype(np.int8)
        if node == 0:
            at[:, ignored] = seasons
        for unit, members in enumerate(units):
            if len(members):
                season[:, unit, node] = at[:, members].min(axis=1)
    return Failures(season)


def _lives_begun(simulation: Simulation, own: Ints, node: int) -> Floats:
    if node == 0 or simulation.next_life.shape[2] == 0:
        return simulation.remaining[:, own]
    return simulation.next_life[:, own, (node - 1) % simulation.next_life.shape[2]]
