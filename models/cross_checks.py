"""Checks across wear points: what no single reading shows. Wheels, rods, boxes, limits held against the law.

Pure functions on frames: wear points with their classification, readings, limits of the catalogue and of the
railway. They judge the last readings; the chance that a pair parts later is in ``models.joint_limits``.
"""

import numpy as np
import pandas as pd

from models.findings_frame import COLUMNS, VERDICTS, judged
from models.limit_checks import lax_limits, mixed_sets, other_bounds
from models.rod_checks import rods
from models.wheel_checks import wheels

__all__ = ["check_all", "latest_readings", "lax_limits", "mixed_sets", "other_bounds", "rods", "wheels"]

REMEDIES = {
    "same axle diameters": "Turn the two wheels of the axle to one diameter.",
    "coupled diameters": "Turn all wheels of the set to the diameter of the smallest.",
    "back to back": "Wheels have moved on their seats or are bent: out of service, press off and remount.",
    "back to back around the axle": "The axle or a wheel is bent: out of service, have the axle examined.",
    "over flanges": "Turn the flanges, or remount the wheels.",
    "tram": "Make rod and axles agree: set shoes and wedges, or rebush the rod and bore it to the spacing.",
    "axle spacing, left against right": "Set shoes and wedges so that the axles stand parallel.",
    "main rod lost motion": "Close or renew the bearings of both ends.",
    "rod bearing clearance": "Renew the bushing.",
    "bearing clearance": "Reduce or renew the brass.",
    "bushing interference": "Renew the bushing to the stated fit; a bushing that turns wears the forging.",
}
"""What puts each right; common practice, no source."""


def latest_readings(readings: pd.DataFrame, as_of: pd.Timestamp | None = None) -> pd.DataFrame:
    """The last reading of every point.

    Parameters
    ----------
    readings : point, date, value [base unit]; several on one day are places around the part.
    as_of : later readings are left out.

    Returns
    -------
    point, date, value (their mean), low, high [base unit], places (number), one row a point.
    """
    rows = readings if as_of is None else readings[readings["date"] <= as_of]
    rows = rows.dropna(subset=["value"])
    last = rows["date"] == rows.groupby("point")["date"].transform("max")
    grouped = rows[last].groupby("point")["value"].agg(["mean", "min", "max", "count"]).reset_index()
    date = rows[last].groupby("point")["date"].max().reset_index(drop=True)
    grouped.columns = pd.Index(["point", "value", "low", "high", "places"])
    return grouped.assign(date=date)


def check_all(
    wear_points: pd.DataFrame,
    latest: pd.DataFrame,
    limits: pd.DataFrame,
    law: pd.DataFrame | None = None,
    other: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Every check across the points of one or more vehicles under one set of limits.

    Parameters
    ----------
    wear_points : table of the store with part, measure, group, axle, axle_to, side
        (``ingest.catalogue.classify``).
    latest : as :func:`latest_readings` gives it.
    limits : as ``ingest.catalogue.difference_limits`` gives it.
    law, other : as ``ingest.catalogue.law_limits_of`` gives them, toward and away from the wear; None leaves
        the checks of the sheet's own limits out.

    Returns
    -------
    ``models.findings_frame.COLUMNS``, the worst first; what is within its limit is there too.
    """
    values = wear_points.merge(latest, on="point", how="inner")
    found = [frame for frame in (*wheels(values), *rods(values)) if not frame.empty]
    parts = [judged(pd.concat(found, ignore_index=True), limits, REMEDIES)] if found else []
    parts.append(mixed_sets(wear_points))
    if law is not None:
        parts.append(lax_limits(wear_points, law))
    if other is not None:
        parts.append(other_bounds(values, other))
    kept = [part for part in parts if not part.empty]
    if not kept:
        return pd.DataFrame(columns=COLUMNS)
    rows = pd.concat(kept, ignore_index=True)
    rank = rows["verdict"].map({verdict: place for place, verdict in enumerate(VERDICTS)})
    return rows.iloc[np.argsort(rank.to_numpy(), kind="stable")].reset_index(drop=True)
