"""Whether the miles of readings are known, and whether noted odometers fit the mileage log."""

import numpy as np
import pandas as pd

from ingest.figures import limit
from ingest.look.odometer_fit import most_run
from ingest.names.points import by_point
from ingest.problems import Problems
from ingest.store.mileage import bracket, carry_on, instruments, place, shown
from ingest.store.unlogged import run_since_last_entry

NO_ODOMETER = "the reading has no odometer"
"""How every reason begins that the log can settle."""


def check_odometers(
    rows: pd.DataFrame, found: pd.Series, known: dict[str, pd.DataFrame], problems: Problems
) -> None:
    """Hold back readings whose miles cannot be known or contradict the log.

    Parameters
    ----------
    rows : readings as kept: point, date, odometer_read [mi].
    found : what the odometer cell said, by row label.
    known : wear_points, mileage and usage as stored.
    problems : reasons are added here.

    Notes
    -----
    Without an odometer the date must lie in the log, or after it while the engine is likely to stand: then
    it has that of the last entry. After a good part of a season in which it will have run it is asked about.
    """
    vehicles = by_point(known["wear_points"])["vehicle"]
    rows = rows[rows["date"].notna() & rows["point"].isin(vehicles.index)]
    rows = rows[~problems.has("odometer", rows.index) & ~problems.has("date", rows.index)]
    rows = rows.assign(vehicle=rows["point"].map(vehicles).astype("str"))
    log = carry_on(known["mileage"])
    own = rows["odometer_read"].notna()
    needed = odometer_needed(rows[~own], log, known["usage"])
    problems.where(needed != "", "odometer", found, needed)
    odd = not_fitting(rows[own], place(rows[own], log)["odometer"], log)
    with problems.doubts():
        problems.where(odd != "", "odometer", found, odd)


def odometer_needed(rows: pd.DataFrame, log: pd.DataFrame, usage: pd.DataFrame) -> pd.Series:
    """Why readings of those days are held back without an odometer; empty where the log tells it.

    Parameters
    ----------
    rows, log, usage : as :func:`_asked_about` takes them, of any day.
    """
    placed = place(rows.assign(odometer_read=np.nan), log)
    late = _asked_about(rows[placed["odometer_source"] == "last entry"], log, usage)
    outside = rows.loc[placed["odometer"].isna(), "vehicle"]
    reach = outside.map({vehicle: _reach(str(vehicle), log) for vehicle in outside.unique()})
    why: pd.Series = pd.concat([late, reach]).reindex(rows.index)
    return why.fillna("").astype("str")


def _asked_about(rows: pd.DataFrame, log: pd.DataFrame, usage: pd.DataFrame) -> pd.Series:
    """What is asked about readings of days by when the vehicle will have run much of a season since the
    end of its log; empty where it is likely to have stood.

    Parameters
    ----------
    rows : vehicle, date; readings without an odometer of their own, after the log's end.
    log : as ``ingest.store.mileage.carry_on`` returns it.
    usage : vehicle, month, miles_planned [mi].

    Returns
    -------
    One text for all of a vehicle, as one entry of the log settles all of them.
    """
    since = run_since_last_entry(rows["vehicle"], rows["date"], log, usage)
    much = since["share"] > limit("mileage", "unlogged_share")
    asked = rows.loc[much, ["vehicle", "date"]].join(since)
    words = {str(vehicle): _has_run(str(vehicle), part, log) for vehicle, part in asked.groupby("vehicle")}
    return rows["vehicle"].map(words).where(much, "").fillna("").astype("str")


def _has_run(vehicle: str, asked: pd.DataFrame, log: pd.DataFrame) -> str:
    """What is asked: the same for all of a vehicle's readings."""
    miles = asked["miles"].max()
    if np.isnan(miles):
        run = "nothing says that it stood since"
    else:
        run = f"by its plan and its earlier seasons it has run about {miles:,.0f} mi since"
    return (
        f"{NO_ODOMETER}, and its date lies outside the mileage log of vehicle {vehicle} "
        f"({_dates(vehicle, log)}); {run}. Add one entry to the log, of {asked['date'].max():%Y-%m-%d} or "
        "later, with what the odometer shows (if the engine stood, the same as before); then check the rows "
        "held back again ('milesleft held retry')"
    )


def _reach(vehicle: str, log: pd.DataFrame) -> str:
    if not (log["vehicle"] == vehicle).any():
        return f"{NO_ODOMETER}, and vehicle {vehicle} has no mileage log to take it from"
    return (
        f"{NO_ODOMETER}, and its date lies outside the mileage log of vehicle {vehicle} "
        f"({_dates(vehicle, log)}); write the odometer, or add the log of that time"
    )


def _dates(vehicle: str, log: pd.DataFrame) -> str:
    dates = log.loc[log["vehicle"] == vehicle, "date"]
    return f"{dates.min():%Y-%m-%d} to {dates.max():%Y-%m-%d}"


def not_fitting(rows: pd.DataFrame, odometer: pd.Series, log: pd.DataFrame) -> pd.Series:
    """Why noted odometers do not fit the log, in what the instrument showed; empty where they do.

    One lies between the entries before and after it; after the last, no further on than the vehicle can have
    run.

    Parameters
    ----------
    rows : vehicle, date.
    odometer : on the vehicle's one count. [mi]
    log : as ``ingest.store.mileage.carry_on`` returns it.
    """
    around = bracket(rows["vehicle"], rows["date"], log)
    between = fitting_between(rows, log)
    odd = (odometer < between["low"]) | (odometer > between["high"])
    if not odd.any():
        return pd.Series("", rows.index, dtype="str")
    instrument = instruments(rows.loc[odd, "vehicle"], rows.loc[odd, "date"], log)
    before, after = (_words(shown(around.loc[odd, side], instrument), instrument) for side in ("low", "high"))
    words = "the odometer does not fit the mileage log: it stood at " + before + " before and " + after
    return (words + " after").reindex(rows.index).fillna("").astype("str")


def fitting_between(rows: pd.DataFrame, log: pd.DataFrame) -> pd.DataFrame:
    """The odometers that fit the log on each day, ends included; NaN where nothing bounds them.

    Parameters
    ----------
    rows : vehicle, date. log : as ``ingest.store.mileage.carry_on`` returns it.

    Returns
    -------
    Index of ``rows``: low, high, on the vehicle's one count. [mi]
    """
    around = bracket(rows["vehicle"], rows["date"], log)
    slack = limit("mileage", "day_slack")
    late = rows[around["high"].isna() & around["low"].notna()]
    furthest = around["high"].fillna(around["low"] + most_run(late, log).reindex(rows.index))
    return pd.DataFrame({"low": around["low"] - slack, "high": furthest + slack}, index=rows.index)


def _words(figures: pd.Series, instrument: pd.DataFrame) -> pd.Series:
    """What the instrument showed, with its unit."""
    words = figures.map("{:,.0f} ".format) + instrument["unit"]
    return words.where(figures.notna(), "nothing known").astype("str")
