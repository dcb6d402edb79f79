"""Parts that leave their family's way of wearing: a life that wears faster and faster among sisters that wear
straight.

A family's shape of wear is learned from all of its lives, and a single one that bends says little against
seven that do not. So each life with enough readings is also held against accelerating wear with a rate of its
own, and what is more likely, before and after its readings, is what it is forecast by. Only wear that grows
faster is looked for: a part that seems to slow down is forecast with its family, which is the careful way.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.wear.fitted import Shaped
from models.wear.level_filter import filter_lives
from models.wear.life_states import Nodes, last_distance, life_evidence, life_states, mean_node
from models.wear.mixture import Component, component
from models.wear.posterior import take_families
from models.wear.relative import Relative, Straightened, keep_lives, known_or_zero, straighten
from models.wear.shapes import SHAPES, STRAIGHT, Shape

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LEAST_READINGS = 6
"""Readings from which a life is looked at: fewer do not tell a bend from a bad season."""
CURVED = 3.0
"""Standard errors of a parabola's bend from which a life is looked at closer."""
USUAL = 0.01
"""Chance that a life leaves its family, before its readings. Assumption, no source."""
START_SD = 0.05
"""Doubt about the wear when new, as a share of the allowance, of a life that leaves its family.
Assumption."""
FASTER: tuple[Shape, ...] = tuple(shape for shape in SHAPES if shape.kind.startswith("faster"))
POWER = 1.0
"""Power to which the evidence of a life is raised: all of it, the plain rule of chances. With 0.5, as
for families (``models.wear.shape_weights``), a third of 30 bent parts of 18 readings were seen, with 1 all.
What straight fleets lose by it was measured on four alone (``models/wear/README.md``): too few to give a
figure."""
OF_FAMILY = 0.05
"""Weight of a shape in a family from which a life is held against it."""
MOST = 1 / 3
"""Share of a family's lives that may leave it; are they more, it is the family that bends."""


@dataclass(frozen=True)
class Departed:
    """Lives that may have left their family.

    Attributes
    ----------
    chance : shape (n,). That the life has left. [1]
    rows : shape (r,). Lives that were looked at closer.
    share : shape (s, r). Weight of each shape of ``FASTER`` if it has.
    nodes, data : for each shape, of the r lives, each a family of its own.
    """

    chance: Floats
    rows: Ints
    share: Floats
    nodes: tuple[Nodes, ...]
    data: tuple[Straightened, ...]

    def shapes(self) -> list[tuple[Shape, Floats]]:
        """Each shape with its weight in every life, shape (n,); none where no life was looked at."""
        out = []
        for shape, share in zip(FASTER, self.share, strict=True):
            weight = np.zeros(len(self.chance))
            weight[self.rows] = self.chance[self.rows] * share
            out.append((shape, weight))
        return out


def departures(rel: Relative, shaped: Shaped) -> Departed:
    """Look for lives that have left their families.

    Parameters
    ----------
    rel : readings alone, in relative units, with their noise.
    shaped : the families as they were fitted.
    """
    chance = np.zeros(len(rel.order))
    rows = np.flatnonzero(_bend_faster(rel))
    if not len(rows):
        return Departed(chance, rows, np.zeros((len(FASTER), 0)), (), ())
    family = np.repeat(np.arange(len(rel.starts)), rel.sizes)[rows]
    alone = _each_alone(rel, rows)
    usual = _under_family(alone, shaped, family)
    straight = shaped.fits[0]
    scale = mean_node(take_families(straight.posterior, family), alone)
    own, nodes, data = [], [], []
    for shape in FASTER:
        bent = straighten(alone, shape)
        node = _free_rate(scale, straight.factor[family] / bent.factor)
        own.append(life_evidence(filter_lives(bent, node.q), node, bent)[0] + bent.log_jacobian)
        nodes.append(node)
        data.append(bent)
    evidence = POWER * np.stack(own)
    top = evidence.max(axis=0)
    share = np.exp(evidence - top)
    odds = USUAL / (1.0 - USUAL) * np.exp(np.clip(top - POWER * usual, -300.0, 300.0)) * share.mean(axis=0)
    chance[rows] = odds / (1.0 + odds)
    return Departed(chance, rows, share / share.sum(axis=0), tuple(nodes), tuple(data))


