"""The mileage log: one count of miles across instruments, trips and gaps, and any date placed in it.

An odometer counts on until it is replaced or rolls over; a sheet of trips gives distances only. Here both
become one count of miles for the vehicle. What is not on record (miles run while no instrument counted) is
estimated from how the vehicle ran otherwise, marked, and its uncertainty carried along.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.store.unlogged import days_of as _days
from ingest.store.unlogged import run_since_last_entry
from ingest.units import DISTANCE_MI

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DAYS_PER_MONTH = 30.44
MI_PER_KM = DISTANCE_MI["km"]


SOURCES = ["read", "interpolated", "estimated", "last entry"]
"""Where the odometer of a reading comes from; ``last entry``: the log ends before it, so it has that of its
last entry."""


def carry_on(log: pd.DataFrame) -> pd.DataFrame:
    """Count the miles of each vehicle on across changes of its odometer.

    Parameters
    ----------
    log : rows of the mileage table: vehicle, date, odometer_read [mi], unit, service_days, distance [mi],
        event.

    Returns
    -------
    The log sorted by vehicle and date, with ``odometer`` [mi], ``odometer_source`` (read, or estimated where
    it stands before miles that are not on record) and ``odometer_sd`` [mi].

    Notes
    -----
    Between odometer entries trip distances add up from the entry before, never past the entry after. A
    roll-over adds the next power of ten in the instrument's own unit. At a replacement the row's ``distance``
    is the miles since the entry before; where it is empty they are estimated (:func:`_missing_miles`).
    ``odometer_sd`` is counted from the end of the log: it is 0 after the last stretch without a record, and
    before it the root of the summed variances of such stretches.
    """
    log = log.sort_values(["vehicle", "date"], kind="stable", ignore_index=True)
    if log.empty:
        nothing = pd.Series([], dtype="float64")
        return log.assign(odometer=nothing, odometer_source=pd.Series([], dtype="str"), odometer_sd=nothing)
    vehicle = pd.factorize(log["vehicle"])[0]
    change = log["event"].to_numpy() != ""
    first = np.r_[True, vehicle[1:] != vehicle[:-1]]
    segment = np.cumsum(change | first) - 1
    shown = _shown(log, segment)
    offset, variance = _offsets(log, shown, segment, first)
    later = _sum_after(variance, vehicle[_starts(segment)])[segment]
    source = np.where(later > 0, "estimated", "read")
    return log.assign(
        odometer=shown + offset[segment],
        odometer_source=pd.Series(source, dtype="str"),
        odometer_sd=np.sqrt(later),
    )


def place(readings: pd.DataFrame, log: pd.DataFrame) -> pd.DataFrame:
    """Give every reading its odometer.

    Parameters
    ----------
    readings : vehicle, date, odometer_read [mi] (what the instrument showed; NaN where none was noted).
    log : as :func:`carry_on` returns it.

    Returns
    -------
    Frame with the index of ``readings``: odometer [mi], odometer_source (read, interpolated, estimated, last
    entry), odometer_sd [mi]. An odometer that cannot be known (none noted, no log or date before it) is NaN.

    Notes
    -----
    A noted odometer is put on the vehicle's one count by the instrument in use on that day. Without one,
    miles are interpolated between the entries on either side. Of the gap of g miles the share p is expected
    by then; if the running fell in n lumps, each as likely on any day, the share run has the variance
    p (1 - p) / n (binomial), so sd = g sqrt(p (1 - p) / n). n is the number of service days where the
    log has it, but at most one a month: running comes in seasons, and n too large would be too sure.
    An engine that stands has no new entry: after the last one a reading has that of the last entry, and what
    the vehicle runs then in other years is its doubt (``ingest.verdicts.odometers`` asks where that is much).
    """
    date = _days(readings["date"])
    before, after, known = _neighbours(readings["vehicle"], date, log)
    log_day, log_odo, log_sd = _entries(log)
    inside = known & (log_day[before] <= date) & (log_day[after] >= date)
    span = log_day[after] - log_day[before]
    share = np.divide(date - log_day[before], span, out=np.ones(len(date)), where=span > 0)
    gap = log_odo[after] - log_odo[before]
    between = log_odo[before] + share * gap
    sd = np.hypot(gap * np.sqrt(share * (1 - share) / _lumps(log, after, span)), log_sd[before])
    read = _floats(readings["odometer_read"])
    own = ~np.isnan(read)
    late = known & ~own & (log_day[after] < date)
    on_count = read + _offset_on(read, before, date, known, log)
    odometer = np.where(own, on_count, np.where(inside, between, np.where(late, log_odo[before], np.nan)))
    common = np.where(known, log_sd[before], 0.0)
    source = np.where(own, 0, np.where(known & (log_sd[before] > log_sd[after]), 2, 1))
    source[late] = SOURCES.index("last entry")
    sd = np.where(late, _run_unlogged(readings[["vehicle", "date"]], late, log), sd)
    return pd.DataFrame(
        {
            "odometer": odometer,
            "odometer_source": pd.Series(SOURCES, dtype="str").array.take(source),
            "odometer_sd": np.where(own, common, np.where(inside | late, sd, np.nan)),
        },
        index=readings.index,
    )


def _entries(log: pd.DataFrame) -> tuple[Floats, Floats, Floats]:
    """Day, odometer and its spread of each entry; one of zeros where there is none, to be pointed at."""
    if not len(log):
        return np.zeros(1), np.zeros(1), np.zeros(1)
    return _days(log["date"]), _floats(log["odometer"]), _floats(log["odometer_sd"])


def instruments(vehicles: pd.Series, dates: pd.Series, log: pd.DataFrame) -> pd.DataFrame:
    """The instrument of each vehicle on each date, by which its miles and what it shows are told apart.

    Parameters
    ----------
    vehicles, dates : of one index. On the day of a change it is the new instrument.
    log : as :func:`carry_on` returns it.

    Returns
    -------
    Index of ``dates``: offset (count less figure shown [mi], 0 without a log), unit (mi or km, in which it
    shows), last_date, last_shown (last entry on or before the date that notes a figure, in its unit; NaT, NaN
    where there is none). :func:`shown` and :func:`counted` turn the one into the other.
    """
    before, _, known = _neighbours(vehicles, _days(dates), log)
    if not len(log):
        nothing = {"offset": 0.0, "unit": "mi", "last_date": pd.NaT, "last_shown": np.nan}
        return pd.DataFrame(nothing, index=dates.index).astype({"last_date": "datetime64[us]"})
    known = known & (_days(log["date"])[before] <= _days(dates))
    noted = pd.Series(np.where(log["odometer_read"].notna(), np.arange(len(log)), np.nan))
    last = _floats(noted.groupby(_instrument_numbers(log)).ffill())[before]
    row = np.nan_to_num(last).astype(np.int64)
    out = pd.DataFrame(
        {
            "offset": np.where(known, _instrument_offsets(log)[before], 0.0),
            "unit": np.where(known, log["unit"].to_numpy(dtype=object)[before], "mi"),
            "last_date": log["date"].to_numpy()[row],
            "last_shown": _floats(log["odometer_read"])[row],
        },
        index=dates.index,
    )
    out["last_shown"] /= _mi_per(out["unit"])
    out.loc[~(known & np.isfinite(last)), ["last_date", "last_shown"]] = (pd.NaT, np.nan)
    return out


def shown(miles: pd.Series, instrument: pd.DataFrame) -> pd.Series:
    """What instruments of :func:`instruments` show, each in its own unit, at miles of the vehicle's count."""
    return (miles - instrument["offset"]) / _mi_per(instrument["unit"])


