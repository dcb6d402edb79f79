"""From a forecast to what stands on the drawing: which wear points lie at which place, and what it says."""

import pandas as pd

from dashboard.drawing import LOOKS, WORST_FIRST, Drawing, Label, draw
from dashboard.gear_places import Place, place_of, wheelsets
from dashboard.units_shown import Units


def with_place(forecast: pd.DataFrame, vehicles: pd.DataFrame) -> pd.DataFrame:
    """The forecast with ``place``: the key of the place on the vehicle's drawing, empty where not recognised."""
    arrangement = dict(zip(vehicles["vehicle"], vehicles["arrangement"].fillna(""), strict=True))
    pairs = forecast[["vehicle", "position", "component"]].fillna("").drop_duplicates()
    found = {
        (vehicle, position, component): place_of(
            position, component, without_group="" if arrangement.get(vehicle) else "tender"
        )
        for vehicle, position, component in pairs.itertuples(index=False)
    }
    keys = [
        place.key if (place := found[row]) else ""
        for row in forecast[["vehicle", "position", "component"]]
        .fillna("")
        .itertuples(index=False, name=None)
    ]
    return forecast.assign(place=keys)


def drawings(forecast: pd.DataFrame, vehicles: pd.DataFrame, units: Units) -> dict[str, Drawing]:
    """A drawing of each vehicle that has recognised places, in the order of ``vehicles``.

    Parameters
    ----------
    forecast : with ``state`` and ``place``.
    """
    out = {}
    for vehicle in vehicles.itertuples():
        own = forecast[(forecast["vehicle"] == vehicle.vehicle) & (forecast["place"] != "")]
        if own.empty:
            continue
        places = {key: _place(key) for key in own["place"].unique()}
        labels = {
            places[str(key)]: _label(places[str(key)], group, units) for key, group in own.groupby("place")
        }
        arrangement = vehicle.arrangement if isinstance(vehicle.arrangement, str) else ""
        title = f"Running gear of {vehicle.vehicle}" + (f", {arrangement}" if arrangement else "")
        out[str(vehicle.vehicle)] = draw(wheelsets(arrangement, labels), labels, title=title)
    return out


def _place(key: str) -> Place:
    group, *rest = key.split("-")
    number = next((int(part) for part in rest if part.isdigit()), 0)
    return Place(group, number, next((part for part in rest if not part.isdigit()), ""))


def place_words(key: str) -> str:
    """``driver-2-L`` as people say it: *driver 2 left*."""
    return _place(key).words


def _label(place: Place, points: pd.DataFrame, units: Units) -> Label:
    """The worst wear point of a place decides what it shows; a place of which nothing is told shows that."""
    order = points.assign(rank=points["state"].map(WORST_FIRST.index)).sort_values(["rank", "miles_p05"])
    worst = order.iloc[0]
    told = points[points["miles_p05"].notna()]
    untold = len(points) - len(told)
    state, count = str(worst["state"]), f"{len(points)} wear point" + ("s" if len(points) > 1 else "")
    if state == "past":
        text, say = "over", f"{worst['component']} {worst['quantity']} {LOOKS[state].word}"
    elif told.empty:
        text, say = "?", "miles left cannot be told"
    else:
        first = told.sort_values("miles_p05").iloc[0]
        text = units.short(first["miles_p05"])
        say = (
            f"first to reach its limit: {first['component']} {first['quantity']}, "
            f"1 in 20 within {units.distance_text(first['miles_p05'])}"
        )
        if state == "unknown":
            state = str(told.sort_values("miles_p05").iloc[0]["state"])
    gap = f"; of {untold} more nothing can be told" if untold and not told.empty else ""
    return Label(state, text, f"{place.words}: {say}; {count}{gap}")
