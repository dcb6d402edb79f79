"""Where each part of the spares rack may be fitted, and the miles left in it there.

A part fits the places where it, or a part of its class, was fitted before; where none of its class ever was,
every place of its kind at which no part of another class is told. One that has run is held to the limits of
the place where it was read: a place with other limits is left out, as are parts of which something was never
read, which came off worn or after an accident and were not measured since, or which are condemned. Where its
wheels would not agree with those that stay, that is said.
"""

from collections.abc import Hashable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from ingest.catalogue import feature_of, goes_with, kind_of_part
from ingest.catalogue.belongs import ON_AXLE, position_of_part
from ingest.names.positions import canonical, read_position
from models.distribution import PROBABILITIES
from models.lives.parts_run import NEVER, RACK, parts_now, stints_run
from models.plan.jobs import DEPTHS
from models.rack.agree import WheelChecks, agrees

COLUMNS = [
    "part_no", "component", "depth", "vehicle", "place", "point", "left", "share", "value", "miles_p05",
    "miles_p50", "agrees",
]  # fmt: skip
"""One row a wear point that shows the part at a place.

component : what the part is called. depth : how deep the engine is opened for it (``models.plan.jobs``).
left : quantiles of the miles left, shape (33,); None for a part that has run nothing, whose life is that of a
new one. share : of the wear from new to the limit, what its last reading leaves [1]; NaN where that is not
known. value : that reading, or what a new part has. [base unit] miles_p05, miles_p50 : of the whole part at
that place, the least of its quantities. [mi] agrees : its wheels agree with those that stay.
"""
OUT = ("renew", "repair")
"""Verdicts of a finding that keep a part on the rack."""
UNFIT = ("worn", "accident")
"""Why a part came off that keeps it there until it is measured again."""

Place = tuple[str, str]


def where_spares_fit(
    tables: Mapping[str, pd.DataFrame],
    spares: pd.DataFrame,
    distribution: pd.DataFrame,
    forecast: pd.DataFrame,
    checks: WheelChecks | None = None,
) -> pd.DataFrame:
    """Places of every spare.

    Parameters
    ----------
    tables : parts, fittings, wear_points, mileage, readings, work, defects.
    spares : frame of the forecast run (``models.forecast.of_store``); empty where no part moved.
    distribution, forecast : of the same run.
    checks : what wheels are held against; None leaves that out.

    Returns
    -------
    ``COLUMNS``, ordered by part, vehicle, place.
    """
    if tables["parts"].empty:
        return pd.DataFrame(columns=COLUMNS)
    stints = stints_run(dict(tables))
    now = parts_now(dict(tables), stints)
    found = tables["defects"]
    condemned = set(found.loc[found["verdict"].isin(OUT), "part_no"].dropna().astype(str)) - {""}
    about = tables["wear_points"].drop_duplicates("point", keep="last").set_index("point")
    known = forecast[forecast["point"].isin(distribution["point"])].assign(
        new_life=lambda rows: rows["point"].map(distribution.set_index("point")["new_life"]),
        new_value=lambda rows: rows["point"].map(about["new_value"] * about["per_base"]),
        per_base=lambda rows: rows["point"].map(about["per_base"]),
        access=lambda rows: rows["point"].map(about["access"]),
    )
    rows: list[dict[str, object]] = []
    on_rack = now[
        now["where"].isin([RACK, NEVER]) & ~now["part_no"].isin(condemned | {*unfit(stints, spares)})
    ]
    for part in on_rack.sort_values("part_no").to_dict("records"):
        kind = kind_of_part(part["component"])[0]
        own = spares[spares["part_no"] == part["part_no"]] if len(spares) else spares
        for place, points in _places(part, kind, known, now, stints):
            there = _at(part, place, points, own, kind)
            values = {str(row["point"]): float(str(row["value"])) for row in there}
            fits = agrees(checks or WheelChecks(), place[0], values) if there else True
            rows += [row | {"agrees": fits} for row in there]
    return pd.DataFrame(rows, columns=COLUMNS)


def unfit(stints: pd.DataFrame, spares: pd.DataFrame) -> dict[str, str]:
    """Parts that came off for one of ``UNFIT`` and were not measured since, and for which.

    Parameters
    ----------
    stints : as :func:`models.lives.parts_run.stints_run` gives them. spares : frame of the forecast run.
    """
    last = stints[stints["vehicle"] != ""].drop_duplicates("part_no", keep="last").set_index("part_no")
    off = last[last["why"].isin(UNFIT) & last["until"].notna()]
    read = pd.Series(pd.NaT, off.index, dtype="datetime64[us]")
    if len(spares):
        read = spares.groupby("part_no")["last_date"].max().reindex(off.index)
    return {str(part): str(why) for part, why in off.loc[~(read > off["until"]), "why"].items()}


