"""What a wear point is, from its free text: part and measure in the catalogue's words, group, axle, side.

A text that is not recognised stays unclassified: the point is still forecast, only no published limit and no
check across points speaks of it.
"""

import re
from functools import lru_cache

import pandas as pd

from ingest.catalogue.tables import records, table_of

GROUPS = ("engine truck", "driver", "trailing truck", "tender")
_POSITION = re.compile(
    r"^(?P<group>engine truck|driver|trailing truck|tender)(?: (?P<axle>\d+))?(?:-(?P<axle_to>\d+))?"
    r"(?: (?P<side>left|right))?$"
)
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


@lru_cache(maxsize=8192)
def _place(position: str) -> tuple[str, int, int, str]:
    match = _POSITION.match(position.strip().lower())
    if match is None:
        bare = position.strip().lower()
        return "", 0, 0, bare if bare in ("left", "right") else ""
    axle, axle_to = (int(match.group(name) or 0) for name in ("axle", "axle_to"))
    return match.group("group"), axle, axle_to, match.group("side") or ""
