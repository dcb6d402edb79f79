"""The spread of the rates within a family: normal, or lognormal as three normals, and which of them a family
has.

Everything in spreads of the family: a rate is ``mean + spread x`` and the law is that of ``x``, of mean 0 and
variance 1 under either law. Rates of parts that are products of many causes are skew: few wear much faster
than most. A normal law of the same spread lets the fastest of many last too long, and gives the slowest a
rate about zero.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NARROW = 0.42
"""Variance of the logarithm that each of the three normals takes over, of all of it."""
NODES: Floats = np.array([-1.0, 0.0, 1.0]) * np.sqrt(3.0 * (1.0 - NARROW))
SHARES: Floats = np.array([1.0, 4.0, 1.0]) / 6.0
"""The rest by Gauss and Hermite's rule of three points (M. Abramowitz, I. A. Stegun, 1964, table 25.10)."""
LOGNORMAL = 0.3
"""Chance of the lognormal law before any life of a family. Assumption, no source."""
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


def both_laws(cv: Floats, lognormal: Floats) -> Parts:
    """The normal law and the lognormal one, its chance given, as four normals of shape (4, ...)."""
    skew = lognormal_parts(cv)
    one, none = np.ones((1, *np.shape(cv))), np.zeros((1, *np.shape(cv)))
    weight = np.concatenate([(1.0 - lognormal) * one, lognormal * skew.weight])
    return Parts(weight, np.concatenate([none, skew.shift]), np.concatenate([one, skew.keep]))


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


def chance_lognormal(cv: Floats, said: Floats, var: Floats, starts: Ints) -> Floats:
    """Chance that the rates of each family are lognormal, shape (f,).

    Parameters
    ----------
    cv : shape (n,). Spread over mean of each life's family.
    said, var : shape (n,), as in :func:`log_likelihoods`.
    starts : shape (f,). First life of each family.
    """
    skew = lognormal_parts(cv)
    under = np.log((skew.weight * np.exp(log_likelihoods(skew, said, var))).sum(axis=0) + 1e-300)
    known = np.isfinite(var)
    total = 1.0 + np.where(known, var, 1.0)
    plain = np.where(known, -0.5 * said**2 / total - 0.5 * np.log(total), 0.0)
    odds = np.add.reduceat(under - plain, starts) + np.log(LOGNORMAL / (1.0 - LOGNORMAL))
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(odds, -500.0, 500.0))))
