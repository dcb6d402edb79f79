"""The order in which somebody walks around an engine: down its left side, back up its right."""

import pandas as pd

from dashboard.words.gear_places import place_from, place_of

_GROUPS = ("motion", "leading", "driver", "trailing", "tender")
_LAST = len(_GROUPS)
UNDRAWN = "elsewhere"
"""Place of wear points whose position the drawing does not know."""


def with_place(forecast: pd.DataFrame) -> pd.DataFrame:
    """The forecast with ``place``: the key of the place on the drawing, empty where it is not recognised."""
    names = forecast[["position", "component"]].fillna("")
    places = {pair: place_of(*pair) for pair in names.drop_duplicates().itertuples(index=False, name=None)}
    keys = {pair: place.key if place else "" for pair, place in places.items()}
    return forecast.assign(place=[keys[pair] for pair in names.itertuples(index=False, name=None)])


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
