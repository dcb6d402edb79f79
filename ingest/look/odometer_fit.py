"""Whether an odometer fits what the mileage log leaves room for."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from ingest.figures import limit
from ingest.store.mileage import bracket, carry_on, place
from ingest.store.unlogged import DAYS_A_YEAR, run_since_last_entry


def fits_log(rows: pd.DataFrame, odometer: pd.Series, known: Mapping[str, pd.DataFrame]) -> pd.Series:
    """Whether each odometer lies between the entries around its day, or after the last within reach.

    Parameters
    ----------
    rows : vehicle, date.
    odometer : as the instrument showed it. [mi]
    known : mileage and usage as stored.

    Returns
    -------
    1 where it fits, 0 where not, NaN where the log says nothing; index of ``rows``.
    """
    log = known["mileage"]
    log = log[log["vehicle"].isin(rows["vehicle"].unique())]
    if log.empty:
        return pd.Series(np.nan, rows.index, dtype="float64")
    log = carry_on(log)
    miles = place(rows.assign(odometer_read=odometer), log)["odometer"]
    around = bracket(rows["vehicle"], rows["date"], log)
    slack = limit("mileage", "day_slack")
    late = rows[around["high"].isna() & around["low"].notna()]
    high = around["high"].fillna(around["low"] + most_run(late, log, known["usage"]).reindex(rows.index))
    fits = ~((miles < around["low"] - slack) | (miles > high + slack))
    return fits.astype("float64").where(around["low"].notna() | around["high"].notna())


def most_run(rows: pd.DataFrame, log: pd.DataFrame, usage: pd.DataFrame | None = None) -> pd.Series:
    """The most that vehicles can have run from the last entry of their log to a later day. [mi]"""
    since = run_since_last_entry(rows["vehicle"], rows["date"], log, usage)
    days = (rows["date"] - since["last"]).dt.days.clip(lower=1)
    by_year = limit("mileage", "most_years_in_one") * since["year"] * (1 + days / DAYS_A_YEAR)
    by_day = limit("mileage", "most_per_day") * days
    return pd.Series(np.fmin(by_day, by_year), index=rows.index, dtype="float64")
