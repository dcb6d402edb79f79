"""What was learned from other families and stands while those at hand are fitted.

A store of a million wear points is forecast in runs of families. What all families teach each other (priors,
weights of the shapes, how often readings are wild, how much a position remembers) is learned once, from a
sample of them, and is the same in every run, so that nothing depends on how the runs are cut or who works
them out.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.wear.family_fit import Priors

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Known:
    """Learned beforehand; nothing of it is learned anew.

    Attributes
    ----------
    priors : centres and spreads of the families' parameters, relative units.
    shape_prior : shape (s, f). Weight of each shape before the readings, by family as the lives number them.
    wild_share : share of wild readings. [1]
    memory_share : share of the variance of rates that belongs to the position. [1]
    nodes : most nodes of a family's posterior under each shape.
    """

    priors: Priors
    shape_prior: Floats
    wild_share: float
    memory_share: float
    nodes: int


@dataclass(frozen=True)
class Learned:
    """What a sample of a store's families taught, by the names of the quantities.

    Attributes
    ----------
    priors : relative units.
    shape_prior : quantity -> weight of each shape, shape (s,); of all quantities together under the key ''.
    wild_share, memory_share : as in :class:`Known`.
    nodes : as in :class:`Known`.
    """

    priors: Priors
    shape_prior: dict[str, Floats]
    wild_share: float
    memory_share: float
    nodes: int

    def of(self, quantities: NDArray[np.object_]) -> Known:
        """For families that measure the named quantities, shape (f,)."""
        every = self.shape_prior[""]
        prior = np.stack([self.shape_prior.get(str(name), every) for name in quantities], axis=1)
        return Known(self.priors, prior, self.wild_share, self.memory_share, self.nodes)
