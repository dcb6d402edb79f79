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
from models.relative import Relative, keep_lives, straighten, take_lives
from models.shapes import KINDS, STRAIGHT, Shape

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
GIVE_UP = 5.0
"""Log evidence below straight wear from which stronger shapes of a kind are not looked at; with the power
that evidence counts by, such a shape weighs less than a tenth of straight wear, the next a hundredth."""
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
    look : only a first look at the bent shapes (:func:`look_at_kind`).
    """
    again = AGAIN if begin else ROUNDS
    first = straight or fit_one(
        rel, STRAIGHT, priors, begin[0] if begin else None, again, keep_points=keep_points
    )
    nearby = first.posterior.centre, np.maximum(1.4 * first.posterior.step, 0.8)
    start = dict(zip(shapes[1:], begin[1:] if begin else [nearby] * (len(shapes) - 1), strict=True))
    if look:
        kinds = [[shape for shape in shapes if shape.kind == kind] for kind in KINDS[1:]]
        found = in_threads(lambda kind: look_at_kind(rel, priors, first, kind, start), kinds)
        looks = {fit.shape: fit for fits in found for fit in fits}
        return [first, *(looks[shape] for shape in shapes[1:])]
    last = AGAIN if begin else ROUNDS - 1
    bent = in_threads(
        lambda shape: fit_one(rel, shape, priors, start[shape], last, keep_points=keep_points), shapes[1:]
    )
    return [first, *bent]


def look_at_kind(
    rel: Relative, priors: Priors, straight: Fit, shapes: list[Shape], start: dict[Shape, Grid]
) -> list[Fit]:
    """A first look at the shapes of one kind, the mildest first: one round on a coarse grid.

    The log evidence falls ever faster away from its highest. Where a milder shape explains a family's
    readings worse than straight wear by ``GIVE_UP``, the next is worse by at least that again: it is taken to
    be just so bad, and not looked at.
    """
    fits: list[Fit] = []
    for shape in sorted(shapes, key=lambda one: abs(np.log(one.power)) + abs(one.growth)):
        if not fits:
            fits.append(fit_one(rel, shape, priors, start[shape], 1, look=True))
            continue
        milder = fits[-1]
        fit = replace(milder, shape=shape, evidence=milder.evidence - GIVE_UP)
        some = np.flatnonzero(milder.evidence > straight.evidence - GIVE_UP)
        if len(some):
            part = keep_lives(rel, np.isin(np.repeat(np.arange(len(rel.sizes)), rel.sizes), some))[0]
            begin = start[shape][0][:, some], start[shape][1][:, some]
            fit = fit.with_families(fit_one(part, shape, priors.of(some), begin, 1, look=True), some)
        fits.append(fit)
    return fits


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
