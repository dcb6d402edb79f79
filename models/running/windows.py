"""When work can be done: lay-ups found in the usage ahead, and windows entered by hand."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from ingest.errors import WrongUsage

IDLE_SHARE = 0.15
"""A month with less than this share of the vehicle's mean running month counts as laid up. [1] Assumption, no
source: a mean of seasons smears the first and last days of each into the month before and after."""
SHORTEST_DAYS = 21
"""A lay-up shorter than this opens nothing. [d] Assumption, no source."""

WINDOW_COLUMNS = ["vehicle", "opens", "closes", "days", "source"]


def lay_ups(
    usage: pd.DataFrame,
    as_of: pd.Timestamp | pd.Series,
    *,
    idle_share: float = IDLE_SHARE,
    shortest_days: int = SHORTEST_DAYS,
) -> pd.DataFrame:
    """Lay-ups of each vehicle over the months of the usage ahead.

    Parameters
    ----------
    usage : as ``models.running.ahead.usage_plan`` gives it.
    as_of : first day that can no longer be worked on, one for all or by vehicle: windows open after it.
    idle_share : share of the mean running month below which a month is laid up. [1], in [0, 1)
    shortest_days : shorter lay-ups are left out. [d]

    Returns
    -------
    vehicle, opens (first day), closes (last day), days, source (``lay-up``); by vehicle and date. A lay-up
    that runs on past the last month of the usage is left out but for one that fills all of the usage: its end
    is not known.
    """
    rows = []
    for vehicle, own in usage.groupby("vehicle", sort=True):
        start = as_of[vehicle] if isinstance(as_of, pd.Series) else as_of
        rows.append(_of_vehicle(str(vehicle), own, pd.Timestamp(start), idle_share))
    laid_up = pd.concat(rows, ignore_index=True) if rows else _empty()
    return laid_up[laid_up["days"] >= shortest_days].reset_index(drop=True)


def by_hand(spans: Sequence[tuple[pd.Timestamp, pd.Timestamp]], vehicles: Sequence[str]) -> pd.DataFrame:
    """Windows stated by hand, for each of the vehicles.

    Raises
    ------
    WrongUsage : a window closes before it opens.
    """
    rows = []
    for opens, closes in spans:
        if closes < opens:
            raise WrongUsage(
                f"Window {opens:%Y-%m-%d}:{closes:%Y-%m-%d}: it closes before it opens. Expected the first"
                " day, then the last; swap them."
            )
        for vehicle in vehicles:
            rows.append((vehicle, opens, closes, (closes - opens).days + 1, "by hand"))
    return _typed(pd.DataFrame(rows, columns=WINDOW_COLUMNS))


def combine(found: pd.DataFrame, stated: pd.DataFrame, as_of: pd.Series) -> pd.DataFrame:
    """Found lay-ups and stated windows together, numbered by vehicle in the order in which they open.

    Parameters
    ----------
    found, stated : columns ``WINDOW_COLUMNS``. A stated window takes the place of lay-ups that it overlaps.
    as_of : by vehicle; windows that close by then are left out, one that is open begins the day after.

    Returns
    -------
    The same columns, ``window`` (1, 2, ... by vehicle) and ``label`` (``Nov 2026 – Mar 2027``).
    """
    kept = [row for row in found.itertuples() if not _overlaps(row, stated)]
    frame = pd.concat([pd.DataFrame(kept, columns=["Index", *WINDOW_COLUMNS])[WINDOW_COLUMNS], stated])
    frame = _typed(frame)
    start = pd.to_datetime(frame["vehicle"].map(as_of)) + pd.Timedelta(days=1)
    frame = frame[frame["closes"] >= start].assign(opens=np.maximum(frame["opens"], start))
    frame["days"] = (frame["closes"] - frame["opens"]).dt.days + 1
    frame = _typed(frame.drop_duplicates(["vehicle", "opens", "closes"]))
    frame = frame.sort_values(["vehicle", "opens", "closes"], ignore_index=True)
    frame["window"] = frame.groupby("vehicle").cumcount() + 1
    frame["label"] = [_label(a, b) for a, b in zip(frame["opens"], frame["closes"], strict=True)]
    return frame


def within(
    windows: pd.DataFrame, as_of: pd.Series, years: float
) -> tuple[pd.DataFrame, dict[str, pd.Timestamp]]:
    """Windows that open within the horizon, and where it ends.

    Parameters
    ----------
    windows : as :func:`combine` gives them.
    as_of : by vehicle.
    years : horizon. [year]

    Returns
    -------
    The windows of the horizon, and by vehicle the opening of the first one after it: up to then the parts
    must last. A vehicle whose windows all lie within has no entry.
    """
    limit = pd.to_datetime(windows["vehicle"].map(as_of)) + pd.Timedelta(days=365.2425 * years)
    inside = windows["opens"] < limit
    after = windows[~inside].groupby("vehicle")["opens"].min()
    return windows[inside].reset_index(drop=True), {str(name): day for name, day in after.items()}


def _of_vehicle(vehicle: str, usage: pd.DataFrame, as_of: pd.Timestamp, idle_share: float) -> pd.DataFrame:
    """Lay-ups of one vehicle; the last month of its usage ends none."""
    miles = usage["miles"].to_numpy(float)
    running = miles[miles > 0]
    if len(running) == 0 or np.isnan(miles).any():
        return _empty()
    idle = miles < idle_share * running.mean()
    month = usage["month"].to_numpy().astype("datetime64[M]")
    edge = np.diff(np.concatenate([[0], idle.astype(int), [0]]))
    first, last = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1) - 1
    whole = last < len(month) - 1
    opens = month[first[whole]].astype("datetime64[D]")
    closes = (month[last[whole]] + 1).astype("datetime64[D]") - np.timedelta64(1, "D")
    opens = np.maximum(opens, np.datetime64(as_of, "D") + np.timedelta64(1, "D"))
    days = (closes - opens).astype(int) + 1
    rows = {"vehicle": vehicle, "opens": opens, "closes": closes, "days": days, "source": "lay-up"}
    return _typed(pd.DataFrame(rows))


def _overlaps(row: object, stated: pd.DataFrame) -> bool:
    own = stated[stated["vehicle"] == row.vehicle]  # type: ignore[attr-defined]
    return bool(((own["opens"] <= row.closes) & (own["closes"] >= row.opens)).any())  # type: ignore[attr-defined]


def _typed(frame: pd.DataFrame) -> pd.DataFrame:
    dates = {"opens": "datetime64[us]", "closes": "datetime64[us]", "days": "int64", "vehicle": "str"}
    return frame.astype(dates).reset_index(drop=True)


def _empty() -> pd.DataFrame:
    return _typed(pd.DataFrame({column: [] for column in WINDOW_COLUMNS}))


def _label(opens: pd.Timestamp, closes: pd.Timestamp) -> str:
    first, last = f"{opens:%b %Y}", f"{closes:%b %Y}"
    if first == last:
        return first
    return f"{opens:%b} – {last}" if opens.year == closes.year else f"{first} – {last}"
