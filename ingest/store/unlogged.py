"""What a vehicle will have run since the last entry of its mileage log, by its plan and its earlier seasons.

An engine that stands has no new entry. Whether it stood is not on record, but how it runs in that part of the
year is.

``models.running`` tells of the same seasons for another question and is kept apart: it looks from a day ahead
and puts the miles of a first entry after a lay-up into its own last days, as dates of work hang on the month.
Here every mile between two entries counts as run evenly between them. A log with one entry a year then lets a
vehicle run a little all year round, and so a reading in a lay-up is asked about sooner rather than later.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

US_PER_DAY = 86_400_000_000
YEARS_BACK = 5
"""Years of the log that are looked at: older ones had another timetable."""
DAYS_A_YEAR = 365.25
_HALF_A_YEAR = 183.0


def run_since_last_entry(
    vehicles: pd.Series, dates: pd.Series, log: pd.DataFrame, usage: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Miles that each vehicle is expected to have run from the last entry of its log to each date.

    Parameters
    ----------
    vehicles, dates : of one index.
    log : vehicle, date, odometer [mi], sorted by both (``ingest.store.mileage.carry_on``).
    usage : vehicle, month, miles_planned [mi]; None: by the log alone.

    Returns
    -------
    Index of ``dates``: last (day of the last entry), miles [mi], share (of a mean year of the vehicle, [1]),
    year (miles of that mean year). Nothing is run before the last entry; NaT and NaN without a log.

    Notes
    -----
    A calendar year with any planned row is a planned year: its months without a row are without running.
    In other years each month runs what it ran in the log's last five years; twelve months without running
    were out of service and are left out. Where neither log nor plan says how the vehicle runs, miles are NaN
    and the share is that of the year that has passed.
    """
    out = pd.DataFrame({"last": pd.NaT, "miles": np.nan, "share": np.nan, "year": np.nan}, index=dates.index)
    out["last"] = out["last"].astype("datetime64[us]")
    day = days_of(dates)
    for vehicle in vehicles.unique():
        own = (vehicles == vehicle).to_numpy()
        entries = log[(log["vehicle"] == vehicle).to_numpy()]
        if entries.empty:
            continue
        plan = None if usage is None else usage[(usage["vehicle"] == vehicle).to_numpy()]
        odometer = entries["odometer"].to_numpy(float)
        out.loc[own, "last"] = entries["date"].iloc[-1]
        for name, values in _since(days_of(entries["date"]), odometer, plan, day[own]).items():
            out.loc[own, name] = values
    return out


def _since(
    log_day: Floats, odometer: Floats, plan: pd.DataFrame | None, day: Floats
) -> dict[str, Floats | float]:
    """Miles from the end of a log to each day, their share of a mean year, and the miles of that year."""
    last = log_day[-1]
    gone = np.maximum(day - last, 0.0)
    rate = _miles_a_day(log_day, odometer)
    first_month, end_month = _month_of(last), _month_of(max(float(np.nanmax(day)), last)) + 1
    months = np.arange(first_month, end_month)
    edges = _first_day(np.arange(first_month, end_month + 1))
    a_day = rate[months % 12]
    a_year = float((rate * DAYS_A_YEAR / 12).sum())
    if plan is not None and len(plan):
        month = plan["month"].to_numpy().astype("datetime64[M]").astype(np.int64)
        miles = np.nan_to_num(plan["miles_planned"].to_numpy(float))
        years = np.unique(month // 12)
        planned = pd.Series(miles).groupby(month).sum().reindex(months).fillna(0.0).to_numpy()
        a_day = np.where(np.isin(months // 12, years), planned / np.diff(edges), a_day)
        a_year = a_year if a_year > 0 else miles.sum() / len(years)
    run = np.concatenate([[0.0], np.cumsum(a_day * np.diff(edges))])
    miles_run = np.interp(last + gone, edges, run) - np.interp(last, edges, run)
    known = np.isfinite(miles_run) & (a_year > 0)
    a_year = a_year if a_year > 0 else np.nan
    share = np.where(known, miles_run / a_year, gone / DAYS_A_YEAR)
    return {"miles": np.where(known, miles_run, np.nan), "share": share, "year": a_year}


def _miles_a_day(day: Floats, odometer: Floats) -> Floats:
    """Miles a day in each month of the year, January first, shape (12,); NaN where the log tells nothing."""
    end = _month_of(day[-1]) + 1
    months = np.arange(end - 12 * YEARS_BACK, end)
    inside = np.clip(_first_day(np.append(months, end)), day[0], day[-1])
    days = np.diff(inside).reshape(YEARS_BACK, 12)
    miles = np.diff(np.interp(inside, day, odometer)).reshape(YEARS_BACK, 12)
    ran = (miles.sum(axis=1) > 0) | (days.sum(axis=1) < _HALF_A_YEAR)
    days, miles = days[ran].sum(axis=0), miles[ran].sum(axis=0)
    if miles.sum() <= 0:
        return np.full(12, np.nan)
    mean = miles.sum() / days.sum()
    rate = np.where(days > 0, miles / np.maximum(days, 1e-9), mean)
    return np.roll(rate, int(months[0] % 12))


def days_of(dates: pd.Series) -> Floats:
    """Days since 1970-01-01."""
    return dates.to_numpy(dtype="datetime64[us]").astype(np.int64) / US_PER_DAY


def _month_of(day: float) -> int:
    return int(np.datetime64(int(day), "D").astype("datetime64[M]").astype(np.int64))


def _first_day(months: Ints) -> Floats:
    return months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64).astype(np.float64)
