"""What a forecast has worked out, before it is laid out as frames and said in words."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.forecast.paths import WearNow
from models.lives.build import LifeTable
from models.lives.unrecorded import Suspected
from models.wear.model import PooledWear

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Worked:
    """What the frames are made from: f wear points that can be forecast.

    Attributes
    ----------
    point, life : shape (f,). Row of the wear point, and of its life in service in ``table.lives``.
    remaining : shape (f, 33). [mi]
    beyond : shape (f,). Chance that the limit was reached before as-of. [1]
    now : wear at as-of.
    stretch : shape (f,). Factor on the intervals from the track record; 1: none.
    """

    table: LifeTable
    suspected: Suspected
    model: PooledWear
    point: Ints
    life: Ints
    remaining: Floats
    beyond: Floats
    now: WearNow
    stretch: Floats
