"""The chance that an engine must be taken out of service in a season, over the joint futures of its parts.

A season is lost once, however many parts fail in it: what one part adds to the chance depends on the others.
"""

import numpy as np

from models.plan import rounding as rounded
from models.plan.failures import Failures, Words, begun_at, ranges
from models.plan.milp import LivesHeld
from models.plan.problem import Bools, Floats, Ints


def season_chances(failures: Failures, renewed: Bools) -> Floats:
    """Chance of each season that at least one part stops the engine, shape (seasons,). [1] The first, up to
    the first window, is the same whatever is planned."""
    stopped = np.bitwise_or.reduce(failures.stopping(renewed), axis=2)
    return rounded.chances(_counted(stopped) / failures.count)


def chances_added(failures: Failures, renewed: Bools) -> Floats:
    """What each life would add to the chance of its seasons, the other parts as the plan has them.

    Parameters
    ----------
    failures : of the vehicle. renewed : shape (U, W). The plan.

    Returns
    -------
    Shape (U, W + 2, W + 2), by unit, first and last node of the life. [1] Exact for a change of one unit.
    """
    stopping = failures.stopping(renewed)
    some, several = np.zeros_like(stopping[:, :, 0]), np.zeros_like(stopping[:, :, 0])
    for own in np.ascontiguousarray(np.moveaxis(stopping, 2, 0)):
        several |= some & own
        some |= own
    no_other = ~some[:, :, None] | (stopping & ~several[:, :, None])
    counted = np.zeros(failures.ended.shape[1:], dtype=np.uint32)
    for ended, others in zip(failures.ended, no_other, strict=True):  # word by word: no array of all is made
        counted += np.bitwise_count(ended & others)
    return _along(counted / failures.count)


def chances_alone(failures: Failures) -> Floats:
    """As :func:`chances_added` where no other part fails; the sum is never below the joint chance."""
    return _along(_counted(failures.ended) / failures.count)


class Weights:
    """How the shares of each future's season are given to the units that fail in it.

    Of what fails in 20 winters of 250 parts little more than a hundredth ever fails in a plan worth a look:
    only that is kept, by future, season and unit.
    """

    def __init__(self, failures: Failures) -> None:
        self.failures = failures
        self._place: Ints = np.empty(0, dtype=np.int64)  # of future, season, unit; in order, each once
        self._weight: Floats = np.empty(0)

    def add(self, lives: LivesHeld, weight: float = 1.0) -> None:
        """Weigh what fails in lives by so much more, each by its share."""
        units, seasons = self.failures.season.shape[1:]
        life, season = ranges(lives.start, lives.end)
        unit, share = lives.unit[life], lives.share[life] * weight
        ended, future = self.failures.ending(unit, lives.start[life], season)
        place = (future * seasons + season[ended]) * units + unit[ended]
        places = np.concatenate([self._place, place])
        weights = np.concatenate([self._weight, share[ended]])
        self._place, row = np.unique(places, return_inverse=True)
        self._weight = np.bincount(row, weights, minlength=len(self._place)).astype(np.float64)

    def shares(self) -> tuple[Ints, Ints, Ints, Floats]:
        """Future, unit, season and its share, which come to one over the units of a future's season."""
        units, seasons = self.failures.season.shape[1:]
        future_season, unit = np.divmod(self._place, units)
        total = np.bincount(future_season, self._weight, minlength=self.failures.count * seasons)
        future, season = np.divmod(future_season, seasons)
        return future, unit, season, self._weight / total[future_season]


def chances_shared(weights: Weights) -> Floats:
    """The chance of the seasons shared out to lives, so that no plan's shares come to more than its chance.

    Returns
    -------
    As :func:`chances_added`. Of one future's season all units together have at most one: what is counted so
    is a lower bound of the chance of any plan.
    """
    n, units, seasons = weights.failures.season.shape
    future, unit, season, share = weights.shares()
    life, start = np.nonzero(weights.failures.season[future, unit] == season[:, None].astype(np.int8))
    place = (unit[life] * seasons + start) * seasons + season[life]
    sums = np.bincount(place, share[life], minlength=units * seasons * seasons)
    return _along(np.moveaxis(sums.reshape(units, seasons, seasons), 0, 2) / n)


def come_to(of_lives: Floats, renewed: Bools) -> float:
    """What the lives of a plan come to: ``of_lives``, shape (U, W + 2, W + 2), as :func:`chances_added`."""
    held = lives_held(renewed)
    return float(of_lives[held.unit, held.start, held.end].sum())


def lives_held(renewed: Bools) -> LivesHeld:
    """The lives of a plan, shape (U, W)."""
    ends = np.pad(renewed, ((0, 0), (0, 1)), constant_values=True)
    unit, season = np.nonzero(ends)
    return LivesHeld(unit, begun_at(renewed)[unit, season], season + 1, np.ones(len(unit)))


def _along(ended: Floats) -> Floats:
    """Lives that end by each node, shape (U, W + 2, W + 2), from those that end in each season, shape (W + 1,
    seasons, U)."""
    seasons, units = ended.shape[1:]
    ended[:, 0] = 0.0  # what happens before the first window is the same in every plan
    out = np.zeros((units, seasons + 1, seasons + 1))
    out[:, :-1, 1:] = np.moveaxis(np.cumsum(ended, axis=1), 2, 0)
    return out


def _counted(futures: Words) -> Floats:
    """Number of futures in words of bits, the first axis."""
    return np.asarray(np.bitwise_count(futures).sum(axis=0, dtype=np.uint32), dtype=np.float64)
