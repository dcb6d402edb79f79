"""Readings that may be wild or not: each shape has its own say on them, and a life is forecast both ways.

What looks wild under one shape is a bend under another. Judged by the heaviest alone, readings that do not
follow it are set aside, and what is left speaks for it.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.wear.life_states import mean_node
from models.wear.priors import Priors
from models.wear.relative import Relative, keep_lives, straighten, take_lives
from models.wear.shape_fits import AGAIN, SCREEN_LIVES, Fit, Job, fit_together, refine
from models.wear.wild import chance_given, deletion_residuals, log_price, noise_of_wild

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LEAST_DOUBT = 0.02
"""Chance of being wild, or of not being it, from which a reading is taken both ways. Assumption, no
source."""
MOST_DOUBTED = 3
"""Readings of a life that are taken both ways, those doubted most; any other counts by its chance. No
source: each more doubles the work."""


@dataclass(frozen=True)
class Doubted:
    """What is thought of the readings of families some of whose readings look wild.

    Attributes
    ----------
    families : shape (d,). Their numbers among all families.
    rows : shape (n,). Which of all lives are theirs.
    rel : these r lives, with the noise that each reading has if it is not wild.
    chance : shape (s, r, k). Of each reading to be wild, under each shape of wear; of a passage (last column,
        where there are some) to have been none.
    believed : shape (r, k). Readings that are no error, however wild they look.
    share : of wild readings. [1]
    variance : of wild readings, over the gauge's.
    """

    families: Ints
    rows: Bools
    rel: Relative
    chance: Floats
    believed: Bools
    share: float
    variance: float

    def under(self, shape: int) -> Relative:
        """The lives with the noise of their readings under a shape, by its number."""
        factor = noise_of_wild(self.chance[shape], self.variance, self.rel.worn)
        return replace(self.rel, noise=self.rel.noise * factor)

    def under_heaviest(self, weight: Floats) -> Floats:
        """Chance of each reading to be wild under the heaviest shape of its family, of weights (s, d); shape
        (r, k)."""
        best = self.rel.per_life(weight.argmax(axis=0))
        return np.asarray(self.chance[best, np.arange(len(best))])

    def both_ways(self, shape: int, rel: Relative, kept: Ints) -> "Ways":
        """Lives in every way that their doubted readings leave open under a shape.

        Parameters
        ----------
        rel : some of the lives, rows ``kept`` of all, with the noise of their readings where nothing is
            doubted.
        """
        own = self.rows[kept]
        row = (np.cumsum(self.rows) - 1)[kept[own]]
        chance, sound, noise = np.zeros(rel.w.shape), rel.noise, rel.noise
        if own.any():
            sound, noise = rel.noise.copy(), rel.noise.copy()
            chance[own], sound[own] = self.chance[shape, row], self.rel.noise[row]
            noise[own] = self.under(shape).noise[row]
        doubt = np.minimum(chance, 1.0 - chance)
        if rel.worn is not None:
            doubt[:, -1] = 0.0
        rank = np.argsort(np.argsort(-doubt, axis=1, kind="stable"), axis=1, kind="stable")
        taken = (doubt > LEAST_DOUBT) & (rank < MOST_DOUBTED)
        counts = 2 ** taken.sum(axis=1)
        life = np.repeat(np.arange(len(counts)), counts)
        way = np.arange(len(life)) - np.repeat(np.cumsum(counts) - counts, counts)
        taken = taken[life]
        place = np.maximum(np.cumsum(taken, axis=1) - 1, 0)  # of a doubted reading among those of its life
        wild = taken & ((way[:, None] >> place) & 1).astype(bool)
        noise = np.where(taken, sound[life] * np.where(wild, self.variance, 1.0), noise[life])
        log_prior = wild.sum(axis=1) * (np.log(self.share) - np.log1p(-self.share))
        return Ways(_each_again(rel, counts, noise), life, log_prior)


@dataclass(frozen=True)
class Ways:
    """Lives, each once for every way in which its doubted readings may be wild or not.

    Attributes
    ----------
    rel : the ways, n' in all; those of one life after each other.
    life : shape (n',). The life of each, as a row of what was given.
    log_prior : shape (n',). Of the way, before the readings.
    """

    rel: Relative
    life: Ints
    log_prior: Floats

    def shares(self, log_like: Floats) -> Floats:
        """Chance of each way within its life, shape (g, n'), from the log likelihood of its readings."""
        starts = np.flatnonzero(np.diff(self.life, prepend=-1))
        counts = np.diff(np.append(starts, len(self.life)))
        log_share = log_like + self.log_prior
        highest = np.maximum.reduceat(log_share, starts, axis=-1)
        share = np.exp(log_share - np.repeat(highest, counts, axis=-1))
        return np.asarray(share / np.repeat(np.add.reduceat(share, starts, axis=-1), counts, axis=-1))


def taken_both_ways(
    rel: Relative, wanted: Bools, doubted: Doubted | None, shape: int, rows: Ints
) -> tuple[Relative, Ints, Ints, Ways | None]:
    """Some lives under a shape, each in every way that its doubted readings leave open.

    Parameters
    ----------
    wanted : shape (n,). Which of ``rel``.
    doubted : None: nothing is doubted.
    rows : shape (n,). Of ``rel`` among all lives.

    Returns
    -------
    The lives; the families that have one; the row of each in ``rel``; the ways, if anything is doubted.
    """
    lives, families = keep_lives(rel, wanted)
    row = np.flatnonzero(wanted)
    if doubted is None:
        return lives, families, row, None
    ways = doubted.both_ways(shape, lives, rows[wanted])
    return ways.rel, families, row[ways.life], ways


def _each_again(rel: Relative, counts: Ints, noise: Floats) -> Relative:
    """Each life so many times, one after the other, with its own noise each time."""
    life = np.repeat(np.arange(len(counts)), counts)
    sizes = np.add.reduceat(counts, rel.starts)
    return replace(
        rel,
        order=rel.order[life],
        starts=np.cumsum(sizes) - sizes,
        sizes=sizes,
        m=rel.m[life],
        w=rel.w[life],
        limit=rel.limit[life],
        noise=noise,
        jump=None if rel.jump is None else rel.jump[life],
        as_of=rel.as_of[life],
        key=rel.key[life],
        worn=None if rel.worn is None else rel.worn[life],
        place=None if rel.place is None else rel.place[life],
        offset=None if rel.offset is None else rel.offset[life],
    )


def under_each_shape(
    doubted: Doubted, fits: list[Fit], weight: Floats, priors: Priors, least: float, *, look: bool = False
) -> tuple[list[Fit], Doubted]:
    """Every shape fitted anew to the doubted families, each without what is wild under it.

    Parameters
    ----------
    fits, weight, priors : of the d doubted families; weights of shape (s, d).
    least : weight in a family from which a shape is asked there. At first every shape must be: the evidence
        of one that never was has paid for nothing.
    look : on a coarse grid, in one round.

    Returns
    -------
    The fits, their evidence less what it costs to call readings wild, and the doubts by them.
    """
    likely = [np.flatnonzero(share >= least) for share in weight]
    asked = [i for i, families in enumerate(likely) if len(families)]
    chance = doubted.chance.copy()
    for i in asked:
        rows = np.isin(np.repeat(np.arange(len(doubted.families)), doubted.rel.sizes), likely[i])
        chance[i, rows] = _chance(doubted, i, fits[i])[rows]
    doubted = replace(doubted, chance=chance)
    jobs = []
    for i in asked:
        begin = fits[i].posterior.centre[:, likely[i]], fits[i].posterior.step[:, likely[i]]
        few = take_lives(doubted.under(i), SCREEN_LIVES, likely[i])
        jobs.append(Job(few, fits[i].shape, priors.of(likely[i]), begin, fits[i].factor[likely[i]]))
    found = fit_together(jobs, 1 if look else AGAIN, look=look)
    out = list(fits)
    for i, new in zip(asked, found, strict=True):
        evidence = new.evidence + _price(doubted, i)[likely[i]]
        out[i] = fits[i].with_families(replace(new, evidence=evidence), likely[i])
        if not look:
            (out[i],) = refine(doubted.under(i), likely[i], [out[i]], weight[[i]], priors)
    return out, doubted


def _chance(doubted: Doubted, shape: int, fit: Fit) -> Floats:
    """Chance of each reading to be wild under a shape, by all others of its life and family; shape (r, k)."""
    lives = doubted.under(shape)
    data = straighten(lives, fit.shape, fit.factor)
    sound = doubted.rel.noise * data.noise / lives.noise
    deletion = deletion_residuals(data, mean_node(fit.posterior, lives), sound)
    chance = chance_given(deletion, doubted.share, doubted.variance)
    if lives.worn is not None:
        chance[:, -1] = doubted.chance[shape, :, -1]
    return np.where(doubted.believed, 0.0, chance)


def _price(doubted: Doubted, shape: int) -> Floats:
    """What each family's log evidence pays for what is called wild, shape (d,), in the lives that shapes are
    judged by."""
    price = log_price(doubted.chance[shape], doubted.share, doubted.variance)
    if doubted.rel.worn is not None:
        price[:, -1] = 0.0
    price = np.where(np.isfinite(doubted.rel.w), price, 0.0).sum(axis=1)
    few = take_lives(replace(doubted.rel, as_of=price), SCREEN_LIVES)  # the same lives, each with its price
    return np.add.reduceat(few.as_of, few.starts)
