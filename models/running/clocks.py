"""Clocks that are not wear: inspections due by service days or by the calendar, whichever comes first.

Intervals are rows of the catalogue; the days come from the mileage log, the dates from the usage ahead. What
is not on record can make a clock run faster, never slower.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.running.ahead import UsageAhead, dates_at

Floats = NDArray[np.float64]
Dates = NDArray[np.datetime64]

STATES = ("overdue", "last one not on record", "to come", "due date not known")
"""``to come``: a date ahead, near or far; ``due date not known``: neither calendar nor usage gives one."""
COLUMNS = [
    "vehicle", "clock", "title", "last_done", "service_days_since", "service_days_left",
    "due_by_service_days", "due_by_calendar", "due", "overdue_since", "decided_by", "state",
    "service_days", "months", "source", "note",
]  # fmt: skip


def due_dates(
    clocks: pd.DataFrame, done: pd.DataFrame, mileage: pd.DataFrame, ahead: UsageAhead, as_of: pd.Series
) -> pd.DataFrame:
    """When every clock of every vehicle falls due.

    Parameters
    ----------
    clocks : clock, title, service_days [d], days [d], months, citation, note; NaN where a clock does not
        count so.
    done : vehicle, clock, date: inspections on record, any number; later than as-of is left out.
    mileage : vehicle, date, odometer [mi], service_days since the row before [d].
    ahead : usage ahead of the vehicles.
    as_of : dates indexed by vehicle; every vehicle of it gets every clock.

    Returns
    -------
    ``COLUMNS``, one row a vehicle and clock, the soonest first. ``due`` is the earlier of the two dates; a
    clock that has run out is overdue and due on as-of; ``overdue_since`` is the day on which it ran out by
    calendar or log. Service days of a log entry that spans the last
    inspection count whole. Where miles were run without service days on record they are taken from the log's
    own days to the mile, and where it has none every calendar day counts; outside the log its own mean pace
    counts. ``note`` says so. ``service_days`` and ``months`` are the interval; months stand for days, rounded
    down.
    """
    pairs = pd.MultiIndex.from_product([as_of.index.astype(str), clocks["clock"]], names=["vehicle", "clock"])
    rows = pairs.to_frame(index=False).merge(clocks, on="clock")
    rows["as_of"] = rows["vehicle"].map(as_of)
    rows["last_done"] = _last_done(rows, done)
    log = service_days_on_record(mileage)
    rows["service_days_since"], guessed = _since(rows, log)
    rows["service_days_left"] = rows["service_days"] - rows["service_days_since"]
    rows["due_by_service_days"] = _by_service_days(rows, ahead)
    rows["due_by_calendar"] = _by_calendar(rows)
    return _decide(rows, guessed, _ran_out(rows, log))


def service_days_on_record(mileage: pd.DataFrame) -> pd.DataFrame:
    """Service days of every entry of the log, those that are missing estimated carefully.

    Parameters
    ----------
    mileage : vehicle, date, odometer [mi], service_days [d].

    Returns
    -------
    vehicle, date, service_days [d], guessed (whether it was estimated), sorted by vehicle and date.
    """
    log = mileage.sort_values(["vehicle", "date"], kind="stable")[
        ["vehicle", "date", "odometer", "service_days"]
    ]
    by = log.groupby("vehicle")
    run = by["odometer"].diff()
    between = by["date"].diff().dt.days.astype(float)
    stated = log["service_days"].astype(float)
    known = stated.notna()
    days = stated.where(run > 0).groupby(log["vehicle"]).transform("sum")
    miles = run.where(known & (run > 0)).groupby(log["vehicle"]).transform("sum")
    from_miles = np.ceil(run * (days / miles.where(miles > 0)))
    estimate = from_miles.where(from_miles.notna(), between).clip(upper=between).where(run != 0, 0.0)
    guessed = ~known & between.notna() & (estimate > 0)
    filled = stated.where(known, estimate).fillna(0.0)
    return log.assign(service_days=filled, guessed=guessed)[["vehicle", "date", "service_days", "guessed"]]


def _last_done(rows: pd.DataFrame, done: pd.DataFrame) -> pd.Series:
    latest = rows[["vehicle", "clock", "as_of"]].merge(done, on=["vehicle", "clock"], how="left")
    latest = latest[latest["date"] <= latest["as_of"]]
    last = latest.groupby(["vehicle", "clock"])["date"].max()
    key = pd.MultiIndex.from_frame(rows[["vehicle", "clock"]])
    return pd.Series(pd.to_datetime(last.reindex(key).to_numpy()), index=rows.index)


def _since(rows: pd.DataFrame, log: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    """Service days after the last inspection up to as-of, and whether some of them were estimated."""
    spans = rows[["vehicle", "last_done", "as_of"]].reset_index().merge(log, on="vehicle", how="left")
    inside = (spans["date"] > spans["last_done"]) & (spans["date"] <= spans["as_of"])
    counted = spans[inside].groupby("index").agg(days=("service_days", "sum"), guessed=("guessed", "any"))
    outside = _outside_the_log(rows, log)
    days = counted["days"].reindex(rows.index).fillna(0.0) + outside
    guessed = counted["guessed"].reindex(rows.index).astype(object).fillna(False).astype(bool) | (outside > 0)
    return days.where(rows["last_done"].notna()), guessed


def _ran_out(rows: pd.DataFrame, log: pd.DataFrame) -> pd.Series:
    """Day of the log on which the service days of a clock were used up; NaT where they are not."""
    spans = rows[["vehicle", "last_done", "as_of", "service_days"]].reset_index()
    spans = spans.merge(log.rename(columns={"service_days": "run"}), on="vehicle").sort_values("date")
    spans = spans[(spans["date"] > spans["last_done"]) & (spans["date"] <= spans["as_of"])]
    used_up = spans[spans.groupby("index")["run"].cumsum() >= spans["service_days"]]
    return pd.to_datetime(used_up.groupby("index")["date"].min().reindex(rows.index))


def _outside_the_log(rows: pd.DataFrame, log: pd.DataFrame) -> pd.Series:
    """Service days before the log begins and after it ends, at its mean pace; one per day without a log."""
    by = log.groupby("vehicle").agg(first=("date", "min"), last=("date", "max"), days=("service_days", "sum"))
    own = by.reindex(rows["vehicle"]).set_index(rows.index)
    length = (own["last"] - own["first"]).dt.days.astype(float)
    pace = (own["days"] / length.where(length > 0)).fillna(1.0).clip(upper=1.0)
    begins, ends = own["first"].fillna(rows["as_of"]), own["last"].fillna(rows["as_of"])
    before = (begins - rows["last_done"]).dt.days.clip(lower=0)
    # An inspection after the log's end starts its clock there.
    after = (rows["as_of"] - ends.where(ends > rows["last_done"], rows["last_done"])).dt.days.clip(lower=0)
    estimate = ((before + after) * pace).fillna(0.0)
    return pd.Series(np.ceil(estimate.to_numpy(float)), rows.index)


def _by_service_days(rows: pd.DataFrame, ahead: UsageAhead) -> Dates:
    left = np.maximum(rows["service_days_left"].to_numpy(float), 0.0)
    return dates_at(ahead, rows["vehicle"].to_numpy(), left, column="service_days")


def _by_calendar(rows: pd.DataFrame) -> pd.Series:
    last, none = rows["last_done"], pd.Series(pd.NaT, index=rows.index, dtype="datetime64[us]")
    by_days = (last + pd.to_timedelta(rows["days"], unit="D")).where(rows["days"].notna(), none)
    by_months = none.copy()
    for months in rows["months"].dropna().unique():
        of_months = rows["months"] == months
        by_months[of_months] = last[of_months] + pd.DateOffset(months=int(months))
    return pd.concat([by_days, by_months], axis=1).min(axis=1)


def _decide(rows: pd.DataFrame, guessed: pd.Series, ran_out: pd.Series) -> pd.DataFrame:
    """Which of the two dates holds, what state the clock is in and why; the soonest first."""
    days = pd.Series(rows["due_by_service_days"], index=rows.index)
    calendar = rows["due_by_calendar"]
    due = pd.concat([days, calendar], axis=1).min(axis=1)
    overdue = (rows["service_days_left"] <= 0) | (calendar <= rows["as_of"])
    rows["due"] = due.where(~overdue, rows["as_of"])
    since = pd.concat([ran_out, calendar.where(calendar <= rows["as_of"])], axis=1).min(axis=1)
    rows["overdue_since"] = since.fillna(rows["as_of"]).where(overdue)
    by_days = ((days <= calendar) | calendar.isna()).where(~overdue, ~(calendar <= rows["overdue_since"]))
    rows["decided_by"] = np.where(rows["due"].isna(), "", np.where(by_days, "service days", "calendar"))
    rows["state"] = np.select(
        [rows["last_done"].isna(), overdue, rows["due"].notna()], [STATES[1], STATES[0], STATES[2]], STATES[3]
    )
    estimate = "some service days are not on record and were estimated carefully"
    note = rows["note"].fillna("").astype(str)
    rows["note"] = note.where(~guessed, (note + "; " + estimate).str.removeprefix("; "))
    rows["source"] = rows["citation"]
    rows["months"] = rows["months"].fillna(np.floor(rows["days"] * 12 / 365.25))
    return soonest_first(rows[COLUMNS])


def soonest_first(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows of :func:`due_dates`: what is overdue first, then by the day on which they fall due."""
    first = rows["state"].map({state: place for place, state in enumerate(STATES)})
    rows = rows.assign(_first=first).sort_values(["_first", "due", "vehicle"], kind="stable")
    return rows[COLUMNS].reset_index(drop=True)
