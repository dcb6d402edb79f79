"""Every shape of wear fitted to families: a first fit, a closer look where a shape counts, more lives where
there are."""

import math
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from models.family_fit import AXES, LOOK, ROUNDS, Families, fit_families
from models.posterior import Posterior, padded, put, put_families
from models.priors import Priors
from models.relative import Relative, straighten, take_lives
from models.shapes import STRAIGHT, Shape

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Grid = tuple[Floats, Floats]
T = TypeVar("T")
R = TypeVar("R")

SCREEN_LIVES = 16
"""Lives of a family on which all shapes are tried, those with the most readings first."""
LEARN_LIVES = 60
"""Lives that the parameters of the shapes that count are then learned from."""
COUNTS = 0.02
"""Weight from which a shape is worth that."""
LOOK_CLOSER = 0.003
"""Weight at a first look from which a shape is fitted properly, where others have taught what to expect."""
NODES = math.prod(len(axis) for axis in AXES)
AGAIN = 2
"""Rounds of a fit that begins where an earlier one came to rest."""
WORKERS = 2


@dataclass(frozen=True)
class Fit:
    """One shape fitted to all families."""

    shape: Shape
    factor: Floats  # (f,) distance scale
    posterior: Posterior
    evidence: Floats  # (f,) of the readings as they were taken

    def with_families(self, new: "Fit", families: Ints) -> "Fit":
        """This fit with some families replaced by a new fit of theirs."""
        return Fit(
            self.shape,
            put(self.factor, new.factor, families),
            put_families(self.posterior, new.posterior, families),
            put(self.evidence, new.evidence, families),
        )


def fit_one(
    rel: Relative,
    shape: Shape,
    priors: Priors,
    begin: Grid | None,
    rounds: int,
    *,
    keep_points: bool = False,
    look: bool = False,
) -> Fit:
    """Fit one shape to all families of some lives; ``look``: on a coarse grid."""
    data = straighten(rel, shape)
    families = Families(data, rel.starts, rel.sizes, rel.gauge)
    here = priors.under(shape, data.factor)
    axes = LOOK if look else AXES
    found = fit_families(families, here, begin, rounds=rounds, keep_points=keep_points, axes=axes)
    if look:
        found = padded(found, NODES)
    return Fit(shape, data.factor, found, found.evidence + data.log_jacobian)


def fit_shapes(
    rel: Relative,
    priors: Priors,
    shapes: tuple[Shape, ...],
    *,
    keep_points: bool = False,
    begin: list[Grid] | None = None,
    straight: Fit | None = None,
    look: bool = False,
) -> list[Fit]:
    """Fit shapes, straight first; each begins where it stood (``begin``), or where straight wear came to
    rest.

    Parameters
    ----------
    straight : the fit of straight wear, where it is known already.
    look : only a first look at the bent shapes: one round on a coarse grid.
    """

    def run(shape: Shape, start: Grid | None, rounds: int) -> Fit:
        coarse = look and shape is not STRAIGHT
        return fit_one(rel, shape, priors, start, rounds, keep_points=keep_points, look=coarse)

    first = straight or run(STRAIGHT, begin[0] if begin else None, AGAIN if begin else ROUNDS)
    nearby = first.posterior.centre, np.maximum(1.4 * first.posterior.step, 0.8)
    starts = begin[1:] if begin else [nearby] * (len(shapes) - 1)
    last = 1 if look else AGAIN if begin else ROUNDS - 1
    bent = in_threads(lambda item: run(*item, last), zip(shapes[1:], starts, strict=True))
    return [first, *bent]


def look_closer(rel: Relative, families: Ints, fits: list[Fit], weight: Floats, priors: Priors) -> list[Fit]:
    """Fit properly the bent shapes of the named families that a first look does not rule out (weight (s,
    f)), where it does not."""

    def run(item: tuple[Fit, Floats]) -> Fit:
        fit, share = item
        some = families[share[families] > LOOK_CLOSER]
        if len(some) == 0 or fit.shape is STRAIGHT:
            return fit
        part = take_lives(rel, SCREEN_LIVES, some)
        begin = fit.posterior.centre[:, some], fit.posterior.step[:, some]
        return fit.with_families(fit_one(part, fit.shape, priors.of(some), begin, AGAIN), some)

    return in_threads(run, zip(fits, weight, strict=True))


def refine(rel: Relative, families: Ints, fits: list[Fit], weight: Floats, priors: Priors) -> list[Fit]:
    """Learn the parameters of the shapes that count from more lives, where a family has more."""
    large = families[rel.sizes[families] > SCREEN_LIVES]

    def run(item: tuple[Fit, Floats]) -> Fit:
        fit, share = item
        some = large[share[large] > COUNTS]
        if len(some) == 0:
            return fit
        part = take_lives(rel, LEARN_LIVES, some)
        data = straighten(part, fit.shape, fit.factor[some])
        begin = fit.posterior.centre[:, some], fit.posterior.step[:, some]
        lives = Families(data, part.starts, part.sizes, part.gauge)
        here = priors.of(some).under(fit.shape, data.factor)
        found = fit_families(lives, here, begin, rounds=AGAIN)
        return replace(fit, posterior=put_families(fit.posterior, found, some))

    return in_threads(run, zip(fits, weight, strict=True))


def use_threads(count: int) -> None:
    """From now on work in so many threads in this process."""
    global WORKERS
    WORKERS = count


def in_threads(function: Callable[[T], R], items: Iterable[T]) -> list[R]:
    """Results in the order of the items; numpy works outside the interpreter's lock, so threads help."""
    with ThreadPoolExecutor(WORKERS) as pool:
        return list(pool.map(function, items))
