"""How much a rival counts beside the wear model: learned from what came true, drawn to the wear model.

For each quantity a weight is looked for on a grid. Before anything came true it has a beta prior whose mean
falls with the number of lives that the wear model could learn from: a family of few lives, with no other of
its kind beside it, is where the wear model must guess shape and spread, and where published series showed it
worse than a plain mixed model; with forty lives it lost nothing any more. What came true counts as lives, not
as readings, for readings of one life err together; and by a quarter, for lives of one store do so too.

The prior was chosen on published series (28 public tables of lasers, resistors, optical disks, cracks and
growth, 106 forecasts) with 42 simulated families of 4 to 16 lives beside them. On those series: mean of the
ratios to the straight line 0.65 for the wear model alone, 0.57 combined; geometric mean 0.45 and 0.45.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GRID: Floats = np.array([0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0])
"""Weights of the rival that are tried. [1]"""
MOST = 0.35
"""Mean of the prior where hardly a life is known. [1]"""
LIVES = 5.0
"""The mean is this over the number of lives. Of 0.35 to 0.5 and 4 to 6 any two did within 0.01."""
OTHERS = 0.2
"""What a life of another quantity counts: it teaches spread and gauge, not the shape. Assumption."""
SURENESS = 8.0
"""Lives' worth of the prior (the sum of the two parameters of the beta distribution)."""
EVIDENCE = 0.25
"""What a life that came true counts: half and twice of it moved the mean ratio by 0.003."""
LEAST = 0.05
"""A rival below this weight is not asked at all."""


@dataclass(frozen=True)
class Evidence:
    """What came true of one quantity.

    Attributes
    ----------
    lives : number of lives that it was seen on.
    loss : shape of ``GRID``. Mean loss of the mixture at each weight; any unit.
    """

    lives: float
    loss: Floats


def prior_mean(lives: Ints) -> Floats:
    """Mean weight before anything came true.

    Parameters
    ----------
    lives : shape (quantities,). Lives with readings of each.
    """
    known = lives + OTHERS * (lives.sum() - lives)
    return np.asarray(np.minimum(MOST, LIVES / np.maximum(known, 1.0)))


def posterior_mean(prior: float, evidence: list[Evidence]) -> float:
    """Mean weight after what came true.

    Parameters
    ----------
    prior : mean before. [1], in (0, 1)
    evidence : pieces of it, each of which counts in full.

    Notes
    -----
    The likelihood of a weight is its mean loss to the power of minus the lives: that of errors whose scale is
    unknown, whatever the unit.
    """
    edges = np.concatenate([[0.0], (GRID[1:] + GRID[:-1]) / 2, [1.0]])
    chance = np.diff(beta.cdf(edges, SURENESS * prior, SURENESS * (1 - prior)))
    log_chance = np.log(chance + 1e-12)
    for piece in evidence:
        if piece.lives > 0 and (piece.loss > 0).all():
            log_chance -= EVIDENCE * piece.lives * np.log(piece.loss / piece.loss[0])
    chance = np.exp(log_chance - log_chance.max())
    return float((chance * GRID).sum() / chance.sum())


def losses(wear: Floats, rival: Floats, outcome: Floats) -> Floats:
    """Loss of the mixture at each weight of ``GRID``, shape (m, grid).

    Parameters
    ----------
    wear, rival : shape (m, p). Quantiles at evenly spread probabilities.
    outcome : shape (m,).

    Notes
    -----
    The CRPS in its energy form, E|X - y| - E|X - X'| / 2, with the quantiles as an ensemble: quadratic in the
    weights (Gneiting, Raftery, J. Am. Stat. Assoc. 102 (2007) 359-378, eq. 21).
    """
    said = (wear, rival)
    off = [np.abs(q - outcome[:, None]).mean(axis=1) for q in said]
    apart = [[np.abs(a[:, :, None] - b[:, None, :]).mean(axis=(1, 2)) for b in said] for a in said]
    w = GRID[None]
    first = (1 - w) * off[0][:, None] + w * off[1][:, None]
    own = (1 - w) ** 2 * apart[0][0][:, None] + w**2 * apart[1][1][:, None]
    return np.asarray(first - 0.5 * (own + 2 * w * (1 - w) * apart[0][1][:, None]))


def evidence_of(loss: Floats, life: Ints, quantity: Ints, quantities: int) -> list[Evidence]:
    """The evidence on each quantity; every life counts once.

    Parameters
    ----------
    loss : shape (m, grid), as :func:`losses` gives it, in shares of the limit. Rows with NaN are left out.
    life, quantity : shape (m,).
    """
    known = np.isfinite(loss).all(axis=1)
    loss, life, quantity = loss[known], life[known], quantity[known]
    out = []
    for number in range(quantities):
        mine = quantity == number
        _, index, count = np.unique(life[mine], return_inverse=True, return_counts=True)
        total = (loss[mine] / count[index][:, None]).sum(axis=0)
        out.append(Evidence(len(count), total / max(len(count), 1)))
    return out
