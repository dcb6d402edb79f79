"""Which wear point a row means that names it by vehicle, component, position and quantity."""

import pandas as pd

from ingest.points import NAMES, resolve_points
from ingest.problems import Problems

PARTS = NAMES
"""Columns by which a row may name a wear point."""


def name_points(cells: pd.DataFrame, points: pd.DataFrame | None, problems: Problems) -> pd.Series:
    """Points of rows: the one written, else the only one that fits the parts written.

    Parameters
    ----------
    cells : text: point, and those of vehicle, component, position, quantity that the sheet has.
    points : wear points known: point, vehicle, component, position, quantity.
    problems : a reason is added where no point fits, or several do; it names the nearest.

    Returns
    -------
    Series of text; empty where it stays unknown.
    """
    parts = [name for name in PARTS if name in cells]
    point = cells["point"]
    open_ = (point == "") & (cells[parts] != "").any(axis=1) if parts else pd.Series(False, cells.index)
    if not open_.any() or points is None:
        return point
    wanted = cells.loc[open_, parts]
    found = resolve_points(wanted, points)
    problems.where(found["problem"] != "", "point", wanted.agg(", ".join, axis=1), found["problem"])
    return point.mask(open_, found["point"].reindex(cells.index))
