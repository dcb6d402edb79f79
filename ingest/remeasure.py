"""Readings that the forecast before them did not expect: stored as they are, and marked to be measured again.

Nothing is set aside here. A reading that stands far off is marked until another of the same point settles it:
one that stands off alike confirms it, a later one that stands where it was expected does not.
"""

import numpy as np
import pandas as pd

from ingest.plausible import limit
from ingest.store import Store

AS_EXPECTED, AGAIN, CONFIRMED, NOT_CONFIRMED = "as expected", "measure again", "confirmed", "not confirmed"

_Z_90 = 1.2815515655446004  # normal 90 % quantile


def unexpected(store: Store, version: int | None = None) -> pd.DataFrame:
    """Marked readings of a store: each against the newest forecast that was made before it came in.

    Parameters
    ----------
    store : the store.
    version : data version to look at; None for now.

    Returns
    -------
    Rows of :func:`measure_again` that are not as expected, with row_id, newest first.
    """
    runs = store.runs("forecast")
    tables = store.read_all("readings", "wear_points", version=version)
    readings, points = tables["readings"], tables["wear_points"]
    newest = runs.drop_duplicates("data_version").sort_values("data_version", ignore_index=True)
    at = np.searchsorted(newest["data_version"], readings["batch"], side="left") - 1
    parts = []
    for i, run_id in enumerate(newest["run_id"]):
        mine = at == i
        if mine.any():
            path = store.read_run(run_id, "path")
            first = measure_again(readings[mine], path, points)
            # What came after later forecasts may settle it too, held against this one.
            marked = readings["point"].isin(first.loc[first["state"] != AS_EXPECTED, "point"])
            after = readings[(at >= i) & marked]
            found = measure_again(after, path, points).assign(row_id=after["row_id"])
            parts.append(found[found.index.isin(readings.index[mine])])
    if not parts:
        return measure_again(readings.iloc[:0], _no_path(), points).assign(row_id=readings["row_id"].iloc[:0])
    every = pd.concat(parts)
    return every.loc[every["state"] != AS_EXPECTED].sort_values("date", ascending=False, ignore_index=True)


def measure_again(readings: pd.DataFrame, path: pd.DataFrame, points: pd.DataFrame) -> pd.DataFrame:
    """Compare readings with what a forecast expected at their miles.

    Parameters
    ----------
    readings : point, date, value [base unit], odometer [mi]; readings that the forecast did not know.
    path : of the forecast's run: point, odometer [mi], p10, p50, p90 [the point's own unit]. Between its
        steps it is taken straight; beyond its ends nothing is expected.
    points : point, new_value, condemning_limit, gauge_sd [base unit], per_base.

    Returns
    -------
    Index of ``readings``: point, date, value, expected, expected_sd [the point's own unit], state. Spread:
    that of the path (p90 - p10 over 2 x 1.28) and of the gauge, added as variances.
    """
    about = points.drop_duplicates("point", keep="last").set_index("point")
    per_base = readings["point"].map(about["per_base"]).astype("float64")
    span = readings["point"].map((about["condemning_limit"] - about["new_value"]).abs()).astype("float64")
    gauge = readings["point"].map(about["gauge_sd"]).astype("float64")
    gauge = gauge.fillna(limit("reading", "gauge_share") / limit("reading", "disagree_after") * span).fillna(
        0.0
    )
    out = readings[["point", "date"]].assign(value=readings["value"] * per_base)
    low, out["expected"], high = (_along(readings, path, name) for name in ("p10", "p50", "p90"))
    out["expected_sd"] = np.hypot((high - low) / (2 * _Z_90), gauge * per_base)
    off = (out["value"] - out["expected"]) / out["expected_sd"].where(out["expected_sd"] > 0)
    far = off.abs() > limit("reading", "unexpected_after")
    out["state"] = pd.Series(np.where(far, AGAIN, AS_EXPECTED), index=out.index, dtype="str")
    apart = limit("reading", "disagree_after") * np.sqrt(2) * gauge * per_base
    return _settled(out, out["value"] - out["expected"], apart)


def _along(readings: pd.DataFrame, path: pd.DataFrame, name: str) -> pd.Series:
    """A quantile of the path at each reading's miles; NaN beyond its ends and for points without a path."""
    path = path.sort_values(["point", "odometer"], kind="stable")
    names = pd.Index(path["point"].unique())
    code, own = names.get_indexer(readings["point"]), names.get_indexer(path["point"])
    stride = 1e9  # miles: further apart than any two odometers
    at = code * stride + readings["odometer"].to_numpy(dtype=np.float64)
    axis = own * stride + path["odometer"].to_numpy(dtype=np.float64)
    if not len(axis):
        return pd.Series(np.nan, readings.index)
    after = np.clip(np.searchsorted(axis, at, side="left"), 0, len(axis) - 1)
    before = np.clip(np.searchsorted(axis, at, side="right") - 1, 0, len(axis) - 1)
    inside = (
        (code >= 0)
        & (own[after] == code)
        & (own[before] == code)
        & (axis[before] <= at)
        & (axis[after] >= at)
    )
    value = np.interp(at, axis, path[name].to_numpy(dtype=np.float64))
    return pd.Series(np.where(inside, value, np.nan), readings.index)


def _settled(out: pd.DataFrame, off: pd.Series, apart: pd.Series) -> pd.DataFrame:
    """Settle marked readings: confirmed by one that stands off alike, not by a later one as expected."""
    state = out["state"].copy()
    for label in out.index[out["state"] == AGAIN]:  # few: far off by far more than chance
        point, date = out.loc[label, ["point", "date"]]
        others = out.index[(out["point"] == point) & off.notna() & (out.index != label)]
        alike = (off[others] - off[label]).abs() <= apart[label]
        sound = (out.loc[others, "state"] == AS_EXPECTED) & (out.loc[others, "date"] >= date)
        if (alike & ~sound).any():
            state[label] = CONFIRMED
        elif sound.any():
            state[label] = NOT_CONFIRMED
    return out.assign(state=state)


def _no_path() -> pd.DataFrame:
    return pd.DataFrame({"point": [], "odometer": [], "p10": [], "p50": [], "p90": []})