def left_for_good(departed: Departed, rel: Relative) -> Bools:
    """Lives from which their family learns nothing more, shape (n,): those that have likelier left it than
    not, where they are not many."""
    gone = departed.chance > 0.5
    few = np.add.reduceat(gone.astype(np.int64), rel.starts) <= MOST * rel.sizes
    return np.asarray(gone & np.repeat(few, rel.sizes))


def own_components(departed: Departed, rel: Relative, wanted: Bools) -> list[Component]:
    """The parts of the mixture by which lives that left their families are forecast, by the chance that they
    did.

    Parameters
    ----------
    wanted : shape (n,). Lives that are asked about.
    """
    asked = wanted[departed.rows]
    out = []
    for i, shape in enumerate(FASTER if len(departed.rows) else ()):
        data, nodes = departed.data[i], departed.nodes[i]
        states = life_states(filter_lives(data, nodes.q), nodes, last_distance(data))
        share = np.where(asked, departed.chance[departed.rows] * departed.share[i], 0.0)
        made = component(_each_alone(rel, departed.rows), shape, data, nodes, states, share)
        if len(made.life):
            out.append(replace(made, life=departed.rows[made.life]))
    return out


def _bend_faster(rel: Relative) -> Bools:
    """Lives whose readings a parabola that bends upward fits clearly better than a line, shape (n,)."""
    present = np.isfinite(rel.w)
    weight = np.where(present, 1.0 / rel.noise, 0.0)
    count = present.sum(axis=1)
    few = count < LEAST_READINGS
    longest = np.where(few, 1.0, np.maximum(known_or_zero(rel.m).max(axis=1), 1e-12))
    m = known_or_zero(rel.m) / longest[:, None]
    terms = np.stack([np.ones_like(m), m, m * m], axis=2)
    normal = np.einsum("nk,nka,nkb->nab", weight, terms, terms)
    normal = np.where(few[:, None, None], np.eye(3), normal + 1e-12 * np.eye(3))
    fit = np.linalg.solve(normal, np.einsum("nk,nka,nk->na", weight, terms, known_or_zero(rel.w))[..., None])[
        ..., 0
    ]
    off = weight * (known_or_zero(rel.w) - (terms @ fit[..., None])[..., 0]) ** 2
    bend_var = np.linalg.inv(normal)[:, 2, 2] * np.maximum(off.sum(axis=1), 1e-12) / np.maximum(count - 3, 1)
    return np.asarray(~few & (fit[:, 2] > CURVED * np.sqrt(bend_var)))


def _each_alone(rel: Relative, rows: Ints) -> Relative:
    """Some lives, each a family of its own."""
    keep = np.zeros(len(rel.order), dtype=bool)
    keep[rows] = True
    part, _ = keep_lives(rel, keep)
    n = len(rows)
    return replace(
        part,
        starts=np.arange(n),
        sizes=np.ones(n, dtype=np.int64),
        family=np.repeat(part.family, part.sizes),
        allowance=part.per_life(part.allowance),
        life=part.per_life(part.life),
        gauge=part.per_life(part.gauge),
    )


def _under_family(alone: Relative, shaped: Shaped, family: Ints) -> Floats:
    """Log evidence of each life under the shapes of its family and what the family has learned, shape
    (r,)."""
    total = np.full(len(family), -np.inf)
    for fit, weight in zip(shaped.fits, shaped.weight, strict=True):
        if fit.shape is not STRAIGHT and not (weight[family] > OF_FAMILY).any():
            continue
        data = straighten(alone, fit.shape, fit.factor[family])
        nodes = mean_node(take_families(fit.posterior, family), alone)
        own = life_evidence(filter_lives(data, nodes.q), nodes, data)[0] + data.log_jacobian
        total = np.logaddexp(total, own + np.log(np.maximum(weight[family], 1e-300)))
    return total


def _free_rate(scale: Nodes, distance: Floats) -> Nodes:
    """The family's gauge and Brownian part, its distance ``distance`` times the life's own, with a free
    rate."""
    one, none = np.ones_like(scale.mu), np.zeros_like(scale.mu)
    return replace(
        scale,
        q=scale.q * distance,
        ra=scale.ra + START_SD**2 / scale.sigma2,
        rb=one / scale.sigma2,
        mu=one,
        var_a0=none,
        cov=none,
        var_mu=none,
    )
