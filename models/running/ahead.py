"""From miles to the calendar: miles and service days ahead by month, and the date at which miles are run.

Planned usage decides where it is given. Where it is not, the mean season of the vehicle's own log stands
in, with the spread from season to season. Miles of one calendar year deviate together (a good season or
a bad one), years independently.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from models.running.seasons import STRIDE, codes, first_day, mean_season

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Dates = NDArray[np.datetime64]

SOURCES = ["planned", "from log", "as planned before", "unknown"]
"""Where the miles of a month ahead come from."""


@dataclass(frozen=True)
class UsageAhead:
    """Usage ahead as arrays, one row a vehicle, months in columns; for turning many miles into dates at once.

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
        return np.asarray(pd.Index(self.vehicles).get_indexer(pd.Index(np.asarray(vehicle))), dtype=np.int64)


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
    vehicle, month (first day), miles, miles_sd [mi], service_days [d], source (planned / from log / as
    planned before / unknown), sorted. Miles of the first month are those of the days after as-of. Miles are
    NaN where the vehicle has neither plan nor log; service days are NaN where the log tells none.

    Notes
    -----
    A calendar year with any planned row is a planned year: its months without a row are without running.
    The mean season leaves out stretches of twelve months without running (the vehicle was out of service): it
    forecasts what is run when the vehicle runs. The spread of a season is that of the logged seasons, drawn
    toward 25 % with the weight of two seasons (assumption).
    """
    vehicles, start = _vehicles(usage, mileage, as_of)
    first = start.astype("datetime64[M]").astype(np.int64)
    days = _days_in(first)
    share = 1.0 - ((start - start.astype("datetime64[M]")).astype(np.int64) + 1) / days
    shift = (share <= 0).astype(np.int64)  # as-of on a month's last day: that month belongs to the log
    profile, spread, per_mile = mean_season(mileage, vehicles, first + shift)
    ahead = np.arange(months)
    from_log = np.take_along_axis(profile, (ahead[None, :] - shift[:, None]) % 12, axis=1)
    planned, planned_sd, is_planned = _planned(usage, vehicles, first, months)
    before = _planned_season(usage, vehicles, first)
    again = np.take_along_axis(before, (first[:, None] + ahead[None, :]) % 12, axis=1)
    filled = np.where(np.isfinite(from_log), from_log, again)
    miles = np.where(is_planned, planned, filled)
    sd = np.where(is_planned & np.isfinite(planned_sd), planned_sd, miles * spread[:, None])
    source = np.select([is_planned, np.isfinite(from_log), np.isfinite(again)], [0, 1, 2], 3)
    sd = np.where(miles == 0, 0.0, sd)  # no running planned: nothing that could come out otherwise
    scale = np.where(ahead == 0, share[:, None], 1.0)
    month = (first[:, None] + ahead[None, :]).astype("datetime64[M]").astype("datetime64[us]")
    miles = miles * scale
    return pd.DataFrame(
        {
            "vehicle": pd.Series(vehicles, dtype="str").repeat(months).array,
            "month": month.ravel(),
            "miles": miles.ravel(),
            "miles_sd": (sd * scale).ravel(),
            "service_days": (miles * per_mile[:, None]).ravel(),
            "source": pd.Series(SOURCES, dtype="str").array.take(source.ravel()),
        }
    )


def usage_ahead(plan: pd.DataFrame, as_of: pd.Timestamp | pd.Series) -> UsageAhead:
    """The frame of :func:`usage_plan` as running sums, one row a vehicle.

    Parameters
    ----------
    plan : as :func:`usage_plan` gives it (sorted, equally many months for each vehicle).
    as_of : the same dates that made it.
    """
    names = tuple(str(name) for name in plan["vehicle"].unique())
    n = len(names)
    month = plan["month"].to_numpy().astype("datetime64[M]").astype(np.int64).reshape(n, -1)
    end = first_day(month + 1)
    start = _dates(as_of, np.array(names, dtype=object)).astype(np.int64)
    miles = plan["miles"].to_numpy(float).reshape(n, -1)
    sd = plan["miles_sd"].to_numpy(float).reshape(n, -1)
    service = plan["service_days"].to_numpy(float).reshape(n, -1)
    return UsageAhead(
        vehicles=names,
        edge_day=np.concatenate([start[:, None].astype(float), end], axis=1),
        miles=_running_sum(miles),
        miles_sd=_running_sd(sd, month // 12),
        service_days=_running_sum(service),
    )


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
    grid = getattr(ahead, column)
    wanted = np.asarray(miles, float)
    flat = wanted.reshape(len(wanted), -1)
    row = ahead.rows(vehicle)
    day = _invert(grid, ahead.edge_day, np.repeat(row, flat.shape[1]), flat.ravel())
    out = np.full(day.shape, np.datetime64("NaT", "us"))
    known = np.isfinite(day)
    out[known] = np.floor(day[known]).astype("datetime64[D]").astype("datetime64[us]")
    return out.reshape(wanted.shape)


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
    The distance of a quantile from the median and the spread of the usage at the median's date add in
    quadrature, each side for itself: exact for normal miles and usage that grows evenly, near it otherwise.
    """
    miles = np.asarray(miles, float)
    median = miles[:, [int(np.flatnonzero(np.asarray(normal) == 0)[0])]]
    row = ahead.rows(vehicle)
    sd = _invert(ahead.miles, ahead.miles_sd, row, median[:, 0])[:, None]
    sd = np.where(np.isfinite(sd), sd, ahead.miles_sd[row, -1][:, None])
    reach = np.hypot(miles - median, np.asarray(normal)[None, :] * sd)
    side = np.sign(np.asarray(normal))[None, :]
    widened = np.where(np.isfinite(miles), np.maximum(median + side * reach, 0.0), np.nan)
    return dates_at(ahead, vehicle, widened)


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


