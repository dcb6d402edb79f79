"""From a forecast to what stands on the drawing: which wear points lie at which place, and what it says."""

from collections.abc import Callable, Hashable
from typing import Any

import pandas as pd

from dashboard.pictures.drawing import LOOKS, Drawing, Label, draw
from dashboard.words.gear_places import Place, place_from, wheelsets
from dashboard.words.units_shown import Units

Row = dict[Hashable, Any]
Labeller = Callable[[Place, list[Row]], Label]

PARTS = {"": ("leading", "driver", "trailing", "motion"), "tender": ("tender",)}
"""Pictures of a vehicle: the engine and its tender, which a telephone shows one under the other."""


def drawings(
    forecast: pd.DataFrame, vehicles: pd.DataFrame, label: Labeller
) -> dict[tuple[str, str], Drawing]:
    """A drawing by (vehicle, part) of each vehicle that has recognised places, in the order of ``vehicles``.

    Parameters
    ----------
    forecast : with ``state`` and ``place``.
    label : what to say at a place that has these wear points.
    """
    rows_at: dict[str, dict[str, list[Row]]] = {}
    # Plain rows: a frame a place would cost more than the drawing itself.
    columns = ["vehicle", "place", "state", "component", "quantity", "miles_p05"]
    for row in forecast.loc[forecast["place"] != "", columns].to_dict("records"):
        rows_at.setdefault(str(row["vehicle"]), {}).setdefault(str(row["place"]), []).append(row)
    drawn = {}
    for vehicle in vehicles.to_dict("records"):
        name, arrangement = str(vehicle["vehicle"]), str(vehicle["arrangement"] or "")
        by_place = {place_from(key): rows for key, rows in rows_at.get(name, {}).items()}
        labels = {place: label(place, rows) for place, rows in by_place.items()}
        axles = wheelsets(arrangement, labels)
        for part, groups in PARTS.items():
            shown_labels = {place: said for place, said in labels.items() if place.group in groups}
            if shown_labels:
                title = f"Running gear of {name} {part or arrangement}".strip()
                shown = [axle for axle in axles if axle.group in groups]
                drawn[name, part] = draw(shown, shown_labels, title=title)
    return drawn


def miles_label(units: Units) -> Labeller:
    """Labels that say the miles of the first wear point to reach its limit."""
    return lambda place, points: _label(place, points, units)


def _label(place: Place, points: list[Row], units: Units) -> Label:
    """The worst wear point of a place decides what it shows; where none has a forecast, the place says so."""
    forecast = [row for row in points if row["miles_p05"] == row["miles_p05"]]  # NaN is not equal to itself
    past = [row for row in points if row["state"] == "past"]
    wrong = [row for row in points if row["state"] == "implausible"]
    count = f"{len(points)} wear point" + ("s" if len(points) > 1 else "")
    untold = len(points) - len(forecast)
    gap = f"; of {untold} more nothing can be told" if forecast and untold else ""
    if past:
        say, state, text = f"{_what(past[0])} {LOOKS['past'].word}", "past", "past"
    elif wrong and not any(row["state"] == "year" for row in points):
        say, state, text = f"{_what(wrong[0])}, {LOOKS['implausible'].word}", "implausible", "?"
    elif not forecast:
        say, state, text = "miles left cannot be told", "unknown", "?"
    else:
        first = min(forecast, key=lambda row: float(row["miles_p05"]))
        state, text = str(first["state"]), units.short(first["miles_p05"])
        within = units.distance_text(first["miles_p05"])
        say = f"first to reach its limit: {_what(first)}, 1 in 20 after {within}"
    return Label(state, text, f"{place.words}: {say}; {count}{gap}")


def _what(row: Row) -> str:
    return f"{row['component']} {row['quantity']}"
