"""From the store to a score and back: the track record of every forecaster on this railway's own readings."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ingest.errors import NotPossible
from ingest.store import Store
from models.lives.build import build_lives
from models.lives.table import LifeTable
from models.rivals import STRAIGHT_LINE, all_rivals
from models.score.rolling import Score, rolling_score
from models.score.track_record import record_of
from models.wear.estimator import Forecaster
from models.wear.model import PooledWear

OWN = "milesleft"
TABLES = ("vehicles", "wear_points", "mileage", "readings", "work")
MOST_FAMILIES, MOST_LIVES = 40, 100
"""What the two slow rivals attempt of each past day, evenly spaced: half a minute or so for a large fleet."""


def run_score(store: Store, origins: int = 5, *, slow: bool = True) -> str:
    """Score every forecaster on the past readings in the store; keep the result as a run of kind ``score``.

    Parameters
    ----------
    origins : number of past days.
    slow : with the mixed model and the Gaussian process.

    Returns
    -------
    The run's id; its frames are ``overall``, ``by_family``, ``pit`` and ``recalibration``.

    Raises
    ------
    NotPossible : the store holds no past day with readings before and after it.
    """
    version = store.version()
    table = build_lives(store.read_all(*TABLES, version=version), as_written=True)
    forecasters = {OWN: PooledWear()} | _rivals(slow)
    score = rolling_score(
        record_of(table),
        forecasters,
        own=OWN,
        reference=STRAIGHT_LINE,
        origins=origins,
        quantity=table.scale.quantity,
    )
    if score.overall.empty:
        raise NotPossible(
            f"{store.path}: no wear point in it has been read on two different days; a score needs readings "
            "before and after some past day. Add more readings with 'milesleft add'."
        )
    about = {
        "data_version": version,
        "as_of": _last_day(table),
        "origins": [str(day) for day in pd.to_datetime(score.origins, unit="D", origin="unix").date],
        "own": OWN,
        "reference": STRAIGHT_LINE,
        "forecasters": list(forecasters),
    }
    return store.save_run("score", about, _frames(score, table))


def _rivals(slow: bool) -> dict[str, Forecaster]:
    rivals = all_rivals(most_families=MOST_FAMILIES, most_lives=MOST_LIVES)
    return rivals if slow else {k: rivals[k] for k in ("last two readings", STRAIGHT_LINE)}


def _last_day(table: LifeTable) -> str:
    days = table.as_of_day[np.isfinite(table.as_of_day)]
    return str(pd.Timestamp(days.max(), unit="D").date()) if len(days) else ""


def _frames(score: Score, table: LifeTable) -> dict[str, pd.DataFrame]:
    """The frames with families by their names."""
    names = pd.Series(table.scale.family_name).astype(str)

    def named(frame: pd.DataFrame) -> pd.DataFrame:
        family = frame["family"].map(names).fillna("all")
        return frame.assign(family=family)

    return {
        "overall": score.overall,
        "by_family": named(score.by_family),
        "pit": named(score.pit),
        "recalibration": named(score.factors),
    }
