"""Changes of all parts of a vehicle, named."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.seasons.shared import Shared

Floats = NDArray[np.float64]

SURE = 0.85
"""Chance from which a change is named. Of 384 simulated engines of nine seasons without a change for good
none was named, of 64 beside others that did change one."""
LEAST, LEAST_BENT = 0.1, 0.2
"""Log of the least change that is worth a word, where the families of the vehicle wear straight and where
they do not: a bend between two of the shapes that are tried looks like a change of up to 0.17 (simulated)."""


@dataclass(frozen=True)
class Change:
    """From one season on, all parts of a vehicle wear faster or slower.

    Attributes
    ----------
    vehicle : number of the vehicle.
    year : of the season in which it began.
    factor : rate of all parts since, over that before.
    chance : that there was a change. [1]
    """

    vehicle: int
    year: int
    factor: float
    chance: float

    @property
    def kind(self) -> str:
        """``faster since`` or ``slower since``."""
        return f"{'faster' if self.factor > 1 else 'slower'} since"

    @property
    def words(self) -> str:
        """What people read."""
        percent = 100.0 * abs(self.factor - 1.0)
        about = f"about {5 * round(percent / 5):.0f} % {self.kind.split()[0]}"
        return f"wears {self.kind} {self.year} ({about}, all parts of this engine)"


def changes_of(shared: Shared) -> list[Change]:
    """Every change that is sure enough to be named, by vehicle."""
    found, kinds = shared.found, shared.found.kinds
    of_change = kinds.size > 0
    weight = found.weight[:, of_change]
    chance = weight.sum(axis=1)
    mean = (weight * found.change[:, of_change]).sum(axis=1) / np.maximum(chance, 1e-12)
    least = np.where(_straight(shared) >= 0.5, LEAST, LEAST_BENT)
    out = []
    for v in np.flatnonzero((chance >= SURE) & (np.abs(mean) >= least) & shared.seasons.known):
        season = np.bincount(kinds.began[of_change], weight[v]).argmax()
        year = int(shared.seasons.year[v, season])
        out.append(Change(int(v), year, float(np.exp(mean[v])), float(chance[v])))
    return out


def _straight(shared: Shared) -> Floats:
    """Weight of straight wear, the mean over the lives of each vehicle; 1 without a life."""
    model, table = shared.model, shared.table
    straight = model.relative_.per_life(model.shape_weight_[0])[model.row_of_]
    vehicle, n = table.scale.vehicle[table.point], len(table.scale.vehicles)
    lives = np.bincount(vehicle, minlength=n)
    return np.where(lives > 0, np.bincount(vehicle, straight, n) / np.maximum(lives, 1), 1.0)
