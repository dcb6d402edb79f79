"""From a forecast to what stands on the drawing: which wear points lie at which place, and what it says."""

from collections.abc import Callable

import pandas as pd

from dashboard.drawing import LOOKS, WORST_FIRST, Drawing, Label, draw
from dashboard.gear_places import Place, place_from, place_of, wheelsets
from dashboard.units_shown import Units

PARTS = {"": ("leading", "driver", "trailing", "motion"), "tender": ("tender",)}
"""Pictures of a vehicle: the engine and its tender, which a telephone shows one under the other."""


def with_place(forecast: pd.DataFrame) -> pd.DataFrame:
    """The forecast with ``place``: the key of the place on the drawing, empty where it is not recognised."""
    names = forecast[["position", "component"]].fillna("")
    found = {pair: place_of(*pair) for pair in names.drop_duplicates().itertuples(index=False, name=None)}
    keys = {pair: place.key if place else "" for pair, place in found.items()}
    return forecast.assign(place=[keys[pair] for pair in names.itertuples(index=False, name=None)])


def drawings(
    forecast: pd.DataFrame, vehicles: pd.DataFrame, label: Callable[[Place, pd.DataFrame], Label]
) -> dict[tuple[str, str], Drawing]:
    """A drawing by (vehicle, part) of each vehicle that has recognised places, in the order of ``vehicles``.

    Parameters
    ----------
    forecast : with ``state`` and ``place``.
    label : what to say at a place of which these are the rows.
    """
    out = {}
    for vehicle in vehicles.to_dict("records"):
        name, arrangement = str(vehicle["vehicle"]), str(vehicle["arrangement"] or "")
        own = forecast[(forecast["vehicle"] == name) & (forecast["place"] != "")]
        found = {place_from(key): own[own["place"] == key] for key in own["place"].unique()}
        labels = {place: label(place, rows) for place, rows in found.items()}
        axles = wheelsets(arrangement, labels)
        for part, groups in PARTS.items():
            here = {place: said for place, said in labels.items() if place.group in groups}
            if here:
                title = f"Running gear of {name} {part or arrangement}".strip()
                shown = [axle for axle in axles if axle.group in groups]
                out[name, part] = draw(shown, here, title=title)
    return out


def miles_label(units: Units) -> Callable[[Place, pd.DataFrame], Label]:
    """Labels that say the miles of the first wear point to reach its limit."""
    return lambda place, points: _label(place, points, units)


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
