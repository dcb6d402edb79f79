"""Effective miles: miles weighted by what their season did to all parts of the vehicle."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from models.lives.table import LifeTable, Lives
from models.seasons.season_table import SeasonTable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def effective_lives(table: LifeTable, seasons: SeasonTable, severity: Floats) -> Lives:
    """The lives with their miles in effective miles; those of vehicles without severity as they are.

    Parameters
    ----------
    severity : shape (v, s). Log of the factor of each season.
    """
    lives = table.lives
    vehicle = table.scale.vehicle[table.point]
    moved = np.flatnonzero((severity != 0.0).any(axis=1)[vehicle])
    if not len(moved):
        return lives
    miles = lives.miles.copy()
    miles[moved] = effective_since_began(table, seasons, severity, moved, lives.miles[moved])
    as_of = lives.as_of_miles.copy()
    as_of[moved] = effective_since_began(table, seasons, severity, moved, as_of[moved, None])[:, 0]
    end_miles, miles_sd = lives.end_miles, lives.miles_sd
    if end_miles is not None:
        end_miles = end_miles.copy()
        end_miles[moved] = effective_since_began(table, seasons, severity, moved, end_miles[moved, None])[
            :, 0
        ]
    if miles_sd is not None:
        miles_sd = miles_sd.copy()
        miles_sd[moved] *= _factor_at(table, seasons, severity, moved)
    return replace(lives, miles=miles, as_of_miles=as_of, miles_sd=miles_sd, end_miles=end_miles)


def effective_since_began(
    table: LifeTable, seasons: SeasonTable, severity: Floats, life: Ints, miles: Floats
) -> Floats:
    """Effective miles of lives at given miles since they began; miles beyond as-of count as the last season.

    Parameters
    ----------
    life : shape (n,). Rows of the lives.
    miles : shape (n, k). [mi]; NaN stays NaN.
    """
    vehicle, began = table.scale.vehicle[table.point[life]], table.began_odometer[life]
    run = seasons.miles_in(vehicle, began, began[:, None] + np.nan_to_num(miles))
    effective = np.einsum("nks,ns->nk", run, np.exp(severity[vehicle]))
    return np.asarray(np.where(np.isfinite(miles), effective, np.nan))


def _factor_at(table: LifeTable, seasons: SeasonTable, severity: Floats, life: Ints) -> Floats:
    """Factor of the season of each reading, shape (n, k)."""
    vehicle = table.scale.vehicle[table.point[life]]
    odometer = table.began_odometer[life][:, None] + np.nan_to_num(table.lives.miles[life])
    season = (odometer[:, :, None] > seasons.edge[vehicle][:, None, :]).sum(axis=2)
    return np.asarray(np.exp(np.take_along_axis(severity[vehicle], season, axis=1)))
