"""The track record: every forecaster scored on what came after past days on which it saw only what was known.

Two things are scored: the next readings of each life, and the miles to the limit. Of those only a part has
been seen: truth and forecast both count up to the miles observed since, which keeps the score proper and lets
in the lives that have not got there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.distribution import PROBABILITIES
from models.score.tables import READING_AT, Outcomes, pit_histogram, recalibrated, scored
from models.score.track_record import Origin, Record, choose_origins, known_at
from models.wear.estimator import Floats, Forecaster, Ints


@dataclass(frozen=True)
class Score:
    """What was found; the frames are stored and shown as they are.

    Attributes
    ----------
    overall : one row a kind (readings / remaining) and forecaster.
    by_family : one row a family, kind and forecaster, with a verdict on our own forecaster.
    pit : one row a family (-1: all), forecaster and bin: share of the readings there, 0.1 if calibrated.
    factors : one row a family: stretch of its intervals that the record asks for, 1 where nothing is proven,
        and the 80 % cover before and after, the latter stretched by what the other half of the lives taught.
    origins : the past days. [d since 1970-01-01]
    """

    overall: pd.DataFrame
    by_family: pd.DataFrame
    pit: pd.DataFrame
    factors: pd.DataFrame
    origins: Floats


def rolling_score(
    record: Record,
    forecasters: Mapping[str, Forecaster],
    *,
    own: str,
    reference: str,
    origins: int = 5,
    quantity: Ints | None = None,
) -> Score:
    """Score forecasters over past days.

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
    seen = [known_at(record, day) for day in days]
    forecast = [_forecast(origin, forecasters, quantity) for origin in seen if origin.in_service.any()]
    if not any(len(readings.outcome) for readings, _ in forecast):
        empty = pd.DataFrame()
        return Score(empty, empty, empty, empty, days)
    readings = _joined([f[0] for f in forecast])
    remaining = _joined([f[1] for f in forecast])
    factors, stretched = recalibrated(readings, readings.quantiles[own], record.lives.n_families)
    readings.quantiles[f"{own}, recalibrated"] = stretched
    by_family = scored(readings, remaining, own, reference, by_family=True)
    return Score(
        overall=scored(readings, remaining, own, reference, by_family=False),
        by_family=by_family,
        pit=pit_histogram(readings),
        factors=factors,
        origins=days,
    )


def _forecast(
    origin: Origin, forecasters: Mapping[str, Forecaster], quantity: Ints | None
) -> tuple[Outcomes, Outcomes]:
    """What each forecaster said on that day of the later readings and of the miles to the limit."""
    life, column = np.nonzero(np.isfinite(origin.later_wear) & origin.in_service[:, None])
    rows = np.flatnonzero(origin.in_service & (origin.observed > 0))
    limit = origin.lives.limit
    of_readings: dict[str, NDArray[np.floating]] = {}
    of_remaining: dict[str, NDArray[np.floating]] = {}
    for name, forecaster in forecasters.items():
        forecaster.fit(origin.lives, quantity)
        q = forecaster.predict_readings(origin.later_miles, READING_AT)[life, column]
        of_readings[name] = (q / limit[life, None]).astype(np.float32)  # a large fleet has millions
        of_remaining[name] = forecaster.predict_remaining(PROBABILITIES)[rows]
    readings = Outcomes(
        family=origin.lives.family[life],
        life=origin.row[life],
        outcome=origin.later_wear[life, column] / limit[life],
        observed=origin.later_miles[life, column] - origin.lives.as_of_miles[life],
        reached=origin.later_wear[life, column] >= limit[life],
        quantiles=of_readings,
    )
    remaining = Outcomes(
        family=origin.lives.family[rows],
        life=origin.row[rows],
        outcome=np.minimum(origin.reached, origin.observed)[rows],
        observed=origin.observed[rows],
        reached=np.isfinite(origin.reached[rows]),
        quantiles=of_remaining,
    )
    return readings, remaining


def _joined(parts: list[Outcomes]) -> Outcomes:
    return Outcomes(
        family=np.concatenate([p.family for p in parts]),
        life=np.concatenate([p.life for p in parts]),
        outcome=np.concatenate([p.outcome for p in parts]),
        observed=np.concatenate([p.observed for p in parts]),
        reached=np.concatenate([p.reached for p in parts]),
        quantiles={name: np.concatenate([p.quantiles[name] for p in parts]) for name in parts[0].quantiles},
    )
