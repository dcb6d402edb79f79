"""How much each shape of wear counts: learned from all families of one quantity, never from one alone."""

import numpy as np
from numpy.typing import NDArray

from models.wear.shapes import KINDS, SHAPES, Shape

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STRAIGHT_SHARE = 0.55
"""Weight of straight wear before any reading; the other kinds share the rest evenly. Assumption, no
source."""
STRAIGHT_ALONE = 0.82
"""The same of the only life that a store knows; with f families of one life each, the odds go the f-th part
of the way there: what one life bends by is as often its seasons and its hands as its law. No source: a
compromise between straight and bent lives of 3, 5 and 9 readings (``models/wear/README.md``). Its price is
paid by wear that grows with itself, which readings of the first half of a life hardly show."""
KIND_STRENGTH = 8.0
"""Families' worth of readings that this assumption outweighs. With 4, families of four lives and three
readings under shapes of their own lost 2 to 4 % more."""
WITHIN_STRENGTH = 8.0
"""The same for the even weights of the shapes of one kind."""
POOL_STRENGTH = 8.0
"""Families' worth at which one quantity's own experience counts as much as that of all quantities
together."""
EVIDENCE_POWER = 0.7
"""Power to which the likelihood of a family of many lives is raised where its own shapes are weighed: lives
of one axle or one engine wear alike, and no shape is exactly true, so readings say less of the shape
than their number claims. One life has nobody to err alike with: its power is 1, that of two lives
halfway. On simulated fleets of shapes mixed within one quantity, 40 families of eight lives, the loss is
0.93 of that with 0.5, the 80 % interval covers 82 % (84 % with 0.5); of one life alone that bends, 5 and
9 readings, 0.80 and 0.76 of it.

The shares of the shapes among families are learned with the whole likelihood: a flattened one is not
that of any mixture, and makes one shape take all where each family says little (mixed shapes, four lives
of three readings: a share of 0.01 for accelerating wear where it was 0.48). With both and the strengths
above the loss of fleets of mixed shapes is 0.72 (eight lives), 0.73 (four) and 0.82 (four of three
readings) of what it was."""
ALONE = 0.65
"""Share of the power, there as where shares are learned, which a family of many lives loses where no other
shows how true the shapes are, half of it with two families, and so on; half of it, too, with two lives, and
nothing with one: it is the lives of a family that err alike. From the first quarter of the lives of lasers
(15 units, Meeker & Escobar 1998, C.17; read to 1,000 and 1,333 h, limits of 5 and 6 %) a bend that did not
last was carried on to 1.4 to 2.1 times the straight line's loss with 0.5 in one place, to 1.1 to 1.7 times
so."""
ROUNDS = 100
SETTLED = 1e-8
"""Change of a kind's share in a round below which the shares are taken to have come to rest."""


def shape_weights(
    evidence: Floats, quantity: Ints, shapes: tuple[Shape, ...] = SHAPES, lives: Ints | None = None
) -> tuple[Floats, Floats]:
    """Posterior weight of each shape in each family.

    Parameters
    ----------
    evidence : shape (s, f). Log marginal likelihood of each family's readings under each shape.
    quantity : shape (f,). Families of one number learn from each other first, then from all.
    lives : shape (f,). Lives behind each evidence; many if not given.

    Returns
    -------
    Weights, shape (s, f), summing to 1 over the shapes; and the learned prior of each family, same shape.

    Notes
    -----
    Expectation-maximisation for the shares of a finite mixture with Dirichlet priors (A. P. Dempster, N. M.
    Laird, D. B. Rubin, J. R. Statist. Soc. B 39 (1977) 1-38, section 4.3), shares of the kinds and of the
    shapes within a kind apart; first over all families, whose result is the prior of each quantity.
    """
    if len(shapes) == 1:
        return np.ones_like(evidence), np.ones_like(evidence)
    alike = 1.0 if lives is None else 1.0 - 1.0 / np.maximum(lives, 1)
    whole = 1.0 - ALONE / evidence.shape[1] * alike
    power = whole * (1.0 - (1.0 - EVIDENCE_POWER) * alike)
    likelihood = _likelihood(evidence, whole)
    member = np.array([[shape.kind == kind for shape in shapes] for kind in KINDS], dtype=float)
    member = member[member.sum(axis=1) > 0]
    kinds = np.full((len(member), 1), (1.0 - STRAIGHT_SHARE) / max(len(member) - 1, 1))
    kinds[0] = STRAIGHT_SHARE
    within = (member / member.sum(axis=1, keepdims=True)).sum(axis=0)[:, None]
    every = np.zeros(evidence.shape[1], dtype=np.int64)
    first = _learn(likelihood, member, every, (kinds, within), (KIND_STRENGTH, WITHIN_STRENGTH))
    _, number = np.unique(quantity, return_inverse=True)
    kinds, within = _learn(likelihood, member, number, first, (POOL_STRENGTH, POOL_STRENGTH))
    prior = ((member.T @ kinds) * within)[:, number]
    if lives is not None:
        prior = _straighter(prior, (lives <= 1) / evidence.shape[1])
    return weights_of(evidence, prior, power), prior


def weights_of(evidence: Floats, prior: Floats, power: Floats | float = EVIDENCE_POWER) -> Floats:
    """Posterior weight of each shape in each family where the prior is known; all of shape (s, f)."""
    weight = prior * _likelihood(evidence, power)
    return np.asarray(weight / weight.sum(axis=0))


def _straighter(prior: Floats, share: Floats) -> Floats:
    """Weights (s, f) before the readings with the odds of straight wear, which comes first, raised from
    ``STRAIGHT_SHARE`` to ``STRAIGHT_ALONE``, by a share (f,) of the way."""
    odds = STRAIGHT_ALONE / (1.0 - STRAIGHT_ALONE) * (1.0 - STRAIGHT_SHARE) / STRAIGHT_SHARE
    raised = np.concatenate([prior[:1] * odds**share, prior[1:]])
    return np.asarray(raised / raised.sum(axis=0))


def _likelihood(evidence: Floats, power: Floats | float) -> Floats:
    return np.asarray(np.exp(power * (evidence - evidence.max(axis=0))))


def _learn(
    likelihood: Floats,
    member: Floats,
    group: Ints,
    begin: tuple[Floats, Floats],
    strength: tuple[float, float],
) -> tuple[Floats, Floats]:
    """Shares of the kinds (k, g) and of each shape within its kind (s, g), for groups of families at once.

    Parameters
    ----------
    likelihood : shape (s, f).
    member : shape (k, s). Which kind a shape is of.
    group : shape (f,). Number of each family's group, 0 .. g - 1.
    begin : the same for what is assumed, (k, 1) and (s, 1), which counts as many families as ``strength``.
    """
    order = np.argsort(group, kind="stable")
    starts = np.flatnonzero(np.diff(group[order], prepend=-1))
    sizes = np.diff(np.append(starts, len(group)))
    likelihood = likelihood[:, order]
    kinds, within = (np.repeat(x, len(starts), axis=1) for x in begin)
    for _ in range(ROUNDS):
        weight = np.repeat((member.T @ kinds) * within, sizes, axis=1) * likelihood
        count = np.add.reduceat(weight / weight.sum(axis=0), starts, axis=1)
        by_kind = member @ count
        before, kinds = kinds, (by_kind + begin[0] * strength[0]) / (sizes + strength[0])
        within = (count + begin[1] * strength[1]) / (member.T @ by_kind + strength[1])
        if np.abs(kinds - before).max() < SETTLED:
            break
    return kinds, within
