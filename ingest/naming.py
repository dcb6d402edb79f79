"""Which wear point a row means that names it by vehicle, component, position and quantity."""

import pandas as pd

from ingest.positions import resolve_positions
from ingest.problems import Problems

PARTS = ("vehicle", "component", "position", "quantity")
_LISTED = 4  # candidates that a message names


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
    seen = wanted.drop_duplicates()
    answers = {tuple(row): _one(dict(zip(parts, row, strict=True)), points) for row in seen.to_numpy()}
    found = [answers[tuple(row)] for row in wanted.to_numpy()]
    names = pd.Series([name for name, _ in found], wanted.index, dtype="str")
    words = pd.Series([word for _, word in found], wanted.index, dtype="str")
    shown = wanted.agg(", ".join, axis=1)
    problems.where(words != "", "point", shown, words)
    return point.mask(open_, names.reindex(cells.index))


def _one(written: dict[str, str], points: pd.DataFrame) -> tuple[str, str]:
    """The point that fits, or why there is none."""
    fitting = points
    for name in ("vehicle", "component", "quantity"):
        if word := written.get(name, ""):
            same = fitting[_plain(fitting[name]) == _plain(pd.Series([word]))[0]]
            if same.empty:
                return "", f"no wear point has the {name} '{word}'{_some(fitting[name])}"
            fitting = same
    if word := written.get("position", ""):
        answer = resolve_positions(pd.Series([word]), fitting["position"].unique()).iloc[0]
        if answer["problem"]:
            return "", str(answer["problem"])
        fitting = fitting[fitting["position"] == answer["position"]]
    if len(fitting) == 1:
        return str(fitting["point"].iloc[0]), ""
    return "", f"{len(fitting)} wear points fit{_some(fitting['point'])}; write which in the column point"


def _plain(text: pd.Series) -> pd.Series:
    return text.str.lower().str.replace(r"[\W_]+", "", regex=True)


def _some(names: pd.Series) -> str:
    listed = list(names.unique())
    more = f" and {len(listed) - _LISTED} more" if len(listed) > _LISTED else ""
    return ": " + ", ".join(listed[:_LISTED]) + more if listed else ""
