"""The spread of the rates within a family: normal, lognormal as three normals, or two populations, and which
of them a family has.

Everything in spreads of the family: a rate is ``mean + spread x`` and the law is that of ``x``, of mean 0 and
variance 1 under every law. Rates of parts that are products of many causes are skew: few wear much faster
than most. A normal law of the same spread lets the fastest of many last too long, and gives the slowest a
rate about zero. Parts of an old and a new bronze are two populations, of which hardly one wears at the mean.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import softmax

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NARROW = 0.42
"""Variance of the logarithm that each of the three normals takes over, of all of it."""
NODES: Floats = np.array([-1.0, 0.0, 1.0]) * np.sqrt(3.0 * (1.0 - NARROW))
SHARES: Floats = np.array([1.0, 4.0, 1.0]) / 6.0
"""The rest by Gauss and Hermite's rule of three points (M. Abramowitz, I. A. Stegun, 1964, table 25.10)."""
LOGNORMAL, TWO = 0.3, 0.1
"""Chance of the lognormal law and of two populations before any life of a family. Assumption, no
source."""
FASTER, WITHIN = (0.3, 0.5, 0.7), (0.08, 0.16, 0.3, 0.5)
"""Shares of the faster population, and of the spread that is within the two, that are tried, alike likely."""
SURE, ROUNDS = 8.0, 20
"""How many families of the store those chances are worth beside what its families show, found by going over
it so often."""
RARE = 0.01
"""Share of a part below which it is left out."""
MOST_CV = 0.9
"""Spread over mean up to which the three normals follow the law: within 0.012 of its distribution function at
0.1, 0.022 at 0.3, 0.04 at 0.6, 0.08 at 0.9."""


@dataclass(frozen=True)
class Parts:
    """Normals of which a law is the sum, first axis c: weight, shift of the mean and variance, in spreads and
    their squares."""

    weight: Floats
    shift: Floats
    keep: Floats

    def after(self, shift: Floats, keep: Floats) -> "Parts":
        """The same given what is said elsewhere of the rate, which alone would make a normal of mean 0 and
        variance 1 one of ``shift`` and ``keep``, shape (n,); ``keep`` 1 where nothing is said."""
        told = np.maximum(1.0 / keep - 1.0, 0.0)  # precision of what is said
        said, var = shift / keep / np.where(told > 0, told, 1.0), 1.0 / np.where(told > 0, told, 1.0)
        total = self.keep + var
        density = np.exp(-0.5 * (said - self.shift) ** 2 / total) / np.sqrt(total)
        weight = self.weight * np.where(told > 0, density, 1.0)
        own = 1.0 / (1.0 / self.keep + told)
        return Parts(weight / weight.sum(axis=0), (self.shift / self.keep + shift / keep) * own, own)

    def shares(self, said: Floats, var: Floats) -> Floats:
        """Share of each part given what a life's readings say of its rate (as in :func:`log_likelihoods`),
        shape (c, ...); parts that are rare are left out."""
        log_share = np.log(np.maximum(self.weight, 1e-300)) + log_likelihoods(self, said, var)
        share = np.exp(log_share - log_share.max(axis=0))
        share = np.where(share > RARE * share.sum(axis=0), share, 0.0)
        return np.asarray(share / share.sum(axis=0))


@dataclass(frozen=True)
class RateLaw:
    """What is known of the law of each family's rates, shape (f,).

    Attributes
    ----------
    lognormal, two : chance of the lognormal law, and of two populations; else the law is normal.
    faster : share of the faster population, if there are two.
    within : variance of the rates within the two, over all of it.
    """

    lognormal: Floats
    two: Floats
    faster: Floats
    within: Floats

    def of(self, which: Ints) -> "RateLaw":
        """Of some families, or of the family of each life."""
        return RateLaw(*(values[which] for values in vars(self).values()))


def normal_law(families: int) -> RateLaw:
    """Rates of all families normal."""
    none = np.zeros(families)
    return RateLaw(none, none, none + 0.5, none + 0.5)


def usual_law(families: int) -> RateLaw:
    """Of one population, before any life has a say."""
    return replace(normal_law(families), lognormal=np.full(families, LOGNORMAL))


def two_parts(cv: Floats, faster: Floats, within: Floats) -> Parts:
    """Two populations of rates, whose spreads are as their means; two normals, each of shape (2, ...)."""
    apart = np.sqrt((1.0 - within) / (faster * (1.0 - faster)))
    weight = np.stack(np.broadcast_arrays(1.0 - faster, faster, cv)[:2])
    shift = np.stack(np.broadcast_arrays(-faster * apart, (1.0 - faster) * apart, cv)[:2])
    mean = np.maximum(1.0 / np.maximum(cv, 1e-3) + shift, 0.1)
    return Parts(weight, shift, within * mean**2 / (weight * mean**2).sum(axis=0))