def _days_in(month: Ints) -> Floats:
    return first_day(month + 1) - first_day(month)


def _planned(
    usage: pd.DataFrame, vehicles: NDArray[np.object_], first: Ints, months: int
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Planned miles and their spread by vehicle and month ahead, and where the plan speaks."""
    n = len(vehicles)
    miles, sd = np.zeros((n, months)), np.zeros((n, months))
    code = codes(vehicles, usage["vehicle"])
    month = usage["month"].to_numpy().astype("datetime64[M]").astype(np.int64)
    value = usage["miles_planned"].to_numpy(float)
    spread = usage["miles_sd"].to_numpy(float) if "miles_sd" in usage else np.full(len(usage), np.nan)
    known = (code >= 0) & np.isfinite(value)
    code, month, value, spread = code[known], month[known], value[known], spread[known]
    ahead = month - first[code]
    here = (ahead >= 0) & (ahead < months)
    np.add.at(miles, (code[here], ahead[here]), value[here])
    np.add.at(sd, (code[here], ahead[here]), spread[here])
    year = (first[:, None] + np.arange(months)[None, :]) // 12
    planned_years = np.unique(code * STRIDE + month // 12)
    speaks = np.isin(np.arange(n)[:, None] * STRIDE + year, planned_years)
    return miles, sd, speaks


def _planned_season(usage: pd.DataFrame, vehicles: NDArray[np.object_], first: Ints) -> Floats:
    """Mean of the planned years by calendar month, (n, 12), January first; NaN where nothing is planned."""
    code = codes(vehicles, usage["vehicle"])
    month = usage["month"].to_numpy().astype("datetime64[M]").astype(np.int64)
    value = usage["miles_planned"].to_numpy(float)
    known = (code >= 0) & np.isfinite(value)
    code, month, value = code[known], month[known], value[known]
    years = np.bincount(np.unique(code * STRIDE + month // 12) // STRIDE, minlength=len(first))
    total = np.zeros((len(first), 12))
    np.add.at(total, (code, month % 12), value)
    out = np.full(total.shape, np.nan)
    np.divide(total, years[:, None], out=out, where=years[:, None] > 0)
    return out


def _running_sum(values: Floats) -> Floats:
    return np.concatenate([np.zeros((len(values), 1)), np.cumsum(values, axis=1)], axis=1)


def _running_sd(sd: Floats, year: Ints) -> Floats:
    """Within a calendar year the months deviate together, the years independently."""
    total = np.cumsum(sd, axis=1)
    new = np.concatenate([np.ones((len(sd), 1), bool), year[:, 1:] != year[:, :-1]], axis=1)
    before = np.maximum.accumulate(np.where(new, total - sd, 0.0), axis=1)  # sum up to the end of last year
    this_year = total - before
    last = np.concatenate([new[:, 1:], np.zeros((len(sd), 1), bool)], axis=1)
    finished = np.cumsum(np.where(last, this_year**2, 0.0), axis=1)
    finished = np.where(last, finished - this_year**2, finished)
    return np.concatenate([np.zeros((len(sd), 1)), np.sqrt(finished + this_year**2)], axis=1)


def _invert(grid: Floats, value: Floats, row: Ints, wanted: Floats) -> Floats:
    """For each wanted figure, the value where the row's non-decreasing grid first reaches it; NaN beyond."""
    out = np.full(len(wanted), np.nan)
    usable: NDArray[np.bool_] = np.asarray(np.isfinite(grid).all(axis=1))
    ask = np.flatnonzero((row >= 0) & np.isfinite(wanted) & usable[row] & (wanted <= grid[row, -1]))
    if len(ask) == 0:
        return out
    r, w = row[ask], np.maximum(wanted[ask], 0.0)
    # All rows on one axis: each row is scaled into its own unit stretch, so one search serves every point.
    top = np.maximum(grid[:, [-1]], 1e-9) * (1 + 1e-9)
    axis = (np.where(usable[:, None], grid, 0.0) / np.where(usable[:, None], top, 1.0)).astype(float)
    flat = (axis + 2.0 * np.arange(len(grid))[:, None]).ravel()
    at = np.searchsorted(flat, w / top[r, 0] + 2.0 * r, side="left") - r * grid.shape[1]
    at = np.clip(at, 1, grid.shape[1] - 1)
    left, right = grid[r, at - 1], grid[r, at]
    share = np.divide(w - left, right - left, out=np.zeros_like(w), where=right > left)
    out[ask] = value[r, at - 1] + np.clip(share, 0.0, 1.0) * (value[r, at] - value[r, at - 1])
    return out
