"""Two parts that changed places: the rows that tell it, and whether a reading that went back toward new is
that of another place's part."""

from collections.abc import Hashable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from ingest.catalogue.belongs import (
    feature_of,
    goes_with,
    kind_of_part,
    kinds_with_places,
    position_of_part,
)
from ingest.figures import limit
from ingest.names.positions import canonical, read_position

Place = tuple[str, str]
"""Vehicle and position of a part."""


def exchange_rows(
    known: Mapping[str, pd.DataFrame], kind: str, places: tuple[Place, Place], day: pd.Timestamp
) -> dict[str, pd.DataFrame]:
    """Rows of the tables parts and fittings, as text, that tell an exchange of two places on a day.

    Parameters
    ----------
    known : tables that hold: fittings, mileage.
    kind : of the parts, as :func:`ingest.catalogue.kind_of_part` names it.
    places : of one vehicle or of two; positions as :func:`ingest.catalogue.belongs.position_of_part` gives
        them. A part without a number gets one, and was there since the first day of the vehicle's log.
    """
    parts, fittings = [], []
    for (vehicle, here), (to, there) in (places, places[::-1]):
        number = fitted_at(known, kind, vehicle, here, day)
        if not number:
            number = f"{kind} {vehicle} {here}"
            parts.append({"part_no": number, "component": kind, "class": ""})
            first = {"part_no": number, "vehicle": vehicle, "position": here}
            fittings.append(first | {"since": _first_day(known, vehicle, day)})
        moved = {"part_no": number, "vehicle": to, "position": there, "since": f"{day:%Y-%m-%d}"}
        fittings.append(moved)
    made = {"parts": pd.DataFrame(parts), "fittings": pd.DataFrame(fittings)}
    return {name: rows for name, rows in made.items() if len(rows)}


def fitted_at(
    known: Mapping[str, pd.DataFrame], kind: str, vehicle: str, position: str, day: pd.Timestamp
) -> str:
    """Number of the part of a kind that fittings say is at a place before a day; empty where none does."""
    rows, parts = known["fittings"], known["parts"]
    of_kind = [
        str(number)
        for number, component in zip(parts["part_no"], parts["component"], strict=True)
        if kind_of_part(str(component))[0] == kind
    ]
    rows = rows[rows["part_no"].isin(of_kind) & (rows["since"] < day)].sort_values("since", kind="stable")
    last = rows.drop_duplicates("part_no", keep="last")
    here = (last["vehicle"] == vehicle) & (last["position"].map(canonical) == position)
    last = last[here & ~(last["until"] < day)]
    return str(last["part_no"].iloc[-1]) if len(last) else ""


def _first_day(known: Mapping[str, pd.DataFrame], vehicle: str, day: pd.Timestamp) -> str:
    """First day of a vehicle's log: the part was there as far as anybody knows."""
    first = known["mileage"].loc[known["mileage"]["vehicle"] == vehicle, "date"].min()
    return f"{(day - pd.Timedelta(days=1) if pd.isna(first) or first >= day else first):%Y-%m-%d}"


def fitting_places(
    part: pd.DataFrame, points: pd.DataFrame, readings: pd.DataFrame
) -> tuple[str, str, list[str]]:
    """Kind, place and the other places of the same vehicle whose last readings some new ones go on.

    Parameters
    ----------
    part : new readings of one kind and day, as ``ingest.look.history.history`` gives them.
    points : the wear points by name.
    readings : all readings that are known: point, date, value.

    Returns
    -------
    Three times nothing where they are not of one place, or no part of a kind that has places goes with them.
    """
    first = part.iloc[0]
    component, quantity = str(first["component"]), str(first["quantity"])
    for kind in kinds_with_places():
        if goes_with(kind, component, quantity) != "part":
            continue
        own = {position_of_part(str(points.loc[point, "position"]), kind) for point in part["point"]}
        if len(own) != 1:
            return "", "", []
        here = own.pop()
        found = _others(part, points, readings, (kind, here))
        return kind, here, found
    return "", "", []


def _others(
    part: pd.DataFrame, points: pd.DataFrame, readings: pd.DataFrame, at: tuple[str, str]
) -> list[str]:
    """Places whose last readings all of the new ones go on."""
    kind, here = at
    vehicle = str(part["vehicle"].iloc[0])
    own = points[points["vehicle"] == vehicle]
    fits: dict[str, list[bool]] = {}
    for row in part.to_dict("records"):
        about = points.loc[row["point"]]
        wanted = _feature(about, kind)
        for name, other in own.iterrows():
            place = position_of_part(str(other["position"]), kind)
            if place != here and _feature(other, kind) == wanted:
                before = readings[(readings["point"] == name) & (readings["date"] < row["date"])]
                fits.setdefault(place, []).append(_goes_on(row, other, before))
    return [place for place, each in fits.items() if len(each) == len(part) and all(each)]


def _feature(about: pd.Series, kind: str) -> tuple[str, ...]:
    position = str(about["position"])
    read = read_position(position)
    side = read.side if read is not None and position_of_part(position, kind) != canonical(position) else ""
    group = read.group if read is not None else ""
    return (
        *feature_of(str(about["component"]), str(about["quantity"])),
        side,
        group,
        str(about["base_unit"]),
    )


def _goes_on(row: Mapping[Hashable, Any], other: pd.Series, before: pd.DataFrame) -> bool:
    """Whether a reading is what the last one of another place had become by then: no less worn than gauges
    scatter, and worn on by less than a spike."""
    if before.empty or pd.isna(row["wear"]):
        return False
    span = float(other["condemning_limit"]) - float(other["new_value"])
    last = before.sort_values("date", kind="stable")["value"].iloc[-1]
    step = float(row["wear"]) - (float(last) - float(other["new_value"])) / span
    noise = limit("reading", "unexpected_after") * np.sqrt(2) * float(row["sd"])
    return bool(-noise <= step <= noise + limit("reading", "spike_share"))
