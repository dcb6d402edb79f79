"""How near its limit a wear point is, in classes by calendar; for colour, pattern and order only.

The bounds are those of a season's planning, not of wear: within a year something must be done this winter,
within three years it can be planned. The careful date counts, the one that 1 in 20 does not reach.
"""

import numpy as np
import pandas as pd
from scipy.stats import norm

from ingest.names.points import by_point
from ingest.value_state import IMPLAUSIBLE, PAST, value_states
from models.running.ahead import counted_since, dates_with_spread, usage_ahead, usage_plan

LIKELY = 0.5
"""Chance from which a wear point counts as past its limit. [1]"""
YEARS = {"year": 1, "three": 3}
MONTHS_AHEAD = 480
"""Calendar looked ahead for the careful date: as far as a boiler's certificate reaches, more than twice."""


def state_of(value: float, point: pd.Series) -> str:
    """State of a value in the wear point's own unit (``ingest.value_state``).

    Parameters
    ----------
    point : row of ``wear_points``: limits in base unit, condemned_when, per_base.
    """
    about = pd.DataFrame([point])
    return str(value_states(pd.Series([value / float(point["per_base"])], about.index), about).iloc[0])


def with_state(forecast: pd.DataFrame, points: pd.DataFrame) -> pd.DataFrame:
    """The forecast with ``state``: past, year, three, implausible, later, unknown.

    Past its limit is also what was last read so, whatever the forecast makes of it. Where the last reading
    cannot be right, the state says so instead of time that is left.

    Parameters
    ----------
    forecast : the public columns and ``date_p05``.
    points : wear_points as they were for the forecast.
    """
    read = last_reading_states(forecast, points)
    past = is_past(forecast, read)
    is_forecast = forecast["miles_p50"].notna()
    has_date = forecast["date_p05"].notna()
    # Miles that planned usage never runs have no date; where a vehicle has dates at all, that means late.
    vehicle_dated = has_date.groupby(forecast["vehicle"]).transform("any")
    years = (forecast["date_p05"] - forecast["as_of"]).dt.days / 365.25
    state = np.select(
        [
            past,
            is_forecast & has_date & (years <= YEARS["year"]),
            read == IMPLAUSIBLE,
            is_forecast & has_date & (years <= YEARS["three"]),
            is_forecast & (has_date | vehicle_dated),
        ],
        ["past", "year", "implausible", "three", "later"],
        "unknown",
    )
    return forecast.assign(state=state)


def is_past(forecast: pd.DataFrame, read: pd.Series) -> pd.Series:
    """Whether a wear point counts as past its limit: as last read, or more likely than not by the forecast.

    The first page, the drawing, the plan and the brief all count by it.

    Parameters
    ----------
    forecast : the public columns.
    read : as :func:`last_reading_states` gives it.
    """
    likely = forecast["miles_p50"].notna() & (forecast["p_beyond_now"].fillna(0.0) >= LIKELY)
    return likely | (read == PAST)


def past_points(forecast: pd.DataFrame, points: pd.DataFrame, *vehicles: str) -> frozenset[str]:
    """Names of the wear points of vehicles that :func:`is_past` counts; ``points``: wear_points."""
    own = forecast[forecast["vehicle"].isin(vehicles)]
    return frozenset(own.loc[is_past(own, last_reading_states(own, points)), "point"].astype(str))


def last_reading_states(forecast: pd.DataFrame, points: pd.DataFrame) -> pd.Series:
    """State of the last reading of each wear point of a forecast (``ingest.value_state``)."""
    about = by_point(points).reindex(forecast["point"]).set_axis(forecast.index)
    return value_states(forecast["last_value"] / about["per_base"].astype("float64"), about)


def with_careful_date(forecast: pd.DataFrame, usage: pd.DataFrame, mileage: pd.DataFrame) -> pd.DataFrame:
    """The forecast with ``date_p05``: the day by which 1 in 20 has reached the limit.

    Parameters
    ----------
    forecast : the public columns.
    usage, mileage : tables of the store as they were at the forecast's data version.
    """
    if "date_p05" in forecast:
        return forecast
    as_of = forecast.groupby("vehicle")["as_of"].max()
    if as_of.isna().all():
        return forecast.assign(date_p05=pd.Series(pd.NaT, forecast.index, dtype="datetime64[us]"))
    as_of = as_of.dropna()
    odometer = forecast.groupby("vehicle")["as_of_odometer"].max().reindex(as_of.index)
    since = counted_since(as_of, odometer, mileage)
    ahead = usage_ahead(usage_plan(usage, mileage, since, MONTHS_AHEAD), since)
    miles = forecast[["miles_p05", "miles_p50"]].to_numpy(float)
    dates = dates_with_spread(ahead, forecast["vehicle"], miles, np.array([norm.ppf(0.05), 0.0]))
    careful = pd.Series(dates[:, 0], index=forecast.index).astype("datetime64[us]")
    return forecast.assign(date_p05=careful.mask(careful < forecast["as_of"], forecast["as_of"]))
