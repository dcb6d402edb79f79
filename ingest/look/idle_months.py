"""Months of the year in which a railway does not run, as its mileage logs show."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

_CLOSE = 45  # days: entries further apart tell no month
_LEAST = 24  # such intervals, two years of monthly entries, from which seasons are told
_SHARE = 0.01  # of a month's even share of the miles: below it nobody ran, but for moves in the shed
_MONTHS = 12


def idle_months(known: Mapping[str, pd.DataFrame]) -> frozenset[int]:
    """Numbers of the months in which next to nothing was run; empty where the logs are too few or too coarse.

    Parameters
    ----------
    known : tables that hold, mileage among them.
    """
    log = known["mileage"].dropna(subset=["odometer_read"]).sort_values(["vehicle", "date"], kind="stable")
    by = log.groupby("vehicle", sort=False)
    run, days = by["odometer_read"].diff(), by["date"].diff().dt.days
    close = (days > 0) & (days <= _CLOSE) & (run >= 0)
    if int(close.sum()) < _LEAST:
        return frozenset()
    # An entry early in a month tells of the month before.
    middle = log["date"] - pd.to_timedelta((days / 2).where(close, 0.0).round(), unit="D")
    month = middle[close].dt.month
    miles = run[close].groupby(month).sum().reindex(range(1, _MONTHS + 1))
    idle = miles.fillna(np.inf) < _SHARE * run[close].sum() / _MONTHS
    return frozenset(int(number) for number in miles.index[idle])
