"""The chance that an engine must be taken out of service in a season, over the joint futures of its parts.

A season is lost once, however many parts fail in it: what one part adds to the chance depends on the others.
"""

import numpy as np

from models.plan import rounding as rounded
from models.plan.failures import Failures, Words
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


def chances_shared(failures: Failures, plans: list[Bools]) -> Floats:
    """The chance of the seasons shared out to lives, so that no plan's shares come to more than its chance.

    Parameters
    ----------
    plans : plans whose failures say how the shares of a future's season are best given.

    Returns
    -------
    As :func:`chances_added`. Of one future's season all units together have at most one: what is counted so
    is a lower bound of the chance of any plan.
    """
    share = np.zeros((*failures.season.shape[:2], failures.n_seasons))
    for weight, renewed in zip(2.0 ** -np.arange(len(plans)), plans, strict=True):
        share += weight * failures.of_plan(renewed)
    total = share.sum(axis=1, keepdims=True)
    np.divide(share, total, out=share, where=total > 0)
    return _along_lives(failures, share)


def _along_lives(failures: Failures, weight: Floats) -> Floats:
    """Mean over the futures of the weight at the season in which each life ends, where it ends in time."""
    n, units, seasons = failures.season.shape
    ended = np.zeros((units, seasons, seasons))
    row, unit = np.arange(n)[:, None], np.arange(units)[None, :]
    for start in range(seasons):
        season = failures.season[:, :, start].astype(np.int64)
        in_time = season < seasons
        own = np.where(in_time, weight[row, unit, np.minimum(season, seasons - 1)], 0.0)
        place = unit * (seasons + 1) + season
        sums = np.bincount(place.ravel(), own.ravel(), minlength=units * (seasons + 1))
        ended[:, start] = sums.reshape(units, seasons + 1)[:, :seasons] / n
    return _along(ended)


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
