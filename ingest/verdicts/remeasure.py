"""Readings that the forecast before them did not expect: stored as they are, and marked to be measured again.

Nothing is set aside here. A reading that stands far off is marked until another of the same point settles it:
one that stands off alike confirms it, a later one that stands where it was expected does not.
"""

import json
from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from ingest.figures import limit
from ingest.names.points import by_point
from ingest.store import Store

AS_EXPECTED, AGAIN, CONFIRMED, NOT_CONFIRMED = "as expected", "measure again", "confirmed", "not confirmed"

COLUMNS = ["point", "date", "value", "expected", "expected_sd", "unit", "state", "row_id", "batch"]
"""Of marked readings; value, expected and expected_sd in the wear point's own unit."""
Z_90 = 1.2815515655446004
"""Normal quantile of 0.9: half the width of an 80 % band in standard deviations. [1]"""


def unexpected(
    store: Store, version: int | None = None, *, points: Sequence[str] | None = None
) -> pd.DataFrame:
    """Marked readings of a store: each against the newest forecast that was made before it came in.

    Parameters
    ----------
    store : the store; only readings that came in after its first forecast are read.
    version : data version to look at; None for now.
    points : only these wear points; None for all.

    Returns
    -------
    ``COLUMNS``, one row for each reading that is not as expected, newest first. A reading taken on or after
    a day of work that this forecast did not know is not compared: it was another part, or another cut.
    """
    runs = forecasts_in_order(store)
    if runs.empty:
        return _nothing()
    first = int(runs["data_version"].iloc[0])
    names = store.points_read(first, version) if points is None else points
    if not len(names):
        return _nothing()
    tables = store.read_of_points(names, "readings", "wear_points", "work", since=first, version=version)
    readings = tables["readings"]
    about, work = tables["wear_points"], tables["work"]
    forecast_of = np.searchsorted(runs["data_version"], readings["batch"], side="left") - 1
    parts = [_nothing()]
    for i, (run_id, known) in enumerate(zip(runs["run_id"], runs["data_version"], strict=True)):
        compared = readings[forecast_of == i]
        if compared.empty:
            continue
        path = store.read_run(run_id, "path", point=sorted(compared["point"].unique()))
        compared = compared[~reworked(compared, work[work["batch"] > known])]
        first_look = measure_again(compared, path, about)
        marked = first_look.loc[first_look["state"] != AS_EXPECTED, "point"]
        # What came after later forecasts may settle it too, held against this one.
        after = readings[(forecast_of >= i) & readings["point"].isin(marked)]
        after = after[~reworked(after, work[work["batch"] > known])]
        found = measure_again(after, path, about).join(after[["row_id", "batch"]])
        parts.append(found[found.index.isin(compared.index) & (found["state"] != AS_EXPECTED)])
    marked_readings = pd.concat([part for part in parts if len(part)] or parts)
    unit = by_point(about)["unit"]
    marked_readings = marked_readings.assign(unit=marked_readings["point"].map(unit).astype("str"))
    return marked_readings.sort_values("date", ascending=False, ignore_index=True)[COLUMNS]


def news(store: Store, batch: int) -> pd.DataFrame:
    """What the readings of a batch say: those far from what was expected, and earlier ones they settle.

    Returns
    -------
    ``COLUMNS`` and ``new`` (bool): the reading itself is of the batch; otherwise it is an earlier one that
    waited to be measured again and is settled now. Empty where no forecast was made before.
    """
    if forecasts_in_order(store).empty:
        return _nothing().assign(new=pd.Series([], dtype=bool))
    points = store.points_read(batch - 1, batch)
    marked = unexpected(store, batch, points=points)
    new = marked["batch"] == batch
    if not (~new).any():
        return marked.assign(new=new)
    marked_before = unexpected(store, batch - 1, points=list(marked.loc[~new, "point"].unique()))
    waited = marked_before.loc[marked_before["state"] == AGAIN, "row_id"]
    settled = ~new & marked["row_id"].isin(waited) & (marked["state"] != AGAIN)
    return marked.assign(new=new)[new | settled].reset_index(drop=True)


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
    about = by_point(points)
    per_base = readings["point"].map(about["per_base"]).astype("float64")
    span = readings["point"].map((about["condemning_limit"] - about["new_value"]).abs()).astype("float64")
    gauge = readings["point"].map(about["gauge_sd"]).astype("float64")
    gauge = gauge.fillna(limit("reading", "gauge_share") / limit("reading", "disagree_after") * span).fillna(
        0.0
    )
    out = readings[["point", "date"]].assign(value=readings["value"] * per_base)
    low, out["expected"], high = (_along(readings, path, name) for name in ("p10", "p50", "p90"))
    out["expected_sd"] = np.hypot((high - low) / (2 * Z_90), gauge * per_base)
    far = far_off(out["value"] - out["expected"], out["expected_sd"])
    out["state"] = pd.Series(np.where(far, AGAIN, AS_EXPECTED), index=out.index, dtype="str")
    apart = limit("reading", "disagree_after") * np.sqrt(2) * gauge * per_base
    return _settled(out, out["value"] - out["expected"], apart)


