"""The chance that an engine must be taken out of service in a season, over the joint futures of its parts.

A season is lost once, however many parts fail in it: what one part adds to the chance depends on the others.
"""

import numpy as np

from models.plan import rounding as rounded
from models.plan.failures import Failures, Words, begun_at
from models.plan.milp import Least
from models.plan.problem import Bools, Floats


def season_chances(failures: Failures, renewed: Bools) -> Floats:
    """Chance of each season that at least one part stops the engine, shape (seasons,). [1] The first, up to
    the first window, is the same whatever is planned."""
    stopped = np.bitwise_or.reduce(failures.stopping(renewed), axis=0)
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
    some, several = np.zeros_like(stopping[0]), np.zeros_like(stopping[0])
    for own in stopping:
        several |= some & own
        some |= own
    no_other = ~some | (stopping & ~several)
    return _along(_counted(failures.ended & no_other[:, None]) / failures.count)


def chances_alone(failures: Failures) -> Floats:
    """As :func:`chances_added` where no other part fails; the sum is never below the joint chance."""
    return _along(_counted(failures.ended) / failures.count)


def chances_shared(failures: Failures, weight: Floats) -> Floats:
    """The chance of the seasons shared out to lives, so that no plan's shares come to more than its chance.

    Parameters
    ----------
    weight : shape (n, U, seasons), >= 0. How the shares of a future's season are given; none where it is 0.

    Returns
    -------
    As :func:`chances_added`. Of one future's season all units together have at most one: what is counted so
    is a lower bound of the chance of any plan.
    """
    n, units, seasons = failures.season.shape
    total = weight.sum(axis=1)
    future, unit, season = np.nonzero(weight)
    share = weight[future, unit, season] / total[future, season]
    life, start = np.nonzero(failures.season[future, unit] == season[:, None])
    place = (unit[life] * seasons + start) * seasons + season[life]
    sums = np.bincount(place, share[life], minlength=units * seasons * seasons)
    return _along(sums.reshape(units, seasons, seasons) / n)


def come_to(of_lives: Floats, renewed: Bools) -> float:
    """What the lives of a plan come to: ``of_lives``, shape (U, W + 2, W + 2), as :func:`chances_added`."""
    ends = np.pad(renewed, ((0, 0), (0, 1)), constant_values=True)
    unit, season = np.nonzero(ends)
    return float(of_lives[unit, begun_at(renewed)[unit, season], season + 1].sum())


def failing_in(failures: Failures, least: Least) -> Floats:
    """How much of each unit fails in each season of each future, shape (n, U, seasons), in parts of plans."""
    out = np.zeros((failures.count, failures.season.shape[1], failures.n_seasons))
    for unit, start, end, share in zip(least.unit, least.start, least.end, least.share, strict=True):
        ended = failures.season[:, unit, start, None] == np.arange(start, end)[None, :]
        out[:, unit, start:end] += share * ended
    return out


def _along(ended: Floats) -> Floats:
    """Lives that end by each node, from those that end in each season, shape (U, W + 1, seasons)."""
    units, seasons = ended.shape[:2]
    ended[:, :, 0] = 0.0  # what happens before the first window is the same in every plan
    out = np.zeros((units, seasons + 1, seasons + 1))
    out[:, :-1, 1:] = np.cumsum(ended, axis=2)
    return out


def _counted(futures: Words) -> Floats:
    """Number of futures in words of bits, the last axis."""
    return np.asarray(np.bitwise_count(futures).sum(axis=-1), dtype=np.float64)