def counted(figure: pd.Series, instrument: pd.DataFrame) -> pd.Series:
    """Miles of the vehicle's count at which instruments show figures in their own units: undoes ``shown``."""
    return figure * _mi_per(instrument["unit"]) + instrument["offset"]


def _mi_per(unit: pd.Series) -> pd.Series:
    return unit.map(DISTANCE_MI).astype("float64")


def _run_unlogged(readings: pd.DataFrame, late: NDArray[np.bool_], log: pd.DataFrame) -> Floats:
    """Miles that the log's seasons expect between its end and each late reading, else 0. [mi]"""
    miles = np.zeros(len(readings))
    if late.any():
        since = run_since_last_entry(readings.loc[late, "vehicle"], readings.loc[late, "date"], log)
        miles[late] = np.nan_to_num(_floats(since["miles"]))
    return miles


def bracket(vehicles: pd.Series, dates: pd.Series, log: pd.DataFrame) -> pd.DataFrame:
    """Odometer of the log entries on either side of each date; NaN where there is none on that side. [mi]"""
    date = _days(dates)
    before, after, known = _neighbours(vehicles, date, log)
    if not len(log):
        nothing = np.full(len(date), np.nan)
        return pd.DataFrame({"low": nothing, "high": nothing}, index=dates.index)
    day, odometer = _days(log["date"]), _floats(log["odometer"])
    return pd.DataFrame(
        {
            "low": np.where(known & (day[before] <= date), odometer[before], np.nan),
            "high": np.where(known & (day[after] >= date), odometer[after], np.nan),
        },
        index=dates.index,
    )


