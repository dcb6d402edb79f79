"""The readings of wear points in the order of time, new ones among the stored, on one scale of wear.

On this scale a new part is at 0 and the condemning limit at 1, whatever the quantity.
"""

from collections.abc import Mapping
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.figures import limit
from ingest.look.plausible import is_possible
from ingest.names.points import by_point
from ingest.units import per_unit

Floats = NDArray[np.float64]
Places = NDArray[np.int64]

_READ = ["point", "date", "value", "gauge", "observer", "value_text", "unit", "found_or_left"]
_LEAST = 8  # triples of readings from which the scatter of a point is told
_LEAST_STEPS = 3  # steps from which its pace is
_DAYS_A_YEAR = 365.25
_COARSEST_FRACTION = 1 / 32  # of an inch; common practice, no source: rules are read to that or finer
_APART = 10_000_000  # days: further apart than any two dates
_MEDIAN_TO_SD = 1.4826  # standard deviation of normal errors over the median of their absolute values


def history(
    rows: pd.DataFrame, known: Mapping[str, pd.DataFrame], beside: pd.DataFrame | None = None
) -> pd.DataFrame:
    """All readings of the wear points of some rows, but those that cannot be right (``is_possible``).

    Parameters
    ----------
    rows : new readings, typed, as the store keeps them; their labels are kept as ``at``.
    known : tables that hold: wear_points, readings, work.
    beside : the new readings of all sheets that came together, `rows` among them.

    Returns
    -------
    A row a reading, sorted by point and date:

    point, vehicle, component, quantity, date, gauge, observer; value [base unit]; wear [1]; sd, what a gauge
    scatters, on the scale of wear (wear is NaN without new value and limit); new (bool), of `rows`; at, its
    label, -1 of stored ones; before, after: place of the last reading of an earlier and of the first of a
    later day of the same point, -1 for none; worked (bool): work is on record between the one before and this
    one; not that of its day for one that is told to be as found.
    """
    points = rows["point"].unique()
    stored = known["readings"]
    stored = stored[stored["point"].isin(points)]
    came = rows if beside is None else beside[beside["point"].isin(points)]
    came = came[_READ].assign(new=came.index.isin(rows.index), at=came.index)
    both = pd.concat([stored[_READ].assign(new=False, at=-1), came], ignore_index=True)
    both = both.sort_values(["point", "date", "at"], kind="stable", ignore_index=True)
    about = by_point(known["wear_points"])
    both = both[is_possible(both["point"], both["value"], known)].reset_index(drop=True)
    for name in ("vehicle", "component", "quantity"):
        both[name] = both["point"].map(about[name]).astype(object).fillna("").astype("str")
    fresh = both["point"].map(about["new_value"]).astype("float64")
    span = both["point"].map(about["condemning_limit"]).astype("float64") - fresh
    span = span.mask(span == 0)
    both["wear"] = (both["value"] - fresh) / span
    both["sd"] = (both["point"].map(about["gauge_sd"]).astype("float64") / span.abs()).fillna(
        limit("reading", "gauge_share") / limit("reading", "disagree_after") / np.sqrt(2)
    )
    both["before"], both["after"] = _neighbours(both)
    both["sd"] = np.fmax(np.hypot(both["sd"], _rounding(both) / span.abs()), _scatter(both))
    both["worked"] = _worked(both, known["work"])
    return both


def goes_back(read: pd.DataFrame) -> pd.Series:
    """Whether readings stand nearer to new than the one before by more than gauges scatter.

    Parameters
    ----------
    read : as :func:`history` returns it. Where the reading before is a spike, it is that one that is odd; of
        several of one day the least worn counts.
    """
    before = read["before"].to_numpy()
    step = np.where(before >= 0, _of_day(read, "min")[before] - read["wear"].to_numpy(dtype=float), np.nan)
    back = step > np.fmax(_noise(read), limit("reading", "gauge_share"))
    return pd.Series(back & ~is_spike(read).to_numpy()[before.clip(min=0)], read.index)


def is_spike(read: pd.DataFrame) -> pd.Series:
    """Whether readings stand far beyond the one before, and the next one does not bear them out.

    Parameters
    ----------
    read : as :func:`history` returns it.

    Returns
    -------
    bool, index of `read`: worn on by more than gauges scatter, more than a share of the way from new to the
    limit (``reading.spike_share``, of the newest ``reading.spike_newest``), and several times what the point
    wears in that time, or a part of a usual life where its readings are too few to tell; a later
    reading, where there is one, does not stand there too.
    """
    wear, noise, after = read["wear"].to_numpy(dtype=float), _noise(read), read["after"].to_numpy()
    step, days = _steps(read)
    usual = 1.0 / (limit("reading", "usual_life") * _DAYS_A_YEAR)
    own = _own_pace(read)
    pace = np.where(np.isnan(own), usual, own)
    worn = limit("reading", "spike_times") * np.fmax(pace, 0.0) * days
    share = np.where(after >= 0, limit("reading", "spike_share"), limit("reading", "spike_newest"))
    borne_out = (after >= 0) & (_of_day(read, "max")[after] >= wear - noise)
    return pd.Series((step > share + noise + worn) & ~read["worked"].to_numpy() & ~borne_out, read.index)