def _places(
    part: Mapping[Hashable, Any], kind: str, known: pd.DataFrame, now: pd.DataFrame, stints: pd.DataFrame
) -> list[tuple[Place, pd.DataFrame]]:
    """Places at which a part may be fitted, with the forecast wear points that would show it."""
    cells = (known[name].astype(str) for name in ("vehicle", "component", "position", "quantity"))
    at = [
        (vehicle, position_of_part(position, kind))
        if goes_with(kind, component, quantity) == "part"
        else ("", "")
        for vehicle, component, position, quantity in zip(*cells, strict=True)
    ]
    classes = dict(zip(now["part_no"], now["class"], strict=True))
    placed = stints[(stints["kind"] == kind) & (stints["vehicle"] != "")]
    alike = [
        number == part["part_no"] or bool(part["class"] and classes.get(number) == part["class"])
        for number in placed["part_no"]
    ]
    where = list(zip(placed["vehicle"], placed["position"], strict=True))
    own = {place for place, same in zip(where, alike, strict=True) if same}
    others = {place for place, same in zip(where, alike, strict=True) if not same}
    fits = [place for place in sorted(set(at) - {("", "")}) if (place in own if own else place not in others)]
    return [(place, known[[each == place for each in at]]) for place in fits]


def _at(
    part: Mapping[Hashable, Any], place: Place, points: pd.DataFrame, own: pd.DataFrame, kind: str
) -> list[dict[str, object]]:
    """Rows of a part at a place; none where it does not fit there or something of it is not known."""
    new = part["miles"] == 0
    if new:
        left, values = list(points["new_life"]), points["new_value"].astype(float).tolist()
    else:
        read = dict(zip(_keys(own, kind), own.to_dict("records"), strict=True))
        pairs = [
            (read.get(key), point)
            for key, point in zip(_keys(points, kind), points.to_dict("records"), strict=True)
        ]
        if not all(spare is not None and _same_limit(spare, point) for spare, point in pairs):
            return []
        left = [np.asarray(spare["remaining"], dtype=np.float64) for spare, _ in pairs if spare is not None]
        values = [float(spare["last_value"]) for spare, _ in pairs if spare is not None]
    if not left or any(np.size(each) != len(PROBABILITIES) for each in left):
        return []
    low, half = (
        float(np.stack(left)[:, np.flatnonzero(probability == PROBABILITIES)[0]].min())
        for probability in (0.05, 0.5)
    )
    if half <= 0:
        return []
    about = {"part_no": part["part_no"], "component": part["component"], "depth": _depth(points, kind)}
    about |= {"vehicle": place[0], "place": place[1], "miles_p05": low, "miles_p50": half}
    return [
        about
        | {"point": str(point["point"]), "left": None if new else each, "share": _share(value, point)}
        | {"value": value / float(point["per_base"])}
        for point, each, value in zip(points.to_dict("records"), left, values, strict=True)
    ]


def _depth(points: pd.DataFrame, kind: str) -> str:
    """How deep an engine is opened to fit a part: an axle comes out with its wheels."""
    if kind_of_part(kind)[1] == ON_AXLE:
        return DEPTHS[-1]
    return DEPTHS[max(DEPTHS.index(each) if each in DEPTHS else 0 for each in points["access"])]


def _share(value: float, point: Mapping[Hashable, Any]) -> float:
    """Share of the wear from new to the limit that a value leaves."""
    new, limit = float(point["new_value"]), float(point["condemning_limit"])
    return (value - limit) / (new - limit) if new != limit else float("nan")


def _keys(points: pd.DataFrame, kind: str) -> list[tuple[object, ...]]:
    """What each wear point measures on the part, alike at all its places."""
    seen: dict[tuple[object, ...], int] = {}
    keys: list[tuple[object, ...]] = []
    for row in points.to_dict("records"):
        at = read_position(str(row["position"]))
        place = position_of_part(str(row["position"]), kind)
        side = at.side if at is not None and place != canonical(str(row["position"])) else ""
        key = (*feature_of(str(row["component"]), str(row["quantity"])), str(row["unit"]), side)
        seen[key] = seen.get(key, -1) + 1  # two pins of one part, in the order of the sheet
        keys.append((*key, seen[key]))
    return keys


def _same_limit(spare: Mapping[Hashable, Any], point: Mapping[Hashable, Any]) -> bool:
    return bool(np.isclose(spare["condemning_limit"], point["condemning_limit"], rtol=1e-9))
