"""Several railways learn from each other: the same part wears alike everywhere, and everywhere a little
differently.

A family's parameter at railway r is ``theta_r = theta + between x N(0,1)``, and the readings of railway r
give ``theta_r`` with the error of its summary. What the others say to one railway is their mean, weighed by
precision, with the spread between railways once more on top; that spread is learned from the families that
several railways have, from an assumption where there are few.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.lives.table import Lives
from models.wear.model import PooledWear
from models.wear.shapes import SHAPES
from models.wear.shared_prior import VAGUE, FromOthers, Summary

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Keys = Sequence[Hashable]

BETWEEN: Floats = np.array([0.4, 0.25, 0.3, 0.4, 0.3])
"""Spread between railways of the five logs (``models.wear.shared_prior.PARAMETERS``) before any is compared:
gauges, water, track and drivers differ. Assumption, no source."""
STRENGTH = 6.0
"""Comparisons that this assumption is worth."""
LEAST = 0.2
"""Share of the assumed spread that is always kept: two railways that agreed may yet differ."""


def between_railways(summaries: Sequence[Summary], keys: Sequence[Keys]) -> Floats:
    """Spread of each parameter between railways, shape (5,).

    Parameters
    ----------
    summaries, keys : of each railway, and the name of each of its families; those of one name are compared.

    Notes
    -----
    The moment estimator of a random-effects meta-analysis (R. DerSimonian, N. Laird, Controlled Clinical
    Trials 7 (1986) 177-188), pooled over families, with the assumption as further comparisons.
    """
    excess, freedom = np.zeros(5), np.zeros(5)
    for centre, sd in _groups(summaries, keys).values():
        weight = np.where(sd < VAGUE, 1.0 / sd**2, 0.0)
        total = weight.sum(axis=1)
        safe = np.where(total > 0, total, 1.0)
        mean = (weight * centre).sum(axis=1) / safe
        scatter = (weight * (centre - mean[:, None]) ** 2).sum(axis=1)
        count = (weight > 0).sum(axis=1) - 1.0
        scale = total - (weight**2).sum(axis=1) / safe
        use = (count > 0) & (scale > 0)
        excess += np.where(use, count * (scatter - count) / np.where(use, scale, 1.0), 0.0)
        freedom += np.where(use, count, 0.0)
    square = (excess + STRENGTH * BETWEEN**2) / (freedom + STRENGTH)
    return np.sqrt(np.maximum(square, (LEAST * BETWEEN) ** 2))


def pooled_over(
    summaries: Sequence[Summary], keys: Sequence[Keys], wanted: Keys, between: Floats | None = None
) -> FromOthers:
    """What some railways say of the named families of another.

    Parameters
    ----------
    wanted : name of each family asked about; NaN for one that none of them has.
    between : from :func:`between_railways`; learned from the same summaries if not given.
    """
    spread = between_railways(summaries, keys) if between is None else between
    groups = _groups(summaries, keys)
    shapes = _shapes(summaries, keys)
    f = len(wanted)
    of_parameters, of_shapes = (5, f), (len(SHAPES), f)
    pooled = FromOthers(
        np.full(of_parameters, np.nan), np.full(of_parameters, np.nan), np.full(of_shapes, np.nan)
    )
    for i, key in enumerate(wanted):
        if key not in groups:
            continue
        centre, sd = groups[key]
        weight = np.where(sd < VAGUE, 1.0 / (sd**2 + spread[:, None] ** 2), 0.0)
        total = weight.sum(axis=1)
        says = total > 0
        safe = np.where(says, total, 1.0)
        pooled.centre[:, i] = np.where(says, (weight * centre).sum(axis=1) / safe, np.nan)
        pooled.sd[:, i] = np.where(says, np.sqrt(1.0 / safe + spread**2), np.nan)
        pooled.shape[:, i] = shapes[key]
    return pooled


@dataclass(frozen=True)
class Sources:
    """What a railway has from others: their summaries, and the names of their families."""

    summaries: tuple[Summary, ...]
    keys: tuple[Keys, ...]

    def about(self, wanted: Keys) -> FromOthers | None:
        """What they say of the named families; None where they know none of them."""
        pooled = pooled_over(self.summaries, self.keys, wanted)
        return pooled if np.isfinite(pooled.sd).any() else None


def fit_together(
    railways: Sequence[Lives], keys: Sequence[Keys], quantities: Sequence[Ints] | None = None
) -> list[PooledWear]:
    """Fit several railways whose data are together, each learning from all the others.

    Parameters
    ----------
    railways : lives of each.
    keys : of each railway, the name of each of its families, in their order.
    quantities : of each railway, the number of each family's quantity.

    Returns
    -------
    The fitted model of each railway. Each was fitted once alone and once with what the others say: no
    railway's readings count twice in its own forecast.
    """
    numbers = [None] * len(railways) if quantities is None else list(quantities)
    alone = [PooledWear().fit(r, q) for r, q in zip(railways, numbers, strict=True)]
    summaries = [model.summary() for model in alone]
    own = [[k[f] for f in m.relative_.family] for k, m in zip(keys, alone, strict=True)]
    spread = between_railways(summaries, own)
    fitted = []
    for i, (railway, number) in enumerate(zip(railways, numbers, strict=True)):
        others = [s for j, s in enumerate(summaries) if j != i]
        names = [key for j, key in enumerate(own) if j != i]
        pooled = pooled_over(others, names, keys[i], spread)
        fitted.append(PooledWear(from_others=pooled).fit(railway, number))
    return fitted


def _groups(summaries: Sequence[Summary], keys: Sequence[Keys]) -> dict[Hashable, tuple[Floats, Floats]]:
    """Centres and sds of all families of a name, each of shape (5, families)."""
    by_name: dict[Hashable, list[tuple[Floats, Floats]]] = {}
    for summary, names in zip(summaries, keys, strict=True):
        for i, name in enumerate(names):
            by_name.setdefault(name, []).append((summary.centre[:, i], summary.sd[:, i]))
    return {k: (np.stack([c for c, _ in v], 1), np.stack([s for _, s in v], 1)) for k, v in by_name.items()}


def _shapes(summaries: Sequence[Summary], keys: Sequence[Keys]) -> dict[Hashable, Floats]:
    """Weights of the shapes of all families of a name, by their lives."""
    by_name: dict[Hashable, Floats] = {}
    for summary, names in zip(summaries, keys, strict=True):
        for i, name in enumerate(names):
            by_name[name] = by_name.get(name, 0.0) + summary.shape[:, i] * summary.lives[i]
    return {name: total / total.sum() for name, total in by_name.items()}
