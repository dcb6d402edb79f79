"""From miles to the calendar: miles and service days ahead by month, and the date at which miles are run.

Planned usage is taken where it is given; where it is not, the mean season of the vehicle's own log, with the
spread from season to season. Months whose spread is planned deviate each by itself; those whose spread is
that of the logged seasons deviate together within a calendar year (a good season or a bad one). Different
years deviate independently.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from models.distribution import value_reached
from models.running.planned import SOURCES, months_ahead
from models.running.seasons import first_day, mean_season

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Dates = NDArray[np.datetime64]


@dataclass(frozen=True)
class UsageAhead:
    """Usage ahead as arrays, one row per vehicle, one column per month: many miles become dates at once.

    Attributes
    ----------
    vehicles : names, in the order of the rows.
    edge_day : shape (n, months + 1). As-of day, then the day after each month's last, days since 1970. [d]
    miles : shape (n, months + 1). Miles run from as-of to each edge, non-decreasing, first 0. [mi]
    miles_sd : shape (n, months + 1). Standard deviation of the same. [mi]
    service_days : shape (n, months + 1). Service days from as-of to each edge; NaN where none are logged. [d]
    """

    vehicles: tuple[str, ...]
    edge_day: Floats
    miles: Floats
    miles_sd: Floats
    service_days: Floats

    def rows(self, vehicle: ArrayLike) -> Ints:
        """Row of each vehicle name, shape of the names; -1 where the vehicle is not known."""
        return rows_of(self.vehicles, vehicle)


def rows_of(vehicles: Sequence[str] | NDArray[np.object_], names: ArrayLike) -> Ints:
    """Row of each name among the vehicles, -1 where it is not one of them."""
    rows = pd.Index(vehicles).get_indexer(pd.Index(np.asarray(names, dtype=object)))
    return np.asarray(rows, dtype=np.int64)


def usage_plan(
    usage: pd.DataFrame, mileage: pd.DataFrame, as_of: pd.Timestamp | pd.Series, months: int
) -> pd.DataFrame:
    """Miles and service days ahead, by vehicle and month.

    Parameters
    ----------
    usage : vehicle, month (any day of it), miles_planned, miles_sd [mi]; may be empty.
    mileage : vehicle, date, odometer [mi], service_days since the row before [d]; may be empty.
    as_of : one date for all, or a series of dates indexed by vehicle.
    months : calendar months to return, the one of as-of being the first. > 0

    Returns
    -------
    vehicle, month (first day), miles, miles_sd, season_sd [mi], service_days [d], source (planned / from
    log / as planned before / unknown), sorted. ``season_sd`` is the part of ``miles_sd`` that the months of a
    calendar year share. Miles of the first month are those of the days after as-of. Miles are NaN where the
    vehicle has neither plan nor log; service days are NaN where the log has none.

    Notes
    -----
    A calendar year with any planned row is a planned year: its months without a row are without running.
    The mean season leaves out stretches of twelve months without running (the vehicle was out of service): it
    forecasts what is run when the vehicle runs. The spread of a season is that of the logged seasons, drawn
    toward 25 % with the weight of two seasons (assumption).
    """
    vehicles, start = _vehicles(usage, mileage, as_of)
    row_of_log, row_of_plan = (rows_of(vehicles, table["vehicle"]) for table in (mileage, usage))
    first = start.astype("datetime64[M]").astype(np.int64)
    ahead = np.arange(months)
    month = first[:, None] + ahead
    elapsed = (start - start.astype("datetime64[M]")).astype(np.int64) + 1
    left = 1.0 - elapsed / (first_day(first + 1) - first_day(first))  # share of the first month
    logged = (left <= 0).astype(np.int64)  # as-of on a month's last day: that month belongs to the log
    season = mean_season(mileage, row_of_log, first + logged)
    from_log = np.take_along_axis(season.miles, (ahead - logged[:, None]) % 12, axis=1)
    miles, sd, season_sd, source = months_ahead(usage, row_of_plan, month, from_log, season.spread)
    part = np.where(ahead == 0, left[:, None], 1.0)
    miles = miles * part
    return pd.DataFrame(
        {
            "vehicle": pd.Series(vehicles, dtype="str").repeat(months).array,
            "month": month.astype("datetime64[M]").astype("datetime64[us]").ravel(),
            "miles": miles.ravel(),
            "miles_sd": (sd * part).ravel(),
            "season_sd": (season_sd * part).ravel(),
            "service_days": (miles * season.service_days_per_mile[:, None]).ravel(),
            "source": pd.Series(SOURCES, dtype="str").array.take(source.ravel()),
        }
    )


def usage_ahead(plan: pd.DataFrame, as_of: pd.Timestamp | pd.Series) -> UsageAhead:
    """The frame of :func:`usage_plan` as running sums, one row per vehicle.

    Parameters
    ----------
    plan : as :func:`usage_plan` gives it (sorted, equally many months for each vehicle).
    as_of : the same dates that it was made with.
    """
    names = tuple(str(name) for name in plan["vehicle"].unique())
    n = len(names)
    month = plan["month"].to_numpy().astype("datetime64[M]").astype(np.int64).reshape(n, -1)
    end = first_day(month + 1)
    start = _dates(as_of, np.array(names, dtype=object)).astype(np.int64)
    miles = plan["miles"].to_numpy(float).reshape(n, -1)
    sd, season_sd = (part.reshape(n, -1) for part in spreads_of(plan))
    service = plan["service_days"].to_numpy(float).reshape(n, -1)
    return UsageAhead(
        vehicles=names,
        edge_day=np.concatenate([start[:, None].astype(float), end], axis=1),
        miles=_running_sum(miles),
        miles_sd=_running_sd(sd, season_sd, month // 12),
        service_days=_running_sum(service),
    )


def counted_since(as_of: pd.Series, as_of_odometer: pd.Series, mileage: pd.DataFrame) -> pd.Series:
    """Day from which the miles ahead of each vehicle are run: that on which its odometer was read.

    Parameters
    ----------
    as_of, as_of_odometer : of each vehicle, indexed by it. [mi]
    mileage : vehicle, date, odometer [mi].

    Returns
    -------
    Index of ``as_of``: the last day of the log where as-of is later and the odometer still that of the log,
    as what has been run since is not on record and a plan for it shall count. Otherwise as-of.
    """
    last = (
        mileage.dropna(subset=["odometer"])
        .sort_values("date")
        .groupby("vehicle")[["date", "odometer"]]
        .last()
    )
    last = last.reindex(as_of.index)
    by_log = (as_of > last["date"]) & (as_of_odometer <= last["odometer"])
    return as_of.where(~by_log, last["date"].astype(as_of.dtype))


def dates_at(ahead: UsageAhead, vehicle: ArrayLike, miles: Floats, *, column: str = "miles") -> Dates:
    """Day on which each vehicle, at its expected usage, has run the given miles.

    Parameters
    ----------
    ahead : usage of the vehicles.
    vehicle : shape (n,), names.
    miles : shape (n,) or (n, k), from as-of. [mi]
    column : ``service_days`` to ask for the day on which so many service days are run instead. [d]

    Returns
    -------
    Days, shape of miles, datetime64[us]. NaT where usage ends before the miles are run, or is unknown.
    """
    wanted, row = np.asarray(miles, float), ahead.rows(vehicle)
    day = value_reached(getattr(ahead, column), ahead.edge_day, wanted, row)
    return np.floor(day).astype("datetime64[D]").astype("datetime64[us]")


def dates_with_spread(ahead: UsageAhead, vehicle: ArrayLike, miles: Floats, normal: Floats) -> Dates:
    """Quantiles of the date on which the miles are run, where both the miles and the usage are uncertain.

    Parameters
    ----------
    ahead : usage of the vehicles.
    vehicle : shape (n,), names.
    miles : shape (n, k). Quantiles of the remaining miles, the median among them. [mi]
    normal : shape (k,). Normal quantile of each column's probability; exactly one is 0 (the median). [1]

    Returns
    -------
    Days, shape (n, k), datetime64[us], non-decreasing along the row; NaT as in :func:`dates_at`.

    Notes
    -----
    The distance of a quantile from the median and the spread of the usage at the median's date are added in
    quadrature, separately on each side: exact for normal miles and usage that grows evenly, otherwise nearly.
    """
    miles = np.asarray(miles, float)
    median = miles[:, [int(np.flatnonzero(np.asarray(normal) == 0)[0])]]
    row = ahead.rows(vehicle)
    sd = value_reached(ahead.miles, ahead.miles_sd, median, row)
    sd = np.where(np.isfinite(sd), sd, ahead.miles_sd[row, -1][:, None])
    reach = np.hypot(miles - median, np.asarray(normal)[None, :] * sd)
    side = np.sign(np.asarray(normal))[None, :]
    widened = np.where(np.isfinite(miles), np.maximum(median + side * reach, 0.0), np.nan)
    day = value_reached(ahead.miles, ahead.edge_day, widened, row)
    return np.floor(day).astype("datetime64[D]").astype("datetime64[us]")


def _vehicles(
    usage: pd.DataFrame, mileage: pd.DataFrame, as_of: pd.Timestamp | pd.Series
) -> tuple[NDArray[np.object_], Dates]:
    if isinstance(as_of, pd.Series):
        names = np.array(sorted(str(name) for name in as_of.index), dtype=object)
    else:
        known = pd.unique(pd.concat([usage["vehicle"], mileage["vehicle"]]).astype(object))
        names = np.array(sorted(known), dtype=object)
    return names, _dates(as_of, names)


def _dates(as_of: pd.Timestamp | pd.Series, vehicles: NDArray[np.object_]) -> Dates:
    if isinstance(as_of, pd.Series):
        return as_of.reindex(vehicles).to_numpy().astype("datetime64[D]")
    return np.full(len(vehicles), np.datetime64(pd.Timestamp(as_of), "D"))


def _running_sum(values: Floats) -> Floats:
    return np.concatenate([np.zeros((len(values), 1)), np.cumsum(values, axis=1)], axis=1)


def spreads_of(usage: pd.DataFrame) -> tuple[Floats, Floats]:
    """Spread of each month's miles: its own, and what it shares with the other months of its calendar year.

    Parameters
    ----------
    usage : miles_sd, and season_sd where :func:`usage_plan` gave it; without it every month is by itself.
        [mi]

    Returns
    -------
    Both of shape (len(usage),); their squares add up to that of ``miles_sd``. [mi]
    """
    whole = usage["miles_sd"].to_numpy(float)
    shared = usage["season_sd"].to_numpy(float) if "season_sd" in usage else np.zeros(len(usage))
    return np.sqrt(np.maximum(whole**2 - shared**2, 0.0)), shared


def _running_sd(sd: Floats, season_sd: Floats, year: Ints) -> Floats:
    """Spread of the running sum: own deviations add up as variances, those that a year shares as they are."""
    total = np.cumsum(season_sd, axis=1)
    new = np.concatenate([np.ones((len(sd), 1), bool), year[:, 1:] != year[:, :-1]], axis=1)
    # sum up to the end of last year
    before = np.maximum.accumulate(np.where(new, total - season_sd, 0.0), axis=1)
    this_year = total - before
    own = np.cumsum(sd**2, axis=1)
    last = np.concatenate([new[:, 1:], np.zeros((len(sd), 1), bool)], axis=1)
    finished = np.cumsum(np.where(last, this_year**2, 0.0), axis=1)
    finished = np.where(last, finished - this_year**2, finished)
    return np.concatenate([np.zeros((len(sd), 1)), np.sqrt(own + finished + this_year**2)], axis=1)
