"""Futures in which a spare is fitted: its own miles left, drawn at the chances of the new part it stands for.

A spare wears in the same seasons as the part that would have been renewed there, so each future keeps the
chance that it drew for the new part, and the spare's own quantiles say what miles that is.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.distribution import chance_by, miles_at
from models.futures.simulation import Simulation

Floats = NDArray[np.float64]


def as_spare(
    simulation: Simulation, distribution: pd.DataFrame, points: list[str], left: Mapping[str, Floats]
) -> tuple[Simulation, pd.DataFrame]:
    """Futures of a few wear points in which every next part is the spare.

    Parameters
    ----------
    simulation : the futures. distribution : point, remaining, new_life.
    points : wear points that are kept, of one vehicle.
    left : by wear point, quantiles of the miles left in the spare, shape (33,). [mi] Points without an entry
        have a new part.

    Returns
    -------
    Simulation and distribution of those wear points alone.
    """
    rows = np.flatnonzero(simulation.points["point"].isin(points).to_numpy())
    names = simulation.points["point"].to_numpy()[rows]
    known = distribution.set_index("point")
    lives = simulation.next_life[:, rows].copy()
    for column, name in enumerate(names):
        if name in left:
            lives[:, column] = drawn_again(lives[:, column], known.loc[name, "new_life"], left[name])
    small = replace(
        simulation,
        points=simulation.points.iloc[rows].reset_index(drop=True),
        remaining=simulation.remaining[:, rows],
        next_life=lives,
    )
    own = distribution[distribution["point"].isin(names)].copy()
    own["new_life"] = [
        left.get(str(name), new) for name, new in zip(own["point"], own["new_life"], strict=True)
    ]
    return small, own


def drawn_again(lives: Floats, new: object, left: Floats) -> Floats:
    """The same chances of another distribution.

    Parameters
    ----------
    lives : draws of new parts, any shape. [mi] new, left : quantiles of new parts, and of the spare. [mi]
    """
    chance = chance_by(np.asarray(new, dtype=np.float64)[None, :], lives.ravel())
    return np.asarray(
        miles_at(np.asarray(left, dtype=np.float64)[None, :], chance[0])[0].reshape(lives.shape)
    )


def with_spares(
    simulation: Simulation, distribution: pd.DataFrame, fitted: Iterable[tuple[str, int, Floats]]
) -> Simulation:
    """The futures with spares among the next parts.

    Parameters
    ----------
    fitted : wear point, which of its next parts the spare is (1 the first), quantiles of the miles left.

    Returns
    -------
    The simulation itself where nothing is fitted.
    """
    every = list(fitted)
    drawn = simulation.next_life.shape[2]
    if not every or drawn == 0:
        return simulation
    times = -(-max(number for _, number, _ in every) // drawn)
    lives = np.tile(simulation.next_life, (1, 1, times))  # later lives take the drawn ones again, as before
    row = {str(name): k for k, name in enumerate(simulation.points["point"])}
    known = distribution.set_index("point")["new_life"]
    for point, number, left in every:
        own = lives[:, row[point], number - 1]
        lives[:, row[point], number - 1] = drawn_again(own, known[point], left)
    return replace(simulation, next_life=lives)
