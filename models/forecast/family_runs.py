"""A large store is forecast in runs of families: how it is cut, and which families are learned from first.

A family is never cut: its lives are learned together. What families learn from each other comes from a sample
of them and is then fixed (:class:`models.wear.priors.Learned`), so that a run needs nothing but its own
tables.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.gauges.gauges_read import gauges_read, with_gauges
from models.lives.build import build_lives
from models.lives.wear_scale import families_of, quantity_of_families
from models.wear.fit_steps import LEAST_SHARE, NODES, PAIRS
from models.wear.model import PooledWear
from models.wear.priors import Learned

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

RUN_POINTS = 8_000
"""Wear points of a run, about."""
SAMPLE_FAMILIES = 256
"""Families that are learned from beforehand, spread evenly over the quantities."""
SAMPLE_LIVES = 12
"""Wear points of each that are taken."""


def cut_in_runs(points: pd.DataFrame, vehicles: pd.DataFrame, most: int | None = None) -> Ints:
    """Number of the run that each wear point belongs to, shape (points,); runs follow the order of the
    families, each about ``most`` wear points long.

    Parameters
    ----------
    points : vehicle, component, quantity, base_unit.
    vehicles : vehicle, class, arrangement.
    most : None: as many as make an even number of runs of at most ``RUN_POINTS``, so that two processors have
        the same to do.
    """
    if most is None:
        most = -(-len(points) // max(2 * -(-len(points) // (2 * RUN_POINTS)), 1))
    family, _ = families_of(points, vehicles)
    size = np.bincount(family)
    end = np.cumsum(size)
    run_of_family = np.unique((end - 1) // most, return_inverse=True)[1] if len(size) else size
    return np.asarray(run_of_family[family], dtype=np.int64)


def sample(points: pd.DataFrame, vehicles: pd.DataFrame) -> Bools:
    """Wear points to learn from beforehand, shape (points,): of each quantity the same number of families,
    evenly spaced, and of each family its first wear points."""
    family, first = families_of(points, vehicles)
    quantity, _ = quantity_of_families(points, first)
    chosen = np.zeros(len(first), dtype=bool)
    names = np.unique(quantity)
    share = max(SAMPLE_FAMILIES // max(len(names), 1), 2)
    for name in names:
        of_quantity = np.flatnonzero(quantity == name)
        spread = np.linspace(0, len(of_quantity) - 1, min(share, len(of_quantity)))
        chosen[of_quantity[spread.round().astype(np.int64)]] = True
    order = np.argsort(family, kind="stable")
    size = np.bincount(family)
    place = np.empty(len(family), dtype=np.int64)
    place[order] = np.arange(len(family)) - np.repeat(np.cumsum(size) - size, size)
    return np.asarray(chosen[family] & (place < SAMPLE_LIVES))


def learn_across(
    tables: dict[str, pd.DataFrame],
    as_of: pd.Timestamp | None,
    points_in_all: int,
    repeats: pd.DataFrame | None = None,
) -> Learned | None:
    """What all other families learn from the families of some tables.

    Parameters
    ----------
    tables : as :func:`models.forecast.run.make_forecast` takes them, of the sample's wear points.
    points_in_all : wear points that will be forecast with it; the more, the fewer nodes each is given.
    repeats : how well gauges repeat, as :func:`models.forecast.run.make_forecast` takes it.

    Returns
    -------
    Learned : None where the sample holds no reading.
    """
    table = build_lives(tables, as_of)
    if not table.lives.count.any():
        return None
    lives = with_gauges(table, gauges_read(table, tables["readings"], tables.get("gauges"), repeats))
    model = PooledWear().fit(lives, table.scale.quantity, forecast=np.array([0]))
    names = table.scale.quantity_name[model.relative_.family]
    prior = {str(n): model.shape_prior_[:, names == n].mean(axis=1) for n in np.unique(names.astype(str))}
    shapes = (model.shape_weight_ >= LEAST_SHARE).sum(axis=0).mean()
    return Learned(
        priors=model.priors_,
        shape_prior=prior | {"": model.shape_prior_.mean(axis=1)},
        wild_share=model.wild_share_,
        memory_share=model.memory_share_,
        nodes=int(np.clip(PAIRS / (points_in_all * shapes), *NODES)),
    )
