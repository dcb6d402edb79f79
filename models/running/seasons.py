"""What a vehicle's mileage log says of its seasons: the mean one, its spread, service days to the mile.

All vehicles are computed at once: their logs are placed one after another on one axis and interpolated
together. ``ingest.store.unlogged`` looks at the same five years, but has miles run evenly between two
entries: it says why.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SEASONS_BACK = 5
"""Seasons of the log that the mean season is made of: older ones had another timetable."""
PRIOR_SPREAD = 0.25
"""Spread of a season's miles as a share of their mean, before any log is seen. [1] Assumption, no source."""
PRIOR_SEASONS = 2
"""Weight of that assumption, in seasons. Assumption, no source."""
STRIDE = 1_000_000
"""Days kept apart between two vehicles on the one axis on which all logs are interpolated at once."""


@dataclass(frozen=True)
class MeanSeason:
    """The mean season of n vehicles; NaN where the log does not say.

    Attributes
    ----------
    miles : shape (n, 12). Mean miles of the twelve months asked for. [mi]
    spread : shape (n,). Spread of a season's miles as a share of their mean. [1]
    service_days_per_mile : shape (n,). [d/mi]
    """

    miles: Floats
    spread: Floats
    service_days_per_mile: Floats


def mean_season(mileage: pd.DataFrame, row: Ints, end: Ints) -> MeanSeason:
    """The mean season of each vehicle's log, with its twelve months counted from ``end``.

    Parameters
    ----------
    mileage : date, odometer [mi], service_days since the row before [d].
    row : shape of the mileage's rows. Row of the vehicle in the result; -1: left out.
    end : shape (n,). First month after the seasons looked at, months since 1970-01.
    """
    n = len(end)
    use = (row >= 0) & mileage["date"].notna().to_numpy() & mileage["odometer"].notna().to_numpy()
    if not use.any():
        return MeanSeason(np.full((n, 12), np.nan), np.full(n, PRIOR_SPREAD), np.full(n, np.nan))
    log, code = mileage[use], row[use]
    order = np.lexsort((log["date"].to_numpy(), code))
    log, code = log.iloc[order], code[order]
    day = log["date"].to_numpy().astype("datetime64[D]").astype(np.int64).astype(float)
    odometer = log["odometer"].to_numpy(float)
    service = log["service_days"].to_numpy(float) if "service_days" in log else np.full(len(log), np.nan)
    miles, share = _monthly(code, day, odometer, service, end)
    return MeanSeason(*_season(miles, share, n), _service_days_per_mile(code, day, odometer, service, end))


def _knots(code: Ints, day: Floats, odometer: Floats, service: Floats) -> tuple[Floats, Floats]:
    """The log as points between which running is even, all vehicles on one axis.

    The first entry after a lay-up holds the miles of its own last days, not of the lay-up. So the miles of an
    entry are spread over its last days only: a week, or three days for each service day; without service
    days, twice the usual time between entries of the vehicle.
    """
    same = np.concatenate([[False], code[1:] == code[:-1]])
    gap = np.where(same, np.diff(day, prepend=day[:1]), 0.0)
    usual = pd.Series(np.where(same, gap, np.nan)).groupby(code).transform("median").to_numpy(float)
    span = np.where(np.isfinite(service), np.maximum(7.0, 3.0 * service), 2.0 * usual)
    idle = np.flatnonzero(same & (span < gap))
    axis = np.concatenate([day + code * STRIDE, (day - span + code * STRIDE)[idle]])
    miles = np.concatenate([odometer, odometer[idle - 1]])
    order = np.lexsort([miles, axis])
    return axis[order], miles[order]


def _monthly(code: Ints, day: Floats, odometer: Floats, service: Floats, end: Ints) -> tuple[Floats, Floats]:
    """Miles of each of the months before `end`, and the share of the month that the log covers, (n, 12 S)."""
    back = np.arange(-12 * SEASONS_BACK, 1)
    edges = first_day(end[:, None] + back[None, :]) - 1.0
    first = np.full(len(end), np.inf)
    last = np.full(len(end), -np.inf)
    np.minimum.at(first, code, day)
    np.maximum.at(last, code, day)
    inside = np.clip(edges, np.where(np.isfinite(first), first, 0.0)[:, None], np.maximum(last, 0.0)[:, None])
    knots, miles = _knots(code, day, odometer, service)
    odometer_then = np.interp(inside + (np.arange(len(end)) * STRIDE)[:, None], knots, miles)
    share = np.diff(inside, axis=1) / np.diff(edges, axis=1)
    share[~np.isfinite(first)] = 0.0
    return np.maximum(np.diff(odometer_then, axis=1), 0.0) * (share > 0), share


def _season(miles: Floats, share: Floats, n: int) -> tuple[Floats, Floats]:
    """Mean miles of each month of a season, shape (n, 12) [mi], and the spread of seasons, shape (n,) [1]."""
    miles, share = miles.reshape(n, SEASONS_BACK, 12), share.reshape(n, SEASONS_BACK, 12)
    total, covered = miles.sum(axis=2), share.sum(axis=2)
    runs = (total > 0) | ((covered > 0) & (covered < 6))  # twelve idle months: out of service, no season
    share = np.where(runs[:, :, None] & (share > 0.5), share, 0.0)
    weight = share.sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        profile = (miles * (share > 0)).sum(axis=1) / weight
        mean_month = (miles * (share > 0)).sum(axis=(1, 2)) / weight.sum(axis=1)
        profile = np.where(weight > 0, profile, mean_month[:, None])
        whole = runs & (covered > 11.5)
        mean = np.where(whole, total, 0).sum(axis=1) / whole.sum(axis=1)
        squares = (np.where(whole, total / mean[:, None] - 1.0, 0.0) ** 2).sum(axis=1)
    count = whole.sum(axis=1)
    squares = np.where(count > 0, squares, 0.0)
    spread = np.sqrt((PRIOR_SEASONS * PRIOR_SPREAD**2 + squares) / (PRIOR_SEASONS + np.maximum(count - 1, 0)))
    return profile, spread


def _service_days_per_mile(code: Ints, day: Floats, odometer: Floats, service: Floats, end: Ints) -> Floats:
    """Of the seasons looked at; NaN where the log has no service days or no miles, shape (n,)."""
    run = np.diff(odometer, prepend=np.nan)
    same = np.concatenate([[False], code[1:] == code[:-1]])
    start = first_day(end - 12 * SEASONS_BACK)
    use = same & np.isfinite(service) & np.isfinite(run) & (day >= start[code])
    days = np.bincount(code[use], service[use], len(end))
    miles = np.bincount(code[use], np.maximum(run[use], 0.0), len(end))
    ratio = np.full(len(end), np.nan)
    np.divide(days, miles, out=ratio, where=(miles > 0) & (days > 0))
    return ratio


def first_day(month: Ints) -> Floats:
    """First day of a month counted from January 1970, in days since 1970-01-01."""
    return np.asarray(
        month.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64), dtype=np.float64
    )