def outruns_its_kind(
    read: pd.DataFrame, known: Mapping[str, pd.DataFrame], beside: pd.DataFrame | None
) -> pd.Series:
    """Whether the newest of a point's few readings is far more worn on than the vehicle's parts of its kind.

    Parameters
    ----------
    read, known, beside : as :func:`history` returns and takes them.

    Returns
    -------
    bool, index of `read`: worn on by more than gauges scatter, ``reading.spike_share`` of the way from new to
    the limit, and ``reading.kind_times`` what the fastest of the others, ``reading.kind_points`` at least,
    wears in that time. What a point with more readings wears is told by its own (:func:`is_spike`).
    """
    step, days = _steps(read)
    odd = (read["after"].to_numpy() < 0) & ~read["worked"].to_numpy() & np.isnan(_own_pace(read))
    odd &= step > limit("reading", "spike_share") + _noise(read)
    out = pd.Series(odd, read.index)
    kind = ["vehicle", "component", "quantity"]
    points = by_point(known["wear_points"]).reset_index()
    for names, own in read[odd].groupby(kind):
        others = points[(points[kind] == list(names)).all(axis=1)]["point"]
        worn = _pace_of_others(others, known, beside)
        for at in own.index:
            pace = worn.drop(read.loc[at, "point"], errors="ignore")
            fastest = max(float(pace.max()), 0.0) if len(pace) >= limit("reading", "kind_points") else np.inf
            more = step[at] - limit("reading", "spike_share") - _noise(read)[at]
            out[at] = bool(more > limit("reading", "kind_times") * fastest * days[at])
    return out


def _pace_of_others(
    points: pd.Series, known: Mapping[str, pd.DataFrame], beside: pd.DataFrame | None
) -> pd.Series:
    """Wear a day of points with two readings or more of different days, on the scale of wear."""
    stored = known["readings"]
    stored = stored[stored["point"].isin(points)]
    came = stored.iloc[:0] if beside is None else beside[beside["point"].isin(points)]
    both = pd.concat([stored[_READ], came[_READ]], ignore_index=True)
    read = history(both, {**known, "readings": stored.iloc[:0]})
    step, days = _steps(read)
    # A step back is a renewal, told or not: it says nothing of how fast a part wears.
    worn = (days > 0) & ~read["worked"].to_numpy() & (step >= -_noise(read))
    sums = pd.DataFrame({"step": step, "days": days})[worn].groupby(read["point"].to_numpy()[worn]).sum()
    pace: pd.Series = sums["step"] / sums["days"]
    return pace


def _steps(read: pd.DataFrame) -> tuple[Floats, Floats]:
    """Wear, and days, since the most worn reading of the day before; NaN for a point's first."""
    day, before = _days(read["date"]), read["before"].to_numpy()
    step = np.where(before >= 0, read["wear"].to_numpy(dtype=float) - _of_day(read, "max")[before], np.nan)
    return step, np.where(before >= 0, day - day[before], np.nan)


def _own_pace(read: pd.DataFrame) -> Floats:
    """What the point wears in a day by its own steps; NaN where they are too few."""
    step, days = _steps(read)
    told = (days > 0) & ~read["worked"].to_numpy()
    groups = pd.Series(np.where(told, step / np.fmax(days, 1.0), np.nan)).groupby(read["point"].to_numpy())
    known = groups.transform("count").to_numpy() >= _LEAST_STEPS
    return np.where(known, groups.transform("median").to_numpy(), np.nan)


def _noise(read: pd.DataFrame) -> Floats:
    """What two readings of one size may differ by. [1]"""
    noise: Floats = limit("reading", "unexpected_after") * np.sqrt(2) * read["sd"].to_numpy(dtype=np.float64)
    return noise


def _of_day(read: pd.DataFrame, which: Literal["min", "max"]) -> Floats:
    """Wear of the least or the most worn of the readings of a point and day."""
    wear = read["wear"].to_numpy(dtype=np.float64)
    if not len(wear):
        return wear
    first = _first_of_day(read)
    of_day = (np.fmin if which == "min" else np.fmax).reduceat(wear, np.flatnonzero(first))
    return np.asarray(of_day[np.cumsum(first) - 1], dtype=np.float64)


def _first_of_day(both: pd.DataFrame) -> NDArray[np.bool_]:
    """Whether rows, sorted by point and date, are the first of their point and day."""
    point, day = both["point"].to_numpy(dtype=object), _days(both["date"])
    changed = (point[1:] != point[:-1]) | (day[1:] != day[:-1])
    return np.concatenate([np.ones(1, dtype=bool), changed])[: len(both)]


