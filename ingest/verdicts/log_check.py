"""Which new entries of a mileage log fit the entries around them."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.figures import limit
from ingest.problems import Problems
from ingest.store.mileage import MI_PER_KM
from ingest.store.unlogged import US_PER_DAY

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_LOOK_BACK = 400  # entries; more in a row are not all misread, and a chain goes on from any of them
_SLACK_MI = 0.5  # half of the last figure: two entries of one day may be rounded differently


def check_log(new: pd.DataFrame, stored: pd.DataFrame, found: pd.Series, problems: Problems) -> None:
    """Hold back new entries whose odometer goes back or gains more than a vehicle can run.

    Parameters
    ----------
    new, stored : rows of the mileage table as kept, distances in miles; index of ``new`` = row labels.
        Stored entries stand; of new ones as many are kept as fit together, so one misread figure does not
        bring down the entries that follow it.
    found : what the odometer cell said, by row label.
    problems : reasons are added here.
    """
    _check_each(new, found, problems)
    new = new[~new.index.isin(problems.rows()) & new["date"].notna()]
    if new.empty:
        return
    both = pd.concat([stored.assign(_new=False, _at=-1), new.assign(_new=True, _at=new.index)])
    both = both[both["vehicle"].isin(new["vehicle"].unique())]
    both = both.sort_values(["vehicle", "date", "_new"], kind="stable", ignore_index=True)
    _check_rollovers(both, found, problems)
    both = both[both["odometer_read"].notna() & ~(both["_new"] & both["_at"].isin(problems.rows()))]
    vehicle = pd.factorize(both["vehicle"])[0]
    segment = np.cumsum(
        (both["event"] != "").to_numpy() | np.r_[True, vehicle[1:] != vehicle[:-1]][: len(both)]
    )
    day = both["date"].to_numpy(dtype="datetime64[us]").astype(np.int64) / US_PER_DAY
    odometer = both["odometer_read"].to_numpy(dtype=np.float64)
    next_to = segment[1:] == segment[:-1]
    bad = next_to & ~_follows(day[:-1], odometer[:-1], day[1:], odometer[1:])
    for number in np.unique(segment[1:][bad]):  # only stretches that hold a contradiction
        part = np.flatnonzero(segment == number)
        kept = _kept(day[part], odometer[part], both["_new"].to_numpy()[part])
        _explain(both.iloc[part], kept, found, problems)


def _check_each(new: pd.DataFrame, found: pd.Series, problems: Problems) -> None:
    nothing = new["odometer_read"].isna() & new["distance"].isna()
    read_badly = problems.has("odometer", new.index) | problems.has("distance", new.index)
    words = "the entry has neither an odometer nor a distance; write one of them"
    problems.where(nothing & ~read_badly, "odometer", found, words)
    words = "the odometer is negative"
    problems.where(new["odometer_read"] < 0, "odometer", found, words)
    lacks = (new["event"] != "") & new["odometer_read"].isna() & ~nothing
    problems.where(
        lacks, "odometer", found, "write what the odometer showed after it was replaced or rolled over"
    )


def _check_rollovers(both: pd.DataFrame, found: pd.Series, problems: Problems) -> None:
    """A roll-over shows less than before, and between the two figures lies no more than can be run."""
    previous = both["odometer_read"].groupby(both["vehicle"]).ffill().groupby(both["vehicle"]).shift()
    before = both["date"].groupby(both["vehicle"]).shift()
    rolled = (both["event"] == "rolled_over") & both["_new"]
    if not rolled.any():
        return
    per_unit = pd.Series(np.where(both["unit"] == "km", MI_PER_KM, 1.0), both.index)
    whole = 10.0 ** np.ceil(np.log10((previous / per_unit).clip(lower=1.0) + 0.5)) * per_unit
    run = whole - previous + both["odometer_read"]
    most = limit("mileage", "most_per_day") * ((both["date"] - before).dt.days.clip(lower=1))
    wrong = rolled & ~((both["odometer_read"] < previous) & (run <= most))
    if wrong.any():
        labels = pd.Index(both.loc[wrong, "_at"])
        words = "an odometer that rolled over passes its last figure; the entry before it does not fit that"
        problems.add(labels, "event", found.reindex(labels), words)


def _follows(day: Floats, odometer: Floats, next_day: Floats, next_odometer: Floats) -> Bools:
    """Whether a later entry can follow an earlier one."""
    gain = next_odometer - odometer
    return (gain >= -_SLACK_MI) & (gain <= limit("mileage", "most_per_day") * np.maximum(next_day - day, 1.0))


def _kept(day: Floats, odometer: Floats, new: Bools) -> Bools:
    """Stored entries, and the largest set of new ones that fits them and each other.

    Fitting is transitive, so entries that fit one after the other all fit together; the longest such chain
    is found from the front, as a longest non-decreasing subsequence is.
    """
    kept = ~new
    fixed = np.flatnonzero(~new)
    order = np.arange(len(day))
    fits = np.ones(len(day), dtype=bool)
    if len(fixed):
        before = np.searchsorted(fixed, order, side="right") - 1
        after = np.searchsorted(fixed, order, side="left")
        left, right = fixed[np.maximum(before, 0)], fixed[np.minimum(after, len(fixed) - 1)]
        fits &= (before < 0) | _follows(day[left], odometer[left], day, odometer)
        fits &= (after >= len(fixed)) | _follows(day, odometer, day[right], odometer[right])
    open_ = np.flatnonzero(new & fits)
    length, came_from = np.ones(len(open_), dtype=int), np.full(len(open_), -1)
    for i in range(1, len(open_)):
        start = max(0, i - _LOOK_BACK)
        earlier, entry = open_[start:i], open_[i]
        follows = _follows(day[earlier], odometer[earlier], day[entry], odometer[entry])
        linked = np.where(follows, length[start:i], 0)
        best = i - 1 - int(np.argmax(linked[::-1]))  # of equals the nearest
        if linked[best - start] > 0:
            length[i], came_from[i] = linked[best - start] + 1, best
    last = int(np.argmax(length)) if len(open_) else -1
    while last >= 0:
        kept[open_[last]] = True
        last = int(came_from[last])
    return kept


def _explain(part: pd.DataFrame, kept: Bools, found: pd.Series, problems: Problems) -> None:
    """A reason for every entry that was not kept; it names the entries kept on either side."""
    good, bad = np.flatnonzero(kept), np.flatnonzero(~kept)
    if not len(bad):
        return
    entry = part["odometer_read"].map("{:,.0f} mi on ".format) + part["date"].dt.strftime("%Y-%m-%d")
    entry = entry + " (" + part["source_file"] + ", row " + part["source_row"].astype("str") + ")"
    names = np.append(entry.to_numpy(dtype=object)[good], "nothing")
    after = np.searchsorted(good, bad)
    before = np.where(after > 0, after - 1, len(good))
    around = (
        pd.Series(names[before]) + " before and " + pd.Series(names[np.minimum(after, len(good))]) + " after"
    )
    words = (
        "the odometer does not fit the entries around it: "
        + around
        + ". Correct it; if the odometer was replaced or rolled over, write replaced or rolled_over in the "
        "column event"
    )
    labels = pd.Index(part["_at"].to_numpy()[bad])
    problems.add(labels, "odometer", found.reindex(labels), words)
