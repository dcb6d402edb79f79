"""Families and vehicles learned from in turn: the wear model on the miles that the seasons' factors make of
the miles run, then the factors under that model."""

from collections.abc import Callable

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.lives.table import LifeTable, Lives
from models.seasons.ahead import draw_futures
from models.seasons.bent_or_shared import FirstLook, first_look
from models.seasons.effective import effective_lives
from models.seasons.season_table import SeasonTable, season_table
from models.seasons.sensitivity import sensitivity
from models.seasons.severity import Explanations, explain
from models.seasons.shared import Shared
from models.wear.model import PooledWear

Floats = NDArray[np.float64]
Fit = Callable[[Lives], PooledWear]

QUIET = 0.8
"""Chance that nothing is shared from which a vehicle's miles are left as they are."""
TURNS = 2
"""Times that the factors are learned after the first look; what a third changes is below 0.01."""
SETTLED = 0.03
"""Change of a season's log factor below which the families are not learned from again."""


def fit_shared(
    fit: Fit,
    model: PooledWear,
    table: LifeTable,
    mileage: pd.DataFrame,
    as_of: pd.Timestamp | None = None,
) -> Shared:
    """Learn from families and vehicles in turn.

    Parameters
    ----------
    fit : fits the wear model to lives.
    model : fitted to the lives of the table, in miles.
    table : lives of all wear points.
    mileage, as_of : as :func:`models.forecast.run.make_forecast` takes them.
    """
    seasons = season_table(table, mileage, as_of)

    def refit(severity: Floats) -> PooledWear:
        return fit(effective_lives(table, seasons, severity))

    look = first_look(model, table, seasons)
    model, severity = _after_look(model, look, seasons, refit)
    sensed, found = look.sensed, look.found
    for turn in range(TURNS):
        sensed = sensitivity(model, table, seasons, severity)
        found = explain(sensed)
        severity = _restless(found, seasons)
        if turn + 1 == TURNS or not _far(severity, sensed.severity):
            break
        model = refit(severity)
    used = (sensed.severity != 0.0).any(axis=1)
    moved = np.flatnonzero(used | ((found.quiet < QUIET) & seasons.known))
    row = np.full(len(severity), -1)
    row[moved] = np.arange(len(moved))
    futures = draw_futures(table.scale.vehicles, seasons, found, sensed, moved)
    return Shared(model, table, seasons, sensed.severity, found, sensed.of_rate, futures, row)


def _after_look(
    model: PooledWear, look: FirstLook, seasons: SeasonTable, refit: Callable[[Floats], PooledWear]
) -> tuple[PooledWear, Floats]:
    """The model on the factors of the first look, and these; bent families are kept where they explain
    more."""
    none = look.sensed.severity
    shared, own = _restless(look.found, seasons), _restless(look.bent, seasons)
    if not _far(shared, none):
        return model, none
    straight = refit(shared)
    if not look.doubtful.any():
        return straight, shared
    as_bent = refit(own) if _far(own, none) else model
    bent = look.not_shared(straight, as_bent)
    if not bent.any():
        return straight, shared
    severity = np.where(bent[:, None], own, shared)
    if not _far(severity, own):
        return as_bent, own if _far(own, none) else none
    return refit(severity), severity


def _far(severity: Floats, before: Floats) -> bool:
    """Whether factors are so far from those before that the families are learned from again."""
    return bool(np.abs(severity - before).max(initial=0.0) >= SETTLED)


def _restless(found: Explanations, seasons: SeasonTable) -> Floats:
    """The seasons' factors under the explanations; none for vehicles that share nothing."""
    return np.where(((found.quiet < QUIET) & seasons.known)[:, None], found.severity, 0.0)
