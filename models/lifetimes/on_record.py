"""Lives as the work tells them: miles from one renewal to the next, and what each says of the law of life."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.assumed import assumed_values
from models.lifetimes.posterior import Ended, Posterior, Prior, posterior
from models.lives.life_table import NEW_AT_MILES
from models.lives.record import MileageLogs, mileage_logs
from models.lives.table import LifeTable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NAMES = ("spread", "spread_log_sd", "found_within", "other_reason")
"""Assumptions of the catalogue's topic ``lifetimes``."""


@dataclass(frozen=True)
class Spans:
    """Every stretch of miles that a part is known to have run, shape (n,), in order of wear point and day.

    Attributes
    ----------
    point : its wear point.
    ran : miles on record. [mi]
    from_new : it was new at the first of them; else it had run more.
    ended : renewed at the last of them; else it is in service.
    worn : 1 where it is told that it came off because it was worn, 0 where for another reason, NaN where
        nothing is told.
    """

    point: Ints
    ran: Floats
    from_new: Bools
    ended: Bools
    worn: Floats

    def take(self, rows: Bools) -> "Spans":
        """Some of the stretches."""
        return Spans(*(values[rows] for values in vars(self).values()))


@dataclass(frozen=True)
class Renewals:
    """What the work tells of how far parts run.

    Attributes
    ----------
    spans : stretches of all wear points.
    prior : of the law of life of any family.
    found_within : as :func:`evidence` takes it.
    """

    spans: Spans
    prior: Prior
    found_within: float

    def law_of(self, rows: Bools) -> Posterior:
        """The law of life that some of the stretches follow; one of them must be a passage."""
        return posterior(evidence(self.spans.take(rows), self.found_within), self.prior)


def renewals_on_record(
    tables: dict[str, pd.DataFrame], table: LifeTable, assumed: pd.DataFrame | None
) -> Renewals | None:
    """The stretches of all wear points, and what is assumed of lives before them.

    Parameters
    ----------
    tables : mileage, work in normalised form (``ingest.schema``).
    table : the lives built from them.
    assumed : the catalogue's assumptions of the topic ``lifetimes``.

    Returns
    -------
    None where nothing is assumed or no work is on record.

    Raises
    ------
    NotPossible : an assumption is missing.
    """
    if assumed is None or not len(tables["work"]):
        return None
    values = assumed_values(assumed, NAMES, "Forecast from renewals")
    prior = Prior(float(np.log(values["spread"])), values["spread_log_sd"], values["other_reason"])
    logs = mileage_logs(tables["mileage"], table.scale.vehicles)
    return Renewals(spans_of(table, logs), prior, values["found_within"])


def spans_of(table: LifeTable, logs: MileageLogs) -> Spans:
    """The stretches of all wear points whose vehicle has its miles on record.

    A renewal before the mileage log begins ends nothing and begins nothing whose miles are known. Two
    renewals at the same miles are one.

    Parameters
    ----------
    table : lives of all wear points.
    logs : of their vehicles.
    """
    every, vehicle = table.every, table.scale.vehicle[table.every.point]
    last = np.diff(every.point, append=-1) != 0
    following = np.append(every.began_odometer[1:], np.nan)
    end = np.where(last, every.end_odometer, following)
    end[every.current] = table.as_of_odometer[every.point[every.current]]
    before_log = (every.began_day < logs.first_day[vehicle]) & (every.began_odometer >= logs.first[vehicle])
    found = Spans(
        every.point,
        np.maximum(end - every.began_odometer, 0.0),
        every.new_then & ~(before_log & (logs.first[vehicle] > NEW_AT_MILES)),
        ~every.current,
        every.end_worn,
    )
    return found.take(np.isfinite(found.ran) & ((found.ran > 0) | every.current))


def evidence(spans: Spans, found_within: float) -> Ended:
    """What the stretches of one family say of its law of life.

    Parameters
    ----------
    found_within : share of its miles by which a part that came off worn may have been off its limit. [1]

    Notes
    -----
    Told to be worn: it met its limit about there, on either side. Nothing told: it met its limit there or
    before, if it was worn. Another reason, still in service, or its beginning not on record: it lasts longer
    than that.
    """
    passed = passages(spans)
    told = passed & (spans.worn == 1.0)
    low = np.where(passed, (1.0 - found_within) * spans.ran, spans.ran)
    high = np.where(told, (1.0 + found_within) * spans.ran, np.where(passed, spans.ran, np.inf))
    return Ended(low, high, passed & ~told)


def passages(spans: Spans) -> Bools:
    """Stretches that tell a whole life: from new to where it was, or may have been, worn. Shape (n,)."""
    return np.asarray(spans.ended & spans.from_new & (spans.worn != 0.0))
