"""Dimensions of the wear points of a scope: the last reading, and what is expected when the window opens."""

import numpy as np
import pandas as pd

from models.plan.problem import Floats

COLUMNS = [
    "unit",
    "last_value",
    "last_date",
    "p10",
    "p50",
    "p90",
    "new_value",
    "shop_limit",
    "condemning_limit",
]
"""Columns added, all in the wear point's own unit; p10, p50, p90 : at the window, empty for a part not yet in
service."""


def with_values(
    points: pd.DataFrame, path: pd.DataFrame, forecast: pd.DataFrame, wear_points: pd.DataFrame
) -> pd.DataFrame:
    """Wear points of a scope with their dimensions.

    Parameters
    ----------
    points : of a plan, columns ``plan.scope.POINT_COLUMNS``.
    path : frame of the forecast run: point, odometer, p10, p50, p90, kind.
    forecast : frame of the run: point, unit, as_of_odometer, last_value, last_date, condemning_limit.
    wear_points : of the store: point, new_value, shop_limit [base], per_base.

    Returns
    -------
    The same rows with ``COLUMNS``.
    """
    told = forecast.drop_duplicates("point").set_index("point")
    limits = wear_points.drop_duplicates("point").set_index("point")
    out = points.copy()
    for name in ("unit", "last_value", "last_date", "condemning_limit"):
        out[name] = out["point"].map(told[name])
    for name in ("new_value", "shop_limit"):
        out[name] = out["point"].map(limits[name] * limits["per_base"])
    at = out["point"].map(told["as_of_odometer"]).to_numpy(float) + out["miles"].to_numpy(float)
    ahead = path.sort_values(["point", "odometer"])
    by_point = {str(name): mine for name, mine in ahead.groupby("point")}
    values = np.full((len(out), 3), np.nan)
    first = (out["life"] == 0).to_numpy()
    for name in out.loc[first, "point"].unique():
        index = np.flatnonzero(first & (out["point"] == name).to_numpy())
        if str(name) in by_point:
            values[index] = _at(by_point[str(name)], at[index])
    out[["p10", "p50", "p90"]] = values
    return out


def _at(path: pd.DataFrame, odometer: Floats) -> Floats:
    """Quantiles at odometers, straight between steps; held at the last step beyond it."""
    grid = path["odometer"].to_numpy(float)
    return np.stack(
        [np.interp(odometer, grid, path[name].to_numpy(float)) for name in ("p10", "p50", "p90")], axis=1
    )
