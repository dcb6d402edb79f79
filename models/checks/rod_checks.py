"""Checks of rods, pins and bushings: tram, clearances of separate bores and pins, lost motion, press fits."""

from collections.abc import Iterator

import numpy as np

from models.checks.findings_frame import Found
from models.checks.measured import Floats, Ints, LastRead, as_texts, numbered, pairs

TAKE_UP = (
    "half the bearing clearances at both pins: a greater misfit is taken up by the bearings at every turn "
    "and the rods bind (common practice, no source)"
)


def rods(points: LastRead) -> Iterator[Found]:
    """What rods, pins and bushings show.

    Parameters
    ----------
    points : wear points with their last reading.

    Yields
    ------
    Tram (rod bores center to center against the axle spacing of the same side), axle spacing left against
    right, rod bearing clearance and bearing clearance (bore less pin or journal where both were measured),
    main rod lost motion (both ends together), bushing interference (outside diameter of the bushing less bore
    of the rod, a mm of diameter).
    """
    place = numbered(points.vehicle, points.group, points.axle, points.axle_to, points.side)
    yield _tram(points, place)
    yield _parallel(points)
    yield _clearance(points, place)
    yield _bearing(points, place)
    yield _lost_motion(points)
    yield _interference(points, place)


def _tram(points: LastRead, place: Ints) -> Found:
    rod, gap = pairs(
        place, points.rows("side rod", "bore centers"), points.rows("axle spacing", "axle centers")
    )
    misfit = points.value[rod] - points.value[gap]
    words = np.select([misfit == 0, misfit > 0], ["equal", "rod longer than the axle spacing"], "rod shorter")
    front, back = (_rod_clearance(points, rod, axle[rod]) for axle in (points.axle, points.axle_to))
    return _of_pairs(
        points, rod, gap, "tram", np.abs(misfit),
        detail=words.astype(object), row_limit=(front + back) / 2.0, row_source=TAKE_UP,
    )  # fmt: skip


def _rod_clearance(points: LastRead, rods: Ints, axles: Ints) -> Floats:
    """Clearance of the side rod at the pins of these axles, on the side of each rod; NaN: not measured."""
    where = (points.vehicle, points.group, points.side)
    known: dict[tuple[object, ...], float] = {}
    for row in points.rows("side rod", "clearance"):
        key = (*(column[row] for column in where), int(points.axle[row]))
        known.setdefault(key, float(points.value[row]))
    keys = zip(*(column[rods] for column in where), axles.tolist(), strict=True)
    return np.array([known.get(key, np.nan) for key in keys], float)


def _parallel(points: LastRead) -> Found:
    spacing = points.rows("axle spacing", "axle centers")
    gap = numbered(points.vehicle, points.group, points.axle, points.axle_to)
    left, right = pairs(gap, *(spacing[points.side[spacing] == side] for side in ("left", "right")))
    position = as_texts([str(words).removesuffix(" left") for words in points.position[left]])
    apart = np.abs(points.value[left] - points.value[right])
    return _of_pairs(
        points, left, right, "axle spacing, left against right", apart,
        detail="axles stand square only where both sides agree", position=position,
    )  # fmt: skip


def _clearance(points: LastRead, place: Ints) -> Found:
    bore, pin = pairs(place, points.rows("side rod bushing", "bore"), points.rows("crank pin", "diameter"))
    less = points.value[bore] - points.value[pin]
    return _of_pairs(points, bore, pin, "rod bearing clearance", less, detail="bore less pin")


def _bearing(points: LastRead, place: Ints) -> Found:
    bore, journal = pairs(place, points.rows("crown brass", "bore"), points.rows("journal", "diameter"))
    less = points.value[bore] - points.value[journal]
    return _of_pairs(points, bore, journal, "bearing clearance", less, detail="brass bore less journal")


def _lost_motion(points: LastRead) -> Found:
    # The ends of one rod share vehicle and position: "left", or "engine 2 left" of an articulated one.
    ends = (points.rows("main rod", f"{end} end clearance") for end in ("back", "front"))
    back, front = pairs(numbered(points.vehicle, points.position), *ends)
    both = points.value[back] + points.value[front]
    return _of_pairs(
        points, back, front, "main rod lost motion", both, detail="back end and front end together"
    )


def _interference(points: LastRead, place: Ints) -> Found:
    bushing, bore = pairs(
        place, points.rows("side rod bushing", "outside diameter"), points.rows("side rod", "bore")
    )
    with np.errstate(divide="ignore", invalid="ignore"):  # a bore of 0 is a reading mistyped: inf shows it
        share = (points.value[bushing] - points.value[bore]) / points.value[bore]
    words = "outside diameter less bore, for one of diameter"
    return _of_pairs(points, bushing, bore, "bushing interference", share, detail=words, base_unit="1")


def _of_pairs(
    points: LastRead, first: Ints, second: Ints, check: str, found: Floats, **more: object
) -> Found:
    """What pairs of points show, named by the first."""
    about = {"position": points.position[first], "base_unit": "mm", **more}
    return Found(
        check=check,
        vehicle=points.vehicle[first],
        points=points.point[first] + ", " + points.point[second],
        found=found,
        date=np.minimum(points.date[first], points.date[second]),
        **about,  # type: ignore[arg-type]
    )
