"""The track record: every forecaster scored on what came after past days on which it saw only what was known.

Two things are scored: the next readings of each life, and the miles to the limit. Of those only a part has
been seen: truth and forecast both count up to the miles observed since, which keeps the score proper and lets
in the lives that have not got there.

What was known on a past day comes from the tables of that day (:mod:`models.score.told_then`) or, for
forecasters that are tried in a notebook, from the lives alone (:func:`rolling_score`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.combined.weights import Evidence, evidence_of, losses
from models.distribution import PROBABILITIES
from models.forecast.recalibrate import stretch_factors
from models.score.tables import READING_AT, Outcomes, pit_histogram, recalibration, scored
from models.score.track_record import Origin, Record, choose_origins, known_at
from models.wear.estimator import Floats, Forecaster, Ints


class Asked(Protocol):
    """Whoever says what comes: a fitted forecaster, or the forecast of a day."""

    def predict_readings(self, miles: Floats, probabilities: Floats) -> Floats:
        """Quantiles of later readings, (n, q, p)."""

    def predict_remaining(self, probabilities: Floats) -> Floats:
        """Quantiles of remaining miles, (n, p)."""


@dataclass(frozen=True)
class Score:
    """What was found; the frames are stored and shown as they are.

    Attributes
    ----------
    overall : one row a kind (readings / remaining) and forecaster.
    by_family, by_quantity : one row a family or quantity, kind and forecaster, with a verdict on our own.
    pit : one row a family (-1: all), forecaster and bin: share of the readings there, 0.1 if calibrated.
    factors : one row a family: stretch of its intervals that the record asks for, 1 where nothing is proven,
        and the 80 % cover of its lives without any stretch and with this one.
    origins : the past days. [d since 1970-01-01]
    """

    overall: pd.DataFrame
    by_family: pd.DataFrame
    by_quantity: pd.DataFrame
    pit: pd.DataFrame
    factors: pd.DataFrame
    origins: Floats


Told = tuple[Outcomes, Outcomes]
"""Outcomes of one day: readings, and remaining miles."""


def rolling_score(
    record: Record,
    forecasters: Mapping[str, Forecaster],
    *,
    own: str,
    reference: str,
    origins: int = 5,
    quantity: Ints | None = None,
) -> Score:
    """Score forecasters over past days, each fitted to the lives as they were known.

    Parameters
    ----------
    record : all that is on record.
    forecasters : by name.
    own, reference : the names of our forecaster and of the straight line that it must beat.
    origins : number of past days.
    quantity : shape (families,), optional. What each family measures, for forecasters that learn across.

    Returns
    -------
    Score. Empty frames where no wear point was read after any of the past days.
    """
    days = choose_origins(record.lives, origins)
    told = []
    for origin in (known_at(record, day) for day in days):
        if origin.in_service.any():
            fitted = {name: f.fit(origin.lives, quantity) for name, f in forecasters.items()}
            told.append(outcomes_of(origin, fitted))
    every = np.zeros(record.lives.n_families, dtype=np.int64) if quantity is None else quantity
    return score_of(told, every, days, own=own, reference=reference)


def score_of(told: Sequence[Told], quantity: Ints, days: Floats, *, own: str, reference: str) -> Score:
    """The score of several days together.

    Parameters
    ----------
    told : what was said and what came, day by day.
    quantity : shape (families,). What each family measures.
    """
    if not any(len(readings.outcome) for readings, _ in told):
        empty = pd.DataFrame()
        return Score(empty, empty, empty, empty, empty, days)
    readings, remaining = joined([t[0] for t in told]), joined([t[1] for t in told])
    return Score(
        overall=scored(readings, remaining, own, reference),
        by_family=scored(readings, remaining, own, reference, key=np.arange(len(quantity)), name="family"),
        by_quantity=scored(readings, remaining, own, reference, key=quantity, name="quantity"),
        pit=pit_histogram(readings),
        factors=recalibration(readings, own, quantity),
        origins=days,
    )


def outcomes_of(origin: Origin, said: Mapping[str, Asked], stretch: Floats | None = None) -> Told:
    """What each said on that day of the later readings and of the miles to the limit, and what came.

    Parameters
    ----------
    stretch : shape (families,), optional. Factor on our own intervals that day.
    """
    life, column = np.nonzero(np.isfinite(origin.later_wear) & origin.in_service[:, None])
    rows = np.flatnonzero(origin.in_service & (origin.observed > 0))
    limit, family = origin.lives.limit, origin.lives.family
    of_readings: dict[str, NDArray[np.floating]] = {}
    of_remaining: dict[str, NDArray[np.floating]] = {}
    for name, asked in said.items():
        q = asked.predict_readings(origin.later_miles, READING_AT)[life, column]
        of_readings[name] = (q / limit[life, None]).astype(np.float32)  # a large fleet has millions
        of_remaining[name] = asked.predict_remaining(PROBABILITIES)[rows]
    factor = np.ones(len(limit)) if stretch is None else stretch[family]
    days = np.full(len(life), np.nan) if origin.later_day is None else origin.later_day[life, column]
    readings = Outcomes(
        family=family[life],
        life=origin.row[life],
        outcome=origin.later_wear[life, column] / limit[life],
        observed=origin.later_miles[life, column] - origin.lives.as_of_miles[life],
        reached=origin.later_wear[life, column] >= limit[life],
        quantiles=of_readings,
        day=days,
        stretch=factor[life],
    )
    remaining = Outcomes(
        family=family[rows],
        life=origin.row[rows],
        outcome=np.minimum(origin.reached, origin.observed)[rows],
        observed=origin.observed[rows],
        reached=np.isfinite(origin.reached[rows]),
        quantiles=of_remaining,
    )
    return readings, remaining


def stretch_until(told: Sequence[Told], day: float, own: str, quantity: Ints) -> Floats:
    """Stretch of each family that the outcomes up to a day ask for, shape (families,): what a score made
    that day would have taught."""
    parts = [part.up_to(day) for part, _ in told]
    if not any(len(part.outcome) for part in parts):
        return np.ones(len(quantity))
    readings = joined(parts)
    return stretch_factors(readings.away(own), readings.life, readings.family, quantity)


def evidence_until(
    told: Sequence[Told], day: float, quantity: Ints, *, wear: str, rival: str
) -> list[Evidence] | None:
    """What the outcomes up to a day say of the wear model and a rival together, by quantity.

    Returns
    -------
    None where the rival was not asked or nothing has come true.
    """
    parts = [part.up_to(day) for part, _ in told]
    if not any(len(part.outcome) for part in parts) or rival not in parts[0].quantiles:
        return None
    readings = joined(parts)
    own, other = (np.asarray(readings.quantiles[name], dtype=float) for name in (wear, rival))
    loss = losses(own, other, readings.outcome)
    return evidence_of(loss, readings.life, quantity[readings.family], int(quantity.max()) + 1)


def joined(parts: Sequence[Outcomes]) -> Outcomes:
    """Outcomes of several days as one."""

    rest: dict[str, Any] = {}
    for name in vars(parts[0]).keys() - {"quantiles"}:
        values = [getattr(part, name) for part in parts]
        rest[name] = None if any(v is None for v in values) else np.concatenate(values)
    quantiles = {
        name: np.concatenate([part.quantiles[name] for part in parts]) for name in parts[0].quantiles
    }
    return Outcomes(quantiles=quantiles, **rest)
