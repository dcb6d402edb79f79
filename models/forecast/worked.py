"""The results of a forecast before they are put into tables and words."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.distribution import PROBABILITIES
from models.forecast.explain import kind_weights_of
from models.forecast.recalibrate import stretch_of, stretched_remaining
from models.forecast.wear_now import WearNow, wear_now
from models.lives.table import LifeTable
from models.wear.fleet_pool import Sources
from models.wear.known import Learned
from models.wear.model import PooledWear
from models.wear.rate_covariates import covariates_of_positions
from models.wear.shared_prior import part_keys

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Worked:
    """What the frames are made from: f wear points that can be forecast.

    Attributes
    ----------
    table : the lives of all wear points.
    model : the wear model, fitted to them.
    point, life : shape (f,). Row of the wear point, and of its life in service in ``table.lives``.
    remaining : shape (f, 33). Quantiles at ``models.distribution.PROBABILITIES``. [mi]
    beyond : shape (f,). Chance that the limit was reached before as-of. [1]
    kinds : shape (f, kinds). Weight of each kind of shape (``models.wear.shapes.KINDS``) in the family. [1]
    wear_now : wear at as-of.
    stretch : shape (f,). Factor on the intervals from the track record; 1: none.
    """

    table: LifeTable
    model: PooledWear
    point: Ints
    life: Ints
    remaining: Floats
    beyond: Floats
    kinds: Floats
    wear_now: WearNow
    stretch: Floats

    def quantile(self, probability: float) -> Floats:
        """Remaining miles at one of the stored probabilities, shape (f,). [mi]"""
        return np.asarray(self.remaining[:, int(np.flatnonzero(probability == PROBABILITIES)[0])])


def work_out(
    table: LifeTable,
    positions: pd.Series,
    *,
    learned: Learned | None = None,
    sources: Sources | None = None,
    stretch: pd.Series | None = None,
) -> Worked | None:
    """Fit the wear model and ask it for the miles that are left, recalibrated by the track record.

    Parameters
    ----------
    table : lives of all wear points.
    positions : shape (points,). Words for the position of each wear point.
    learned, sources, stretch : as :func:`models.forecast.run.make_forecast` takes them.

    Returns
    -------
    None where no wear point can be forecast.
    """
    point = np.flatnonzero(table.reason == "")
    if not len(point):
        return None
    life, scale = table.in_service[point], table.scale
    model = PooledWear(
        known=None if learned is None else learned.of(scale.quantity_name),
        from_others=None if sources is None else sources.about(part_keys(scale.part)),
    ).fit(
        table.lives,
        scale.quantity,
        forecast=life,
        covariates=covariates_of_positions(positions).iloc[table.point],
    )
    remaining, beyond = model.remaining(PROBABILITIES, life)
    factor = stretch_of(scale.family_name[scale.family[point]], stretch)
    remaining = stretched_remaining(remaining, remaining[:, PROBABILITIES == 0.5][:, 0], factor)
    kinds = kind_weights_of(model, life)
    return Worked(table, model, point, life, remaining, beyond, kinds, wear_now(model, life), factor)
