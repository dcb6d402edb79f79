"""Whether families wear bent, or straight in seasons that wear all parts of a vehicle alike.

Parts that were new together grow old together: a season that wears all of them faster looks like a bend in
each. Families that are bent by themselves are therefore also tried as straight ones in shared seasons, and
what explains the readings better is kept, for families and vehicles that hang together as a whole.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from models.lives.table import LifeTable
from models.seasons.season_table import SeasonTable
from models.seasons.sensitivity import Sensitivity, sensitivity
from models.seasons.severity import Explanations, explain
from models.wear.model import PooledWear

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

STRAIGHT = 0.7
"""Chance that a family wears straight, before its readings. Assumption, no source."""
MARGIN = 5.0
"""Log evidence by which shared seasons must be the better explanation. Assumption, no source."""


@dataclass(frozen=True)
class FirstLook:
    """What the readings say of the seasons before any was taken into account, seen in two ways.

    Attributes
    ----------
    sensed, found : with the families of doubtful groups taken as straight.
    bent_sensed, bent : with each family as bent as it looks by itself.
    group, family_group : shape (v,), (f,). Group of each vehicle, and of each family of the model.
    doubtful : shape (groups,). Groups whose families are taken as straight.
    """

    sensed: Sensitivity
    found: Explanations
    bent_sensed: Sensitivity
    bent: Explanations
    group: Ints
    family_group: Ints
    doubtful: Bools

    def not_shared(self, straight: PooledWear, bent: PooledWear) -> Bools:
        """Vehicles whose families are better explained as bent, shape (v,).

        Parameters
        ----------
        straight, bent : fitted on the effective miles of ``found`` and of ``bent``.
        """
        shared = self._evidence(straight, self.sensed, self.found)
        own = self._evidence(bent, self.bent_sensed, self.bent)
        return np.asarray((self.doubtful & (shared < own + MARGIN))[self.group])

    def _evidence(self, model: PooledWear, sensed: Sensitivity, found: Explanations) -> Floats:
        """Log evidence of the families and of what their vehicles share, shape (groups,)."""
        n = len(self.doubtful)
        cost = found.gain - sensed.raised(found.severity)  # of what the factors were free to do
        logs = np.stack([fit.evidence for fit in model.fits_])
        logs[1:] += np.log((1.0 - STRAIGHT) / STRAIGHT / (len(logs) - 1))
        of_families = logs.max(axis=0)
        return np.asarray(np.bincount(self.family_group, of_families, n) + np.bincount(self.group, cost, n))


def first_look(model: PooledWear, table: LifeTable, seasons: SeasonTable) -> FirstLook:
    """Look at the seasons with each family bent as it looks, and with all of them straight.

    Parameters
    ----------
    model : fitted to the lives in miles.
    """
    none = np.zeros(seasons.year.shape)
    bent = sensitivity(model, table, seasons, none)
    as_bent = explain(bent)
    group, family_group, n = _groups(model, table)
    curved = model.shape_weight_.argmax(axis=0) > 0
    if not curved.any():
        return FirstLook(bent, as_bent, bent, as_bent, group, family_group, np.zeros(n, dtype=bool))
    straight = sensitivity(model, table, seasons, none, np.ones(len(curved), dtype=bool))
    more = np.bincount(group, explain(straight).gain - as_bent.gain, n)
    doubtful = (np.bincount(family_group, curved, n) > 0) & (more > MARGIN)
    of_vehicle, of_life = doubtful[group], doubtful[group[table.scale.vehicle[table.point]]]
    sensed = Sensitivity(
        none,
        np.where(of_vehicle[:, None, None], straight.information, bent.information),
        np.where(of_vehicle[:, None], straight.score, bent.score),
        np.where(of_life[:, None], straight.of_rate, bent.of_rate),
    )
    return FirstLook(sensed, explain(sensed), bent, as_bent, group, family_group, doubtful)


def _groups(model: PooledWear, table: LifeTable) -> tuple[Ints, Ints, int]:
    """Group of each vehicle and of each family of the model, and how many groups there are."""
    rel, scale = model.relative_, table.scale
    v, f = len(scale.vehicles), len(rel.starts)
    number = np.repeat(np.arange(f), rel.sizes)
    vehicle = scale.vehicle[table.point[rel.order]]
    links = coo_array((np.ones(len(number)), (vehicle, v + number)), shape=(v + f, v + f))
    n, label = connected_components(links, directed=False)
    return label[:v].astype(np.int64), label[v:].astype(np.int64), int(n)
