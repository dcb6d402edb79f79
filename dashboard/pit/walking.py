"""The order in which somebody walks around an engine: down its left side, back up its right."""

from collections.abc import Sequence

import pandas as pd

from dashboard.pictures.drawing import Drawing, Label, draw
from dashboard.pictures.gear_places import Place, place_from, wheelsets
from dashboard.pictures.places import with_place

_GROUPS = ("motion", "leading", "driver", "trailing", "tender")
_LAST = len(_GROUPS)
UNDRAWN = "elsewhere"
"""Place of wear points whose position the drawing does not know."""


def walked(points: pd.DataFrame) -> pd.DataFrame:
    """The wear points of one vehicle in walking order, with ``place`` and ``where`` in words.

    Parameters
    ----------
    points : point, component, position, quantity.
    """
    named = with_place(points).replace({"place": {"": UNDRAWN}})
    keys = {key: _turn(key) for key in named["place"].unique()}
    order = named.assign(turn=named["place"].map(keys))
    order = order.sort_values(["turn", "position", "component", "quantity", "point"], kind="stable")
    words = order["place"].map({key: _words(key) for key in keys})
    undrawn = order["place"] == UNDRAWN
    where = words.mask(undrawn & (order["position"] != ""), order["position"])
    return order.assign(where=where).drop(columns="turn").reset_index(drop=True)


def _turn(key: str) -> tuple[int, int, int, int]:
    """Place of a place in the walk: side, group, axle; the axle itself comes after its left wheel."""
    if key == UNDRAWN:
        return 2, 0, 0, 0
    place = place_from(key)
    group = _GROUPS.index(place.group) if place.group in _GROUPS else _LAST
    if place.side == "R":
        return 1, -group, -place.number, 0
    return 0, group, place.number, int(place.side == "")


def _words(key: str) -> str:
    return "not on the drawing" if key == UNDRAWN else place_from(key).words


def picture(places: Sequence[str], vehicle: str, arrangement: str) -> Drawing | None:
    """The running gear with the number of each place in the walk; it says nothing of any value."""
    labels: dict[Place, Label] = {}
    for number, key in enumerate(places, start=1):
        if key != UNDRAWN:
            place = place_from(key)
            labels[place] = Label("none", str(number), f"{number}: {place.words}")
    if not labels:
        return None
    return draw(
        wheelsets(arrangement, labels), labels, title=f"Running gear of {vehicle} {arrangement}".strip()
    )
