"""What a wear point is, from its free text: part and measure in the catalogue's words, group, axle, side.

A text that is not recognised stays unclassified: the point is still forecast, only no published limit and no
check across points speaks of it.
"""

import re
from functools import lru_cache

import pandas as pd

from ingest.catalogue.tables import records, table_of
from ingest.names.positions import read_position

_GROUP_OF = {"tender truck": "tender", "engine": ""}
"""Axle group of the catalogue, where the name of a position's group is another."""
_BRAKE = re.compile(r"\bbrake\b")


@lru_cache(maxsize=1)
def _rules() -> tuple[tuple[re.Pattern[str], re.Pattern[str], str, str], ...]:
    return tuple(
        (re.compile(row["component_words"]), re.compile(row["quantity_words"]), row["part"], row["measure"])
        for row in records(table_of("vocabulary"))
    )


@lru_cache(maxsize=8192)
def part_and_measure(component: str, quantity: str) -> tuple[str, str]:
    """Part and measure of the catalogue: ``("driver tire", "thickness")`` is ``("tire", "thickness")``.

    Returns
    -------
    Two empty texts where the words are not recognised.
    """
    what, how = component.strip().lower(), quantity.strip().lower()
    if _BRAKE.search(what):
        return "", ""
    for component_words, quantity_words, part, measure in _rules():
        if component_words.search(what) and quantity_words.search(how):
            return part, measure
    return "", ""


def classify(wear_points: pd.DataFrame) -> pd.DataFrame:
    """Wear points with what the catalogue calls them.

    Parameters
    ----------
    wear_points : component, position, quantity (free text); any other columns are kept.

    Returns
    -------
    The same rows, with part, measure, group (engine truck / driver / trailing truck / tender, or empty), axle
    (number within the group; 0 where none is named), axle_to (second axle of a gap, else 0), side (left /
    right, or empty).
    """
    names = [
        part_and_measure(str(component), str(quantity))
        for component, quantity in zip(wear_points["component"], wear_points["quantity"], strict=True)
    ]
    places = [_place(position) for position in wear_points["position"].fillna("").astype(str)]
    return wear_points.assign(
        part=[part for part, _ in names],
        measure=[measure for _, measure in names],
        group=[place[0] for place in places],
        axle=[place[1] for place in places],
        axle_to=[place[2] for place in places],
        side=[place[3] for place in places],
    )


def _place(text: str) -> tuple[str, int, int, str]:
    position = read_position(text)
    if position is None:
        return "", 0, 0, ""
    side = f"inside {position.side}".strip() if position.inside else position.side
    return _GROUP_OF.get(position.group, position.group), position.number, position.until, side
