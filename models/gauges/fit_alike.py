"""Fit the wear model to readings of gauges that may read differently: families and gauges in turn."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.gauges.gauges_read import GaugesRead, with_gauges
from models.gauges.offsets import Offsets, gauge_offsets
from models.gauges.precision import fitted_lives
from models.gauges.shared_doubt import with_shared_doubt
from models.gauges.unnamed import with_unnamed
from models.lives.table import LifeTable, Lives
from models.wear.model import PooledWear

Floats = NDArray[np.float64]

ROUNDS = 1
"""Times that families are fitted anew after gauges were put right: a third moved an offset by 0.001 of the
allowance."""
READS_OTHERWISE = 0.5
"""Chance from which a gauge's readings are put right. [1]"""


@dataclass(frozen=True)
class FittedAlike:
    """A fitted model, and what its gauges read.

    Attributes
    ----------
    table : its lives as they were fitted: known and found errors of gauges taken off.
    read : the gauge of every reading.
    offsets : what was found of the gauges; None where every quantity was read with one.
    """

    model: PooledWear
    table: LifeTable
    read: GaugesRead
    offsets: Offsets | None

    def in_doubt(self, model: PooledWear, lives: Lives) -> PooledWear:
        """A model fitted to the same readings with other miles, made as unsure as the gauges leave it."""
        if self.offsets is not None:
            seen = replace(self.table, lives=lives)
            with_shared_doubt(model, seen, fitted_lives(model), self.read.code, self.offsets.var)
        return model


def fit_alike(
    fit: Callable[[Lives], PooledWear], table: LifeTable, read: GaugesRead, *, look: bool
) -> FittedAlike:
    """Fit lives, find what their gauges read too high, fit them anew without it.

    Parameters
    ----------
    fit : fits the model to lives; called once where no gauge reads otherwise than the first.
    table : lives as they were read.
    look : look for changes of gauge that nobody wrote down, too.
    """
    plain = with_gauges(table, read)
    model = fit(plain)
    if look:
        read = with_unnamed(replace(table, lives=plain), read, fitted_lives(model))
    if len(np.unique(read.quantity)) == len(read.quantity):
        return FittedAlike(model, replace(table, lives=plain), read, None)
    used, taken = plain, np.zeros(len(read.name))
    for turn in range(ROUNDS + 1):
        seen, fitted = replace(table, lives=used), fitted_lives(model)
        offsets = gauge_offsets(seen, read, fitted, taken)
        again = np.where(offsets.chance >= READS_OTHERWISE, offsets.mean, 0.0)
        if turn == ROUNDS or np.allclose(again, taken, rtol=0.02, atol=1e-9):
            break
        taken = again
        off = table.scale.sign[table.point][:, None] * np.where(read.code >= 0, taken[read.code], 0.0)
        used = replace(plain, wear=plain.wear - off)
        model = fit(used)
    with_shared_doubt(model, seen, fitted, read.code, offsets.var)
    put_right = replace(table, lives=used, read_off=table.lives.wear - used.wear)
    return FittedAlike(model, put_right, read, offsets)