def _neighbours(both: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    """Place of the nearest reading of an earlier and of a later day of the same point; -1 for none."""
    point, first, place = both["point"].to_numpy(dtype=object), _first_of_day(both), np.arange(len(both))
    starts = np.flatnonzero(first)
    of_day = np.cumsum(first) - 1
    before, after = starts[of_day] - 1, np.r_[starts, len(both)][of_day + 1]
    last = max(len(both) - 1, 0)
    before = np.where((before >= 0) & (point[before.clip(min=0)] == point[place]), before, -1)
    after = np.where((after <= last) & (point[after.clip(max=last)] == point[place]), after, -1)
    return pd.Series(before, both.index), pd.Series(after, both.index)


def _rounding(both: pd.DataFrame) -> pd.Series:
    """Standard deviation of rounding to the steps in which a reading, or the one before, is written. [base]

    Errors spread evenly over a step have its length over sqrt(12).
    """
    steps = written_step(both).fillna(0.0).to_numpy(dtype=np.float64)
    before = both["before"].to_numpy()
    coarser = np.where(before >= 0, np.fmax(steps, steps[before.clip(min=0)]), steps)
    return pd.Series(coarser / np.sqrt(12), both.index)


def written_step(both: pd.DataFrame) -> pd.Series:
    """The finest step in which readings of a point are written, beside each of them. [base unit]

    Parameters
    ----------
    both : point, value_text, unit. Fractions and decimals are taken each for themselves (``3 1/2`` among
        sixty-fourths is 3 32/64), and no fraction is coarser than ``_COARSEST_FRACTION``.
    """
    code, texts = pd.factorize(both["value_text"])
    text = pd.Series(texts, dtype="str").str.normalize("NFKC")
    den = text.str.extract(r"[/⁄]\s*(?P<den>[1-9][0-9]{0,2})(?![0-9])")["den"].astype("float64")
    figures = text.str.extract(r"[.,](?P<figures>[0-9]{1,9})")["figures"].str.len().fillna(0)
    written = (1.0 / den).fillna(10.0 ** -figures.astype("float64"))
    parts, step = (pd.Series(of.to_numpy()[code], both.index) for of in (den, written))
    finest = step.groupby([both["point"], parts.notna()]).transform("min")
    finest = finest.where(parts.isna(), finest.clip(upper=_COARSEST_FRACTION))
    per = both["unit"].map({unit: per_unit(unit) for unit in both["unit"].unique()}).astype("float64")
    return finest * per


def _scatter(both: pd.DataFrame) -> pd.Series:
    """What readings of a point scatter about the line through their neighbours; NaN where too few tell.

    A reading in the middle of three of equal errors lies off the line by a standard deviation of sqrt(1.5)
    of theirs.
    """
    inner = both[(both["before"] >= 0) & (both["after"] >= 0) & both["wear"].notna()]
    if len(inner) < _LEAST:
        return pd.Series(np.nan, both.index)
    before, after = both.iloc[inner["before"]], both.iloc[inner["after"]]
    day = [_days(part["date"]) for part in (before, inner, after)]
    wear = [part["wear"].to_numpy(dtype=float) for part in (before, inner, after)]
    line = wear[0] + (wear[2] - wear[0]) * (day[1] - day[0]) / (day[2] - day[0])
    groups = pd.Series(np.abs(wear[1] - line), inner.index).groupby(inner["point"])
    told = groups.median()[groups.size() >= _LEAST] * _MEDIAN_TO_SD / np.sqrt(1.5)
    return both["point"].map(told).astype("float64")


def _worked(both: pd.DataFrame, work: pd.DataFrame) -> pd.Series:
    """Whether work at the point is on record after the reading before, up to a while after this one, or, of
    one as found, up to the day before it."""
    names = pd.Index(both["point"].unique())
    work = work[work["point"].isin(names)]
    if work.empty:
        return pd.Series(False, both.index)
    done = np.sort(names.get_indexer(work["point"]) * _APART + _days(work["date"]))
    own = names.get_indexer(both["point"]) * _APART
    day, before = _days(both["date"]), both["before"].to_numpy()
    since = own + np.where(before >= 0, day[before], 0.0)
    found = (both["found_or_left"] == "found").to_numpy()  # before the work of its day, whatever that was
    until = own + day + np.where(found, -1.0, limit("reading", "work_noted_within"))
    first = np.searchsorted(done, since, side="left")
    return pd.Series(np.searchsorted(done, until, side="right") > first, both.index)


def point_days(point: Places, day: Places) -> Places:
    """One number for a wear point's own and a day, in order of point and day: no two points come near."""
    return point * _APART + day


def points_and_days(names: pd.Index, frame: pd.DataFrame) -> tuple[Places, Places]:
    """Of rows with point and date: the place of the point among ``names``, and the day since 1970-01-01."""
    days = frame["date"].to_numpy(dtype="datetime64[D]").astype(np.int64)
    return np.asarray(names.get_indexer(pd.Index(frame["point"])), dtype=np.int64), days


def _days(dates: pd.Series) -> Floats:
    """Days since a day before all railways."""
    first = np.datetime64("1700-01-01", "D")
    days: Floats = (dates.to_numpy(dtype="datetime64[D]") - first).astype(np.float64)
    return days
