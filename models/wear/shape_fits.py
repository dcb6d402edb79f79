"""Every shape of wear fitted to families: a first fit, a closer look where a shape counts, more lives where
there are."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.wear.family_fit import AXES, LOOK, ROUNDS, Families, fit_families
from models.wear.posterior import Posterior, part_of, put, put_families, take_families
from models.wear.priors import Priors, joined_priors
from models.wear.relative import Relative, keep_lives, stacked, straighten, take_lives
from models.wear.shapes import KINDS, STRAIGHT, Shape

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Grid = tuple[Floats, Floats]

SCREEN_LIVES = 16
"""Lives of a family on which all shapes are tried, chosen by hash."""
LEARN_LIVES = 1000
"""Lives that the parameters of the shapes that count are then learned from."""
COUNTS = 0.02
"""Weight from which a shape is worth that."""
LOOK_CLOSER = 0.003
"""Weight at a first look from which a shape is fitted properly, where others have taught what to expect."""
GIVE_UP = 5.0
"""Log evidence below straight wear from which stronger shapes of a kind are not looked at; with the power
that evidence counts by, such a shape weighs less than a tenth of straight wear, the next a hundredth."""
AGAIN = 2
"""Rounds of a fit that begins where an earlier one came to rest."""


@dataclass(frozen=True)
class Fit:
    """One shape fitted to all families."""

    shape: Shape
    factor: Floats  # (f,) distance scale
    posterior: Posterior
    evidence: Floats  # (f,) of the readings as they were taken

    def of(self, families: Ints) -> "Fit":
        """Some of the families."""
        part = take_families(self.posterior, families)
        return Fit(self.shape, self.factor[families], part, self.evidence[families])

    def with_families(self, new: "Fit", families: Ints) -> "Fit":
        """This fit with some families replaced by a new fit of theirs."""
        return Fit(
            self.shape,
            put(self.factor, new.factor, families),
            put_families(self.posterior, new.posterior, families),
            put(self.evidence, new.evidence, families),
        )

    def node_logs(self, families: Ints, rel: Relative) -> tuple[Floats, Floats, Floats]:
        """The parameters of f families at their g nodes, in the families' own units.

        Returns
        -------
        Logs in the order of ``models.wear.shared_prior.PARAMETERS``, shape (5, g, f); weight of each node,
        shape (g, f); variance of the log of the rate within a node, shape (g, f).
        """
        post, allowance = take_families(self.posterior, families), rel.allowance[families]
        sigma, mu = np.sqrt(post.sigma2), np.maximum(post.mean[1], 0.02)
        life = self.shape.straight_distance(1.0 / mu) / self.factor[families] * rel.life[families]
        logs = np.stack(
            [
                np.log(sigma * allowance),
                np.log(np.sqrt(post.rb) * sigma / mu),
                np.log(np.sqrt(post.q / mu) * sigma),
                np.log(np.sqrt(post.ra) * sigma),
                np.log(allowance / life),
            ]
        )
        return logs, post.weight, post.cov[2] / mu**2


@dataclass(frozen=True)
class Job:
    """One shape to be fitted to all families of some lives; ``begin`` and ``factor`` as ``fit_families`` and
    ``straighten`` take them."""

    rel: Relative
    shape: Shape
    priors: Priors
    begin: Grid | None = None
    factor: Floats | None = None


def fit_together(jobs: list[Job], rounds: int, *, keep_points: bool = False, look: bool = False) -> list[Fit]:
    """Fit several shapes, each to its own lives, as though all were further families: few large arrays take
    less time than many small ones. ``look``: on a coarse grid."""
    if not jobs:
        return []
    data = [straighten(job.rel, job.shape, job.factor) for job in jobs]
    sizes = np.concatenate([job.rel.sizes for job in jobs])
    starts = np.cumsum(sizes) - sizes
    gauge = np.concatenate([job.rel.gauge for job in jobs])
    priors = [job.priors.under(job.shape, lives.factor) for job, lives in zip(jobs, data, strict=True)]
    count = [len(job.rel.sizes) for job in jobs]
    grids = [job.begin for job in jobs if job.begin is not None]
    begin = None
    if grids:
        begin = (
            np.concatenate([grid[0] for grid in grids], axis=1),
            np.concatenate([grid[1] for grid in grids], axis=1),
        )
    found = fit_families(
        Families(stacked(data), starts, sizes, gauge),
        joined_priors(priors, count),
        begin,
        rounds=rounds,
        keep_points=keep_points,
        axes=LOOK if look else AXES,
    )
    ends = np.cumsum(count)
    fits = []
    for job, lives, n, end in zip(jobs, data, count, ends, strict=True):
        own = part_of(found, slice(int(end) - n, int(end)))
        fits.append(Fit(job.shape, lives.factor, own, own.evidence + lives.log_jacobian))
    return fits


def fit_one(rel: Relative, shape: Shape, priors: Priors, begin: Grid | None, rounds: int) -> Fit:
    """Fit one shape to all families of some lives."""
    return fit_together([Job(rel, shape, priors, begin)], rounds)[0]


def fit_shapes(rel: Relative, priors: Priors, shapes: tuple[Shape, ...]) -> list[Fit]:
    """Fit shapes, straight first, the others from where it came to rest; every quadrature point is kept."""
    first = fit_together([Job(rel, STRAIGHT, priors)], ROUNDS, keep_points=True)[0]
    jobs = [Job(rel, shape, priors, _nearby(first)) for shape in shapes[1:]]
    return [first, *fit_together(jobs, ROUNDS - 1, keep_points=True)]


def look_at_shapes(
    rel: Relative,
    priors: Priors,
    shapes: tuple[Shape, ...],
    begin: list[Grid],
    straight: Fit | None = None,
) -> list[Fit]:
    """Fit straight wear and take a first look at the other shapes (:func:`first_looks`).

    Parameters
    ----------
    begin : where each shape stood; empty: the bent ones begin where straight wear comes to rest.
    straight : the fit of straight wear, where it is known already.
    """
    again, stood = (AGAIN, begin[0]) if begin else (ROUNDS, None)
    first = straight or fit_one(rel, STRAIGHT, priors, stood, again)
    starts = begin[1:] or [_nearby(first)] * (len(shapes) - 1)
    looks = first_looks(rel, priors, first, dict(zip(shapes[1:], starts, strict=True)))
    return [first, *(looks[shape] for shape in shapes[1:])]


def _nearby(straight: Fit) -> Grid:
    return straight.posterior.centre, np.maximum(1.4 * straight.posterior.step, 0.8)


def first_looks(rel: Relative, priors: Priors, straight: Fit, start: dict[Shape, Grid]) -> dict[Shape, Fit]:
    """A first look at the bent shapes, of each kind the mildest first: one round on a coarse grid.

    The log evidence falls ever faster away from its highest. Where a milder shape explains a family's
    readings worse than straight wear by ``GIVE_UP``, the next is worse by at least that again: it is taken to
    be just so bad, and not looked at.
    """
    fits: dict[Shape, Fit] = {}
    number = np.repeat(np.arange(len(rel.sizes)), rel.sizes)
    kinds = [[shape for shape in start if shape.kind == kind] for kind in KINDS[1:]]
    kinds = [sorted(kind, key=lambda shape: abs(np.log(shape.power)) + abs(shape.growth)) for kind in kinds]
    for step in range(max(map(len, kinds))):
        jobs, looked_at = [], []
        for kind in kinds:
            if step >= len(kind):
                continue
            shape = kind[step]
            if step == 0:
                jobs.append(Job(rel, shape, priors, start[shape]))
                looked_at.append(np.arange(len(rel.sizes)))
                continue
            milder = fits[kind[step - 1]]
            fits[shape] = replace(milder, shape=shape, evidence=milder.evidence - GIVE_UP)
            close = np.flatnonzero(milder.evidence > straight.evidence - GIVE_UP)
            if len(close):
                begin = start[shape][0][:, close], start[shape][1][:, close]
                jobs.append(Job(keep_lives(rel, np.isin(number, close))[0], shape, priors.of(close), begin))
                looked_at.append(close)
        for fit, families in zip(fit_together(jobs, 1, look=True), looked_at, strict=True):
            fits[fit.shape] = fits[fit.shape].with_families(fit, families) if step else fit
    return fits


def look_closer(rel: Relative, families: Ints, fits: list[Fit], weight: Floats, priors: Priors) -> list[Fit]:
    """Fit properly the bent shapes of the named families that a first look does not rule out (weight (s,
    f)), where it does not."""
    jobs, chosen = [], {}
    for i, (fit, share) in enumerate(zip(fits, weight, strict=True)):
        likely = families[share[families] > LOOK_CLOSER]
        if len(likely) and fit.shape is not STRAIGHT:
            begin = fit.posterior.centre[:, likely], fit.posterior.step[:, likely]
            jobs.append(Job(take_lives(rel, SCREEN_LIVES, likely), fit.shape, priors.of(likely), begin))
            chosen[i] = likely
    out = list(fits)
    for (i, likely), new in zip(chosen.items(), fit_together(jobs, AGAIN), strict=True):
        out[i] = fits[i].with_families(new, likely)
    return out


def refine(rel: Relative, families: Ints, fits: list[Fit], weight: Floats, priors: Priors) -> list[Fit]:
    """Learn the parameters of the shapes that count from more lives, where a family has more."""
    large = families[rel.sizes[families] > SCREEN_LIVES]
    jobs, chosen = [], {}
    for i, (fit, share) in enumerate(zip(fits, weight, strict=True)):
        counted = large[share[large] > COUNTS]
        if len(counted):
            begin = fit.posterior.centre[:, counted], fit.posterior.step[:, counted]
            part, own = take_lives(rel, LEARN_LIVES, counted), priors.of(counted)
            jobs.append(Job(part, fit.shape, own, begin, fit.factor[counted]))
            chosen[i] = counted
    out = list(fits)
    for (i, counted), new in zip(chosen.items(), fit_together(jobs, AGAIN), strict=True):
        out[i] = replace(fits[i], posterior=put_families(fits[i].posterior, new.posterior, counted))
    return out
