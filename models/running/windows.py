"""When work can be done: lay-ups found in the usage ahead, and windows entered by hand."""

from collections.abc import Collection, Sequence

import numpy as np
import pandas as pd

from ingest.errors import WrongUsage

IDLE_SHARE = 0.15
"""A month with less than this share of the vehicle's mean running month counts as laid up. [1] Assumption, no
source: a mean of seasons smears the first and last days of each into the month before and after."""
SHORTEST_DAYS = 21
"""A lay-up shorter than this opens nothing. [d] Assumption, no source."""

SHORT_RUN_SHARE = 0.15
"""Running between two lay-ups that takes less than this share of a year's miles lies within the winter, as
trains in December do. [1] Assumption, no source."""
SHORT_RUN_DAYS = 62
"""Longer stretches of running are seasons of their own. [d] Assumption, no source."""
MONTHS_AFTER = 3
"""Months after a window that tell how many of its days a season runs."""

WINDOW_COLUMNS = ["vehicle", "opens", "closes", "days", "source"]
RUN_COLUMNS = ["run_days_inside", "run_share_after"]
"""Columns that :func:`with_running` adds: days in service that lie between the first and the last day of a
window [d], and days in service to a day of the months after it, in which the season's work would be lost
[1]."""


def lay_ups(
    usage: pd.DataFrame,
    as_of: pd.Timestamp | pd.Series,
    *,
    idle_share: float = IDLE_SHARE,
    shortest_days: int = SHORTEST_DAYS,
    lying_open: Collection[str] = (),
) -> pd.DataFrame:
    """Lay-ups of each vehicle over the months of the usage ahead.

    Parameters
    ----------
    usage : as ``models.running.ahead.usage_plan`` gives it.
    as_of : first day that can no longer be worked on, one for all or by vehicle: windows open after it.
    idle_share : share of the mean running month below which a month is laid up. [1], in [0, 1)
    shortest_days : shorter lay-ups are left out. [d]
    lying_open : vehicles that lie open at as-of: what is left of their lay-up counts however short, as it is
        under way.

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
    day = laid_up["vehicle"].map(as_of) if isinstance(as_of, pd.Series) else as_of
    begun = laid_up["opens"] == pd.to_datetime(day) + pd.Timedelta(days=1)
    under_way = laid_up["vehicle"].isin(list(lying_open)) & begun & (laid_up["days"] > 0)
    enough = (laid_up["days"] >= shortest_days) | under_way
    return laid_up[enough].reset_index(drop=True)


def vehicles_lying_open(openings: pd.DataFrame, as_of: pd.Series) -> list[str]:
    """Vehicles that lie open at as-of, by name.

    Parameters
    ----------
    openings : table of the store: vehicle, since, until (NaT while it is open). as_of : by vehicle.
    """
    day = openings["vehicle"].map(as_of)
    ends = openings["until"].fillna(pd.Timestamp.max.as_unit("us"))
    return sorted(set(openings.loc[(openings["since"] <= day) & (ends > day), "vehicle"].astype(str)))


def winters(found: pd.DataFrame, usage: pd.DataFrame) -> pd.DataFrame:
    """Lay-ups put together to whole winters: a winter is the stretch between two running seasons.

    Parameters
    ----------
    found : as :func:`lay_ups` gives them.
    usage : as ``models.running.ahead.usage_plan`` gives it.

    Returns
    -------
    The same columns; ``days`` is the longest stretch of a winter in which nothing is run.
    """
    rows: list[tuple[str, pd.Timestamp, pd.Timestamp, int, str]] = []
    for vehicle, own in found.groupby("vehicle", sort=True):
        run = usage[usage["vehicle"] == vehicle]
        year = 12.0 * float(run["miles"].mean())
        first = len(rows)
        for row in own.sort_values("opens").to_dict("records"):
            opens, closes, days = row["opens"], row["closes"], int(row["days"])
            if len(rows) > first and _is_short(run, rows[-1][2], opens, year):
                before = rows[-1]
                rows[-1] = (before[0], before[1], closes, max(before[3], days), before[4])
            else:
                rows.append((str(vehicle), opens, closes, days, str(row["source"])))
    return _typed(pd.DataFrame(rows, columns=WINDOW_COLUMNS))


def _is_short(usage: pd.DataFrame, closes: pd.Timestamp, opens: pd.Timestamp, year: float) -> bool:
    """Whether the running from the end of one lay-up to the next is no season of its own."""
    between = usage[(usage["month"] > closes) & (usage["month"] < opens)]
    return (opens - closes).days - 1 <= SHORT_RUN_DAYS and between["miles"].sum() < SHORT_RUN_SHARE * year


def with_running(windows: pd.DataFrame, usage: pd.DataFrame) -> pd.DataFrame:
    """Windows with ``RUN_COLUMNS``: what running the work may cost.

    Parameters
    ----------
    windows : vehicle, opens, closes.
    usage : vehicle, month, service_days. Where no service days are known, every day counts as one that would
        have been run.
    """
    inside, after = [], []
    for row in windows[["vehicle", "opens", "closes"]].itertuples(index=False):
        run = usage[usage["vehicle"] == row.vehicle]
        within_it = run[(run["month"] > row.opens) & (run["month"] <= row.closes)]
        following = run[run["month"] > row.closes].head(MONTHS_AFTER)
        length = following["month"].dt.days_in_month.sum()
        days = following["service_days"].sum() if following["service_days"].notna().all() else length
        inside.append(float(within_it["service_days"].fillna(within_it["month"].dt.days_in_month).sum()))
        after.append(min(float(days) / length, 1.0) if length else 1.0)
    return windows.assign(run_days_inside=inside, run_share_after=after)


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
    frame["days"] = np.minimum(frame["days"], (frame["closes"] - frame["opens"]).dt.days + 1)
    frame = _typed(frame.drop_duplicates(["vehicle", "opens", "closes"]))
    frame = frame.sort_values(["vehicle", "opens", "closes"], ignore_index=True)
    frame["window"] = frame.groupby("vehicle").cumcount() + 1
    frame["label"] = [label_of_days(a, b) for a, b in zip(frame["opens"], frame["closes"], strict=True)]
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
    limit = pd.to_datetime(windows["vehicle"].map(as_of)) + span_of(years)
    inside = windows["opens"] < limit
    after = windows[~inside].groupby("vehicle")["opens"].min()
    return windows[inside].reset_index(drop=True), {str(name): day for name, day in after.items()}


def span_of(years: float) -> pd.Timedelta:
    """So many years from an as-of day on."""
    return pd.Timedelta(days=365.2425 * years)


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


def label_of_days(opens: pd.Timestamp, closes: pd.Timestamp) -> str:
    """A stretch of days as people name it: ``Nov 2026 – Mar 2027``."""
    first, last = f"{opens:%b %Y}", f"{closes:%b %Y}"
    if first == last:
        return first
    return f"{opens:%b} – {last}" if opens.year == closes.year else f"{first} – {last}"