def _floats(column: pd.Series) -> Floats:
    return column.to_numpy(dtype=np.float64)


def _starts(segment: Ints) -> Ints:
    return np.flatnonzero(np.r_[True, segment[1:] != segment[:-1]])


def _shown(log: pd.DataFrame, segment: Ints) -> Floats:
    """What the instrument of the segment showed, or would have, at each row. [mi]"""
    read = _floats(log["odometer_read"])
    anchor = ~np.isnan(read)
    trip = np.where(anchor, 0.0, np.nan_to_num(_floats(log["distance"])))
    total = pd.Series(trip).groupby(segment).cumsum()
    level = pd.Series(np.where(anchor, read - total, np.nan))
    groups = level.groupby(segment)
    # Rows before the first entry of their segment count back from it; a segment of trips only starts at 0.
    shown = _floats(groups.ffill().fillna(groups.bfill()).fillna(0.0)) + _floats(total)
    ceiling = pd.Series(np.where(anchor, read, np.nan)).groupby(segment).bfill()
    return np.fmin(shown, _floats(ceiling))


def _offsets(log: pd.DataFrame, shown: Floats, segment: Ints, first: NDArray) -> tuple[Floats, Floats]:
    """Miles to add in each segment, and the variance of the miles not on record before it. [mi], [mi^2]"""
    starts = _starts(segment)
    step, variance = np.zeros(len(starts)), np.zeros(len(starts))
    distance = _floats(log["distance"])
    for k in np.flatnonzero(~first[starts]):  # changes of instrument: a handful in a vehicle's life
        row = starts[k]
        if log["event"].iloc[row] == "rolled_over":
            per_unit = MI_PER_KM if log["unit"].iloc[row] == "km" else 1.0
            last = max(shown[row - 1] / per_unit, 1.0)
            step[k] = 10.0 ** np.ceil(np.log10(last + 0.5)) * per_unit
            continue
        run, var = distance[row], 0.0
        if np.isnan(run):
            run, var = _missing_miles(log, shown, segment, row)
        step[k], variance[k] = shown[row - 1] + run - shown[row], var
    total = np.cumsum(step)
    base = np.maximum.accumulate(np.where(first[starts], np.arange(len(starts)), 0))
    return total - total[base], variance


