"""What wears with a part and goes with it to its next place, and what stays at the place.

``kinds_of_part.csv`` names the kinds of part that have numbers of their own, ``belongs.csv`` says of each
what belongs to it. A part of another name carries what is measured on a component of that name.
"""

from functools import lru_cache

from ingest.catalogue.classify import named, part_and_measure
from ingest.catalogue.tables import records, table_of
from ingest.names.positions import canonical, read_position

PART, PLACE = "part", "place"
ON_AXLE = "axle"
"""Of a part that lies across both sides: its place is the axle."""


@lru_cache(maxsize=1)
def _kinds() -> dict[tuple[str, ...], tuple[str, str]]:
    """Kind of part and what it is fitted to, by the words of its name."""
    return {
        tuple(named(name).split()): (row["part"], row["fitted_to"])
        for row in records(table_of("kinds_of_part"))
        for name in row["names"].split("|")
    }


@lru_cache(maxsize=1)
def _components() -> frozenset[str]:
    """Names of components that the vocabulary knows."""
    return frozenset(name for names in table_of("vocabulary")["component"] for name in names.split("|"))


@lru_cache(maxsize=1)
def _belongs() -> tuple[tuple[str, frozenset[str], frozenset[str], str], ...]:
    return tuple(
        (
            row["part"],
            frozenset(row["component"].split("|")),
            frozenset(filter(None, row["quantity"].split("|"))),
            row["goes_with"],
        )
        for row in records(table_of("belongs"))
    )


@lru_cache(maxsize=4096)
def kind_of_part(component: str) -> tuple[str, str]:
    """Kind of part and what it is fitted to (``axle`` / ``side``), from what a part is called.

    The last words decide: *driving wheelset* is a wheelset. A name that is not of ``kinds_of_part.csv`` is a
    kind of its own, in one spelling, fitted to a side.
    """
    words = tuple(named(component).split())
    for start in range(len(words)):
        known = _kinds().get(words[start:])
        if known is not None:
            return known
        if " ".join(words[start:]) in _components():  # a valve crosshead is no crosshead
            break
    return " ".join(words), "side"


def position_of_part(position: str, kind: str) -> str:
    """Where a part of a kind sits, from the position of one of its wear points: a wheelset has no side."""
    _, fitted_to = kind_of_part(kind)
    read = read_position(position)
    if read is None or fitted_to != ON_AXLE or not read.number:
        return canonical(position)
    return f"{read.group} {read.number}".strip()


def kinds_with_places() -> tuple[str, ...]:
    """Kinds of part that have a row of their own."""
    return tuple(dict.fromkeys(kind for kind, _ in _kinds().values()))


@lru_cache(maxsize=8192)
def goes_with(kind: str, component: str, quantity: str) -> str:
    """Whether a quantity goes with a part of a kind (``part``), stays at the place (``place``), or has
    nothing to do with it (empty).

    Parameters
    ----------
    kind : as :func:`kind_of_part` names it.
    component, quantity : of a wear point, free text.
    """
    part, measure = part_and_measure(component, quantity)
    for of, components, quantities, belongs in _belongs():
        if of == kind and part in components and (not quantities or measure in quantities):
            return belongs
    return PART if kind in (named(component), part) else ""


def feature_of(component: str, quantity: str) -> tuple[str, str]:
    """What is measured, alike at all places of a part: part and measure of the catalogue, or the point's own
    words."""
    known = part_and_measure(component, quantity)
    return known if known[0] else (named(component), " ".join(quantity.lower().split()))