def far_off(off: ArrayLike, sd: ArrayLike) -> NDArray[np.bool_]:
    """Whether readings stand so far from what was expected that they are to be measured again.

    Parameters
    ----------
    off : reading less expected value, shape (n,) or (); NaN where nothing is expected.
    sd : standard deviation of such a difference, in the same unit; 0 where nothing is known of it.
    """
    spread = np.asarray(sd, dtype=np.float64)
    far: NDArray[np.bool_] = np.abs(off) > limit("reading", "unexpected_after") * spread
    return far & (spread > 0)


def _along(readings: pd.DataFrame, path: pd.DataFrame, name: str) -> pd.Series:
    """A quantile of the path at each reading's miles; NaN beyond its ends and for points without a path."""
    path = path.sort_values(["point", "odometer"], kind="stable")
    names = pd.Index(path["point"].unique())
    code, own = names.get_indexer(readings["point"]), names.get_indexer(path["point"])
    stride = 1e9  # miles: further apart than any two odometers
    wanted = code * stride + readings["odometer"].to_numpy(dtype=np.float64)
    axis = own * stride + path["odometer"].to_numpy(dtype=np.float64)
    if not len(axis):
        return pd.Series(np.nan, readings.index)
    after = np.clip(np.searchsorted(axis, wanted, side="left"), 0, len(axis) - 1)
    before = np.clip(np.searchsorted(axis, wanted, side="right") - 1, 0, len(axis) - 1)
    inside = (
        (code >= 0)
        & (own[after] == code)
        & (own[before] == code)
        & (axis[before] <= wanted)
        & (axis[after] >= wanted)
    )
    value = np.interp(wanted, axis, path[name].to_numpy(dtype=np.float64))
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


def forecasts_in_order(store: Store) -> pd.DataFrame:
    """Forecasts in the order in which they were the newest, one a data version: run_id, data_version.

    A look back in time, made today, is not what people expected from then on: a forecast as of an earlier day
    than one before it does not count. One that could tell nothing of any wear point expected nothing.
    """
    runs = store.runs("forecast")
    runs = runs[np.array([told_something(about) for about in runs["about"]], dtype=bool)]
    day = pd.to_datetime(runs["as_of"], errors="coerce", format="ISO8601").astype("datetime64[us]")
    day = day.fillna(pd.Timestamp(0).as_unit("us"))
    order = runs.assign(day=day).sort_values(["data_version", "day", "made_at"], kind="stable")
    order = order.drop_duplicates("data_version", keep="last")
    kept = order["day"] >= order["day"].cummax()
    return order.loc[kept, ["run_id", "data_version"]].reset_index(drop=True)


def told_something(about: str) -> bool:
    """Whether a forecast told something of at least one wear point, by what its run says of it (JSON)."""
    return bool(json.loads(about).get("forecast", 1) != 0)


def reworked(readings: pd.DataFrame, work: pd.DataFrame) -> pd.Series:
    """Readings of a point on or after the first day of work at it."""
    since = work.groupby("point")["date"].min().reindex(readings["point"])
    return pd.Series(readings["date"].to_numpy() >= since.to_numpy(), readings.index)


def _nothing() -> pd.DataFrame:
    kinds = {"point": "str", "date": "datetime64[us]", "unit": "str", "state": "str"}
    whole = {"row_id": "int64", "batch": "int64"}
    return pd.DataFrame({n: pd.Series([], dtype=(kinds | whole).get(n, "float64")) for n in COLUMNS})