def _missing_miles(log: pd.DataFrame, shown: Floats, segment: Ints, row: int) -> tuple[float, float]:
    """Miles run between a row and the one before, from the other running of the vehicle, and the variance.

    Each calendar month runs on average what the vehicle's log shows for that month of the year; the spread
    is that of its yearly totals. A log of less than two years teaches no spread: the standard deviation is
    then as large as the estimate.
    """
    day = _days(log["date"])
    own = log["vehicle"].to_numpy() == log["vehicle"].iloc[row]
    pieces = [np.flatnonzero(own & (segment == k)) for k in np.unique(segment[own])]
    days, miles = [], []
    for piece in pieces:
        if len(piece) > 1:
            grid = np.arange(day[piece[0]], day[piece[-1]] + 1)
            days.append(grid[1:])
            miles.append(np.diff(np.interp(grid, day[piece], shown[piece])))
    span = np.arange(day[row - 1] + 1, day[row] + 1)
    if not days or not len(span):
        return 0.0, 0.0
    all_days, all_miles = np.concatenate(days), np.concatenate(miles)
    month, wanted = _month(all_days), _month(span)
    n, run = np.bincount(month, minlength=12), np.bincount(month, all_miles, minlength=12)
    rate = np.where(n > 0, run / np.maximum(n, 1), all_miles.mean())
    estimate = float(rate[wanted].sum())
    year = (all_days // 365.25).astype(np.int64)
    year -= year.min()
    yearly = np.bincount(year, all_miles)[np.bincount(year) >= 300]
    if len(yearly) < 2:
        return estimate, estimate**2
    return estimate, float(np.var(yearly, ddof=1)) * len(span) / 365.25


def _month(days: Floats) -> Ints:
    return days.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % 12


def _sum_after(variance: Floats, vehicle: Ints) -> Floats:
    """Sum of the variances of later segments of the same vehicle."""
    back = pd.Series(variance[::-1]).groupby(vehicle[::-1]).cumsum().to_numpy()[::-1]
    return np.maximum(back - variance, 0.0)


def _neighbours(vehicles: pd.Series, date: Floats, log: pd.DataFrame) -> tuple[Ints, Ints, NDArray]:
    """Rows of the log at or before and at or after each date, held to the vehicle's first and last row."""
    names = pd.Index(log["vehicle"].unique())
    code = names.get_indexer(vehicles)
    if not len(log):
        return np.zeros(len(date), np.int64), np.zeros(len(date), np.int64), np.zeros(len(date), bool)
    row_code = names.get_indexer(log["vehicle"])
    scale = 1e6  # days: further apart than any two dates
    key = row_code * scale + _days(log["date"])
    end = np.cumsum(np.bincount(row_code))
    first, last = np.append(0, end[:-1])[code], end[code] - 1
    wanted = code * scale + date
    before = np.searchsorted(key, wanted, side="right") - 1
    after = np.searchsorted(key, wanted, side="left")
    known = code >= 0
    low, high = np.where(known, first, 0), np.where(known, last, 0)
    return np.clip(before, low, high), np.clip(after, low, high), known


def _lumps(log: pd.DataFrame, after: Ints, span: Floats) -> Floats:
    if not len(log):
        return np.ones(len(after))
    service = _floats(log["service_days"])[after]
    most = np.maximum(span / DAYS_PER_MONTH, 1.0)
    return np.clip(np.where(np.isnan(service), np.inf, service), 1.0, most)


def _offset_on(read: Floats, before: Ints, date: Floats, known: NDArray, log: pd.DataFrame) -> Floats:
    """Count minus figure shown, for the instrument in use on that day; on the day of a change, the nearer."""
    if not len(log):
        return np.zeros(len(read))
    offset = _instrument_offsets(log)
    day, odometer = _days(log["date"]), _floats(log["odometer"])
    current = offset[before]
    previous = offset[np.maximum(before - 1, 0)]
    changed = (day[before] == date) & (log["event"].to_numpy()[before] != "")
    target = odometer[before]
    nearer = np.abs(read + previous - target) < np.abs(read + current - target)
    return np.where(known, np.where(changed & nearer, previous, current), 0.0)


def _instrument_offsets(log: pd.DataFrame) -> Floats:
    difference = pd.Series(_floats(log["odometer"]) - _floats(log["odometer_read"]))
    groups = difference.groupby(_instrument_numbers(log))
    return _floats(groups.ffill().fillna(groups.bfill()).fillna(0.0))


def _instrument_numbers(log: pd.DataFrame) -> Ints:
    """A number of its own for each instrument of each vehicle."""
    vehicle = pd.factorize(log["vehicle"])[0]
    change = log["event"].to_numpy() != ""
    return np.cumsum(change | np.r_[True, vehicle[1:] != vehicle[:-1]])