def lognormal_parts(cv: Floats) -> Parts:
    """The lognormal law of a spread ``cv`` over the mean, any shape; three normals, each of shape (3, ...).

    A narrow lognormal is taken as the normal of its mean and variance; then all are scaled to mean 0 and
    variance 1.
    """
    cv = np.clip(cv, 1e-3, MOST_CV)
    tau2 = np.log1p(cv**2)
    nodes = NODES.reshape(3, *(1,) * np.ndim(cv))
    weight = np.broadcast_to(SHARES.reshape(nodes.shape), (3, *np.shape(cv)))
    mean = np.exp(np.sqrt(tau2) * nodes + 0.5 * NARROW * tau2)
    var = mean**2 * np.expm1(NARROW * tau2)
    centre = (weight * mean).sum(axis=0)
    whole = (weight * (var + (mean - centre) ** 2)).sum(axis=0)
    return Parts(np.asarray(weight), (mean - centre) / np.sqrt(whole), var / whole)


def parts_of(cv: Floats, law: RateLaw) -> Parts:
    """The normal law, the lognormal one and two populations by their chances, as six normals of shape
    (6, ...)."""
    skew, two = lognormal_parts(cv), two_parts(cv, law.faster, law.within)
    one, none = np.ones((1, *np.shape(cv))), np.zeros((1, *np.shape(cv)))
    normal = (1.0 - law.lognormal - law.two) * one
    weight = np.concatenate([normal, law.lognormal * skew.weight, law.two * two.weight])
    keep = np.concatenate([one, skew.keep, two.keep])
    return Parts(weight, np.concatenate([none, skew.shift, two.shift]), keep)


def log_likelihoods(parts: Parts, said: Floats, var: Floats) -> Floats:
    """Log density of what is said of a rate under each part, shape (c, ...).

    Parameters
    ----------
    said : the rate that the life's own readings say, in spreads over the mean.
    var : its variance, in squared spreads; inf where they say nothing.
    """
    known = np.isfinite(var)
    total = parts.keep + np.where(known, var, 1.0)
    density = -0.5 * (np.where(known, said, 0.0) - parts.shift) ** 2 / total - 0.5 * np.log(total)
    return np.asarray(np.where(known, density, 0.0))


def law_of_rates(cv: Floats, said: Floats, var: Floats, starts: Ints) -> RateLaw:
    """Which law the rates of each family have, by what its own lives say and by how usual the law is among
    the families of the store (empirical Bayes: A. P. Dempster, N. M. Laird, D. B. Rubin, J. R. Stat. Soc. B
    39 (1977) 1-38, with a Dirichlet prior).

    Parameters
    ----------
    cv : shape (n,). Spread over mean of each life's family.
    said, var : shape (n,), as in :func:`log_likelihoods`.
    starts : shape (f,). First life of each family.
    """

    def evidence(parts: Parts) -> Floats:
        each = np.log((parts.weight * np.exp(log_likelihoods(parts, said, var))).sum(axis=0) + 1e-300)
        return np.asarray(np.add.reduceat(each, starts))

    one = np.ones((1, len(cv)))
    normal = evidence(Parts(one, 0.0 * one, one))
    skew = evidence(lognormal_parts(cv)) - normal
    tried = [(np.asarray(faster), np.asarray(within)) for faster in FASTER for within in WITHIN]
    two = np.stack([evidence(two_parts(cv, *pair)) for pair in tried]) - normal
    prior = np.concatenate([[1.0 - LOGNORMAL - TWO, LOGNORMAL], np.full(len(tried), TWO / len(tried))])
    log_weight = _log_weights(np.concatenate([[0.0 * skew, skew], two]), prior)
    weight = softmax(log_weight, axis=0)
    share = softmax(log_weight[2:], axis=0)  # by itself: beside a law that is sure all of them may vanish
    faster, within = (share.T @ np.array(values, dtype=float) for values in zip(*tried, strict=True))
    return RateLaw(weight[1], weight[2:].sum(axis=0), faster, within)


def _log_weights(log_evidence: Floats, prior: Floats) -> Floats:
    """Log weight of each law in each family but for a sum, shape (c, f), the laws as usual among the families
    as they show."""
    share = prior
    for _ in range(ROUNDS):
        found = softmax(log_evidence + np.log(share)[:, None], axis=0).sum(axis=1)
        share = (SURE * prior + found) / (SURE + log_evidence.shape[1])
    return np.asarray(log_evidence + np.log(share)[:, None])
