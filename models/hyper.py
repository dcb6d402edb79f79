"""What families teach each other: the centres and spreads of the priors, learned from all of a store's families."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from models.family_fit import Points, Priors, log_normal

Floats = NDArray[np.float64]

CENTRE_STRENGTH = 2.0
"""Families' worth of readings that the assumed centre outweighs."""
SPREAD_STRENGTH = 4.0
"""The same for the assumed spread, which counts at half its square: families of one railway are alike."""
ROUNDS = 60


def learn_priors(points: list[Points], weight: Floats, gauge: Floats, prior: Priors) -> Priors:
    """Priors that fit the families seen.

    Parameters
    ----------
    points : quadrature points of f families under each of s shapes, fitted with ``prior``.
    weight : shape (s, f). Weight of the shapes.
    gauge : shape (f,). Finite where the gauge's error is stated: such a family says nothing of the others' gauges.
    prior : the priors that were assumed.

    Notes
    -----
    Expectation-maximisation over the families' posteriors, reweighted from the assumed to the learned priors
    (empirical Bayes; B. P. Carlin, T. A. Louis, *Bayes and Empirical Bayes Methods*, 2nd ed. 2000, section 3.4).
    """
    logs = np.stack([p.logs for p in points])  # shapes, 4, s, g, f
    post = np.stack([p.log_post for p in points])
    chance = np.exp(post - post.max(axis=(1, 2), keepdims=True))
    chance *= weight[:, None, None, :] / chance.sum(axis=(1, 2), keepdims=True)
    assumed, spread0 = prior.centres(), prior.spreads()
    centre, spread = assumed.copy(), spread0.copy()
    unstated = ~np.isfinite(gauge)
    for _ in range(ROUNDS):
        moved = np.zeros(post.shape)
        for i in range(4):
            change = log_normal(logs[:, i], centre[i], spread[i]) - log_normal(
                logs[:, i], assumed[i], spread0[i]
            )
            moved += np.where(unstated, change, 0.0) if i == 0 else change
        now = chance * np.exp(np.clip(moved, -30.0, 30.0))
        now /= now.sum(axis=(0, 1, 2))
        for i in range(4):
            use = unstated if i == 0 else np.ones_like(unstated)
            mean = (now * logs[:, i]).sum(axis=(0, 1, 2))[use]
            square = (now * logs[:, i] ** 2).sum(axis=(0, 1, 2))[use]
            centre[i] = (mean.sum() + CENTRE_STRENGTH * assumed[i]) / (len(mean) + CENTRE_STRENGTH)
            about = (square - 2.0 * mean * centre[i] + centre[i] ** 2).sum()
            spread[i] = np.sqrt(
                (about + SPREAD_STRENGTH * spread0[i] ** 2 / 2.0) / (len(mean) + SPREAD_STRENGTH)
            )
    names = ("log_sigma", "log_spread", "log_brownian", "log_start")
    learned = {name: float(c) for name, c in zip(names, centre, strict=True)}
    learned |= {f"{name}_sd": float(s) for name, s in zip(names, spread, strict=True)}
    return replace(prior, **learned)
