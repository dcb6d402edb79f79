"""What the lives of one family say of its law of life: a posterior over laws, medians and spreads on a grid.

Each life is evidence that it ended after one distance and no later than another; one that is not over, or
was ended by something else than wear, ended after a distance. Nothing is optimised and nothing is drawn: the
grid finds its own place in three looks, so that the same lives give the same digits.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.lifetimes.laws import LAWS, Law

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NODES = (31, 21)
"""Log medians and log spreads of the grid."""
LOOKS = 3
"""Looks: over all that may be, then twice over what the look before left. A posterior of a thousand lives is
a hundredth of the first look wide."""
LEFT_OUT = 10.0
"""A node whose logarithm of density is this much below the best is left out."""
REACH_MEDIAN, REACH_SPREAD = 3.0, 4.0
"""How far the first look goes beyond the lives, in logs; and from the centre of the prior of the spread, in
its standard deviations."""


@dataclass(frozen=True)
class Prior:
    """What is known of lives before any of the family.

    Attributes
    ----------
    log_spread, log_spread_sd : the logarithm of the spread is normal. Of the median nothing is known.
    other : share of parts that come off for another reason within a median life, without anybody saying so.
    """

    log_spread: float
    log_spread_sd: float
    other: float


@dataclass(frozen=True)
class Ended:
    """Lives of one family as evidence, shape (n,).

    Attributes
    ----------
    low, high : the life ended after ``low`` and no later than ``high``; inf: it may be any more. [mi]
    untold : nobody says why it ended, so that it may have been for another reason than wear.
    """

    low: Floats
    high: Floats
    untold: NDArray[np.bool_]


@dataclass(frozen=True)
class Posterior:
    """Nodes of one family, shape (k,): each a law with a weight, which sum to 1."""

    law: Ints
    log_median: Floats
    spread: Floats
    weight: Floats

    def log_survival(self, miles: Floats) -> Floats:
        """Of each node at each distance, (k, r). [mi]"""
        return self._asked(Law.log_survival.__name__, miles)

    def miles_beyond(self, miles: Floats) -> Floats:
        """Of each node beyond each distance, (k, r). [mi]"""
        return self._asked(Law.miles_beyond.__name__, miles)

    def _asked(self, what: str, miles: Floats) -> Floats:
        out = np.empty((len(self.weight), len(miles)))
        for number, law in enumerate(LAWS):
            at = self.law == number
            out[at] = getattr(law, what)(miles, self.log_median[at, None], self.spread[at, None])
        return out


def posterior(lives: Ended, prior: Prior) -> Posterior:
    """The posterior of a family of which at least one life has a finite end.

    Parameters
    ----------
    lives : all lives of the family; of those alike each counts.
    """
    alike, count = np.unique(
        np.stack([lives.low, lives.high, lives.untold.astype(float)]), axis=1, return_counts=True
    )
    distinct = Ended(alike[0], alike[1], alike[2] > 0)
    nodes = [_nodes(law, distinct, count, prior) for law in LAWS]
    number = np.repeat(np.arange(len(LAWS)), [len(log_density) for _, _, log_density in nodes])
    log_median, log_spread, log_density = (np.concatenate(parts) for parts in zip(*nodes, strict=True))
    keep = log_density > log_density.max() - LEFT_OUT
    weight = np.exp(log_density[keep] - log_density.max())
    return Posterior(number[keep], log_median[keep], np.exp(log_spread[keep]), weight / weight.sum())


def _nodes(law: Law, lives: Ended, count: Ints, prior: Prior) -> tuple[Floats, Floats, Floats]:
    """Log medians, log spreads and log weights (cell and density) of one law's nodes."""
    ends = np.log(lives.high[np.isfinite(lives.high)])
    low = np.log(lives.low[lives.low > 0])
    reach = REACH_SPREAD * prior.log_spread_sd
    box = (
        (min(ends.min(), *low) - REACH_MEDIAN, max(ends.max(), *low) + REACH_MEDIAN),
        (prior.log_spread - reach, prior.log_spread + reach),
    )
    for _ in range(LOOKS):
        axes = [np.linspace(*side, n) for side, n in zip(box, NODES, strict=True)]
        steps = [float(axis[1] - axis[0]) for axis in axes]
        log_median, log_spread = (x.ravel() for x in np.meshgrid(*axes, indexing="ij"))
        density = log_likelihood(law, lives, log_median, np.exp(log_spread), prior.other) @ count
        density -= 0.5 * ((log_spread - prior.log_spread) / prior.log_spread_sd) ** 2
        kept = density > density.max() - LEFT_OUT
        box = (
            (log_median[kept].min() - steps[0], log_median[kept].max() + steps[0]),
            (log_spread[kept].min() - steps[1], log_spread[kept].max() + steps[1]),
        )
    return log_median, log_spread, density + np.log(steps).sum()


def log_likelihood(law: Law, lives: Ended, log_median: Floats, spread: Floats, other: float) -> Floats:
    """Of every life at every node, (k, n).

    A life of which nobody says why it ended may have been ended by something else, as likely on one mile as
    on the next: a second risk beside wear, of a constant rate. So a part that came off after a few miles says
    little, one near the end of its life that it was worn.
    """
    m, s = log_median[:, None], spread[:, None]
    out = law.log_chance(lives.low, lives.high, m, s)
    some = lives.untold & np.isfinite(lives.high)
    if some.any() and other > 0:
        low, high = lives.low[some], lives.high[some]
        rate = other * np.exp(-m)
        by_other = np.log(rate * (high - low)) + law.log_survival(high, m, s)
        out[:, some] = np.logaddexp(out[:, some], by_other) - rate * high
    return out
