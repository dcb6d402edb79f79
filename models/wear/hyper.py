"""What families teach each other: the centres and spreads of the priors, learned from all of a store's
families."""

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.wear.posterior import Points
from models.wear.priors import Priors

Floats = NDArray[np.float64]

CENTRE_STRENGTH = 2.0
"""Families' worth of readings that the assumed centre outweighs."""
SPREAD_STRENGTH = 2.0
"""The same for the assumed spread, which counts at half its square: families of one railway are alike. One
family, which cannot tell how several differ, is outweighed twice as far."""
ROUNDS = 60
SETTLED = 1e-6
"""Change of a centre or spread in a round below which they are taken to have come to rest."""
POINTS = 400
"""Quadrature points of a family that are kept, the heaviest."""


def learn_priors(points: list[Points], weight: Floats, gauge: Floats, prior: Priors) -> Priors:
    """Priors that fit the families seen.

    Parameters
    ----------
    points : quadrature points of f families under each of s shapes, fitted with ``prior``.
    weight : shape (s, f). Weight of the shapes.
    gauge : shape (f,). Finite where the gauge's error is stated: such a family says nothing of the others'
        gauges.
    prior : the priors that were assumed.

    Notes
    -----
    Expectation-maximisation over the families' posteriors, reweighted from the assumed to the learned priors
    (empirical Bayes; B. P. Carlin, T. A. Louis, *Bayes and Empirical Bayes Methods*, 2nd ed. 2000, section
    3.4).
    """
    logs, chance = _heaviest(points, weight)
    assumed, spread0 = prior.centres(), prior.spreads()
    centre, spread = assumed.copy(), spread0.copy()
    unstated = ~np.isfinite(gauge)
    strength = SPREAD_STRENGTH * (1.0 + 1.0 / len(gauge))
    terms = np.concatenate([logs, logs**2])  # the logarithm of each point's new weight is linear in these
    before = _coefficients(assumed, spread0)
    for _ in range(ROUNDS):
        last = np.stack([centre, spread])
        change = _coefficients(centre, spread) - before
        moved = np.tensordot(change[1:, 0], terms[1:4], 1) + np.tensordot(change[1:, 1], terms[5:], 1)
        moved += np.where(unstated, change[0, 0] * terms[0] + change[0, 1] * terms[4], 0.0)
        moved -= moved.max(axis=0)
        reweighted = chance * np.exp(moved)
        reweighted /= reweighted.sum(axis=0)
        mean, square = np.einsum("pf,tpf->tf", reweighted, terms).reshape(2, 4, -1)
        for i in range(4):
            use = unstated if i == 0 else np.ones_like(unstated)
            count = int(use.sum())
            centre[i] = (mean[i, use].sum() + CENTRE_STRENGTH * assumed[i]) / (count + CENTRE_STRENGTH)
            about = (square[i] - 2.0 * mean[i] * centre[i] + centre[i] ** 2)[use].sum()
            spread[i] = np.sqrt((about + strength * spread0[i] ** 2 / 2.0) / (count + strength))
        if np.abs(np.stack([centre, spread]) - last).max() < SETTLED:
            break
    names = ("log_sigma", "log_spread", "log_brownian", "log_start")
    learned: dict[str, Any] = {name: float(c) for name, c in zip(names, centre, strict=True)}
    learned |= {f"{name}_sd": float(s) for name, s in zip(names, spread, strict=True)}
    return replace(prior, **learned)


def learn_start(mean: Floats, var: Floats, straight: Floats, prior: Priors) -> Priors:
    """The spread of the families' mean starts under straight wear: learned where nearly all families wear
    straight, as it was where a third of them do not.

    A mean start makes up for what is inexact of a shape, so under bends it stays as free as it was assumed.

    Parameters
    ----------
    mean, var : shape (f,). Of each family's mean start under straight wear, fitted with ``prior``.
    straight : shape (f,). Weight of straight wear.
    """
    assumed = prior.straight_start_sd
    said = 1.0 / np.maximum(1.0 / var - 1.0 / assumed**2, 1e-6)  # variance of what the readings alone say
    told = mean * said / var
    square = assumed**2
    for _ in range(ROUNDS):
        left = 1.0 / (1.0 / said + 1.0 / square)
        about = (straight * ((left * told / said) ** 2 + left)).sum()
        square = (about + SPREAD_STRENGTH * assumed**2 / 2.0) / (straight.sum() + SPREAD_STRENGTH)
    alone = 1.0 / len(straight)  # one family tells nothing of how those of several differ
    sure = np.clip(3.0 * straight.mean() - 2.0, 0.0, 1.0) * (1.0 - alone)
    return replace(prior, straight_start_sd=float(np.sqrt(square) ** sure * assumed ** (1.0 - sure)))


def _coefficients(centre: Floats, spread: Floats) -> Floats:
    """Coefficients of x and x^2 in the log density of a normal, shape (4, 2)."""
    return np.stack([centre / spread**2, -0.5 / spread**2], axis=1)


def _heaviest(points: list[Points], weight: Floats) -> tuple[Floats, Floats]:
    """The points of each family that count: logs (4, p, f) and chances (p, f), all shapes together."""
    post = np.stack([p.log_post for p in points])
    chance = np.exp(post - post.max(axis=(1, 2), keepdims=True))
    chance *= weight[:, None, None, :] / chance.sum(axis=(1, 2), keepdims=True)
    f = chance.shape[-1]
    flat = chance.reshape(-1, f)
    keep = np.argsort(-flat, axis=0)[:POINTS]
    logs = np.stack([np.stack([p.logs[i] for p in points]).reshape(-1, f) for i in range(4)])
    return np.stack([np.take_along_axis(x, keep, axis=0) for x in logs]), np.take_along_axis(
        flat, keep, axis=0
    )
