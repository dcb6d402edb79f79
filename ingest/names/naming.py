"""Which wear point a row means that names it by vehicle, component, position and quantity."""

import pandas as pd

from ingest.names.aliases import Aliases
from ingest.names.points import by_point, resolve_points, words_of
from ingest.problems import Problems
from ingest.schema import PARTS


def name_points(
    cells: pd.DataFrame, points: pd.DataFrame | None, problems: Problems, aliases: Aliases | None = None
) -> pd.Series:
    """Points of rows: the one written, else the only one that fits the parts written.

    Parameters
    ----------
    cells : text: point, and those of vehicle, component, position, quantity that the sheet has.
    points : wear points known: point, vehicle, component, position, quantity.
    problems : a reason is added where no point fits, or several do; it names the nearest. Also where a point
        is written beside the name of another vehicle than its own.
    aliases : the railway's own words for positions and wear points.

    Returns
    -------
    Series of text; empty where it stays unknown.
    """
    parts = [name for name in PARTS if name in cells]
    point = cells["point"] if points is None or not aliases else _meant(cells, points, aliases)
    if points is not None and "vehicle" in cells:
        _ask_of_others(cells["vehicle"], point, points, problems)
    unnamed = (point == "") & (cells[parts] != "").any(axis=1) if parts else pd.Series(False, cells.index)
    if not unnamed.any() or points is None:
        return point
    wanted = cells.loc[unnamed, parts]
    resolved = resolve_points(wanted, points, aliases)
    problems.where(resolved["problem"] != "", "point", wanted.agg(", ".join, axis=1), resolved["problem"])
    return point.mask(unnamed, resolved["point"].reindex(cells.index))


def _meant(cells: pd.DataFrame, points: pd.DataFrame, aliases: Aliases) -> pd.Series:
    """Names of points as written; a word for a wear point, where none is called so, as that point."""
    point = cells["point"]
    unknown = (point != "") & ~point.isin(points["point"])
    if not unknown.any():
        return point
    vehicle = cells["vehicle"] if "vehicle" in cells else pd.Series("", cells.index, dtype="str")
    keys = list(zip(point[unknown], vehicle[unknown], strict=True))
    answer = {key: aliases.point(*key) or key[0] for key in set(keys)}
    meant = pd.Series([answer[key] for key in keys], index=point.index[unknown], dtype="str")
    return point.mask(unknown, meant.reindex(point.index))


def _ask_of_others(vehicle: pd.Series, point: pd.Series, points: pd.DataFrame, problems: Problems) -> None:
    """A reason for rows whose point is of another vehicle than the one, of those on record, that is named."""
    spelled = {name: words_of(name) for name in {*vehicle.unique(), *points["vehicle"].unique()}}
    own = point.map(by_point(points)["vehicle"])
    named = vehicle.map(spelled).isin({spelled[name] for name in points["vehicle"].unique()})
    other = own.notna() & named & (vehicle.map(spelled) != own.map(spelled))
    said = "the wear point " + point + " is of " + own.fillna("") + ": write one or the other"
    problems.where(other, "vehicle", vehicle, said)
