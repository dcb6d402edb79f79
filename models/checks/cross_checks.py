"""Checks across wear points: what no single reading shows. Wheels, rods, boxes, limits held against the law.

Pure functions on frames: wear points with their classification, readings, limits of the catalogue and of the
railway. They judge the last readings; the chance that a pair parts later is in
``models.checks.joint_limits``.
"""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from models.checks.findings_frame import COLUMNS, judged, worst_first
from models.checks.limit_checks import Family, lax_limits, mixed_sets, past_the_law
from models.checks.measured import LastRead
from models.checks.rod_checks import rods
from models.checks.wheel_checks import wheels

__all__ = ["check_all", "latest_readings", "lax_limits", "mixed_sets", "past_the_law", "rods", "wheels"]

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
READ = ("value", "low", "high", "places", "date")
"""Columns of the last readings."""


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
    known = readings["value"].notna()
    if as_of is not None:
        known &= readings["date"] <= as_of
    point, names = pd.factorize(readings["point"], sort=True)
    date = readings["date"].to_numpy()
    last = np.full(len(names), np.iinfo(np.int64).min).view(date.dtype)
    np.fmax.at(last, point[known], date[known])
    rows = np.flatnonzero(known & (date == last[point]))
    grouped = readings["value"].iloc[rows].groupby(point[rows]).agg(["mean", "min", "max", "count"])
    grouped.columns = pd.Index(["value", "low", "high", "places"])
    grouped.insert(0, "point", names[grouped.index])
    return grouped.assign(date=last[grouped.index]).reset_index(drop=True)


def check_all(
    wear_points: pd.DataFrame,
    latest: pd.DataFrame,
    limits: pd.DataFrame,
    law: pd.DataFrame | None = None,
    other: pd.DataFrame | None = None,
    *,
    families: Mapping[str, Family] | None = None,
    governs: str = "",
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
    families, governs : as :func:`models.checks.limit_checks.mixed_sets` takes them.

    Returns
    -------
    ``models.checks.findings_frame.COLUMNS``, the worst first; what is within its limit is there too.
    """
    row = pd.Index(latest["point"]).get_indexer(wear_points["point"])
    read = row >= 0
    values = wear_points[read].assign(**{name: latest[name].to_numpy()[row[read]] for name in READ})
    points = LastRead.of(values)
    parts = [
        judged([*wheels(points), *rods(points)], limits, REMEDIES),
        mixed_sets(wear_points, families, governs),
    ]
    if law is not None:
        parts += [lax_limits(wear_points, law), past_the_law(values, law)]
    if other is not None:
        parts.append(past_the_law(values, other, other_bound=True))
    kept = [part for part in parts if not part.empty]
    if not kept:
        return pd.DataFrame(columns=COLUMNS)
    return worst_first(pd.concat(kept, ignore_index=True))
