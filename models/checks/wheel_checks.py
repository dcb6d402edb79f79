"""Checks of wheels against each other: diameters on one axle and over the coupled axles, back to back."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from ingest.catalogue.conditions import CARRYING
from ingest.catalogue.differences import OF_CARRYING
from models.checks.findings_frame import Found
from models.checks.measured import (
    Bools,
    Floats,
    Groups,
    Ints,
    LastRead,
    Measured,
    Texts,
    as_texts,
    numbered,
)

FROM_THICKNESS = "from tire thickness, wheel centers taken alike"


@dataclass(frozen=True)
class Sizes:
    """Diameters of wheels: arrays of one length.

    Attributes
    ----------
    row : row of the wear point.
    value : diameter, or twice the thickness of the tire: enough for a difference. [mm]
    scale : 1 where the diameter was measured, 2 for a thickness.
    on_axle, in_set : numbers of its axle and of the set that is turned together.
    coupled : name of that set.
    """

    row: Ints
    value: Floats
    scale: Floats
    on_axle: Ints
    in_set: Ints
    coupled: Texts

    def only(self, kept: Bools) -> "Sizes":
        """Some of them."""
        return Sizes(**{name: column[kept] for name, column in vars(self).items()})

    @property
    def how(self) -> Texts:
        """Empty where the diameter was measured, else how it was come by."""
        return np.where(self.scale == 1.0, "", FROM_THICKNESS).astype(object)


def wheels(points: LastRead) -> Iterator[Found]:
    """What the wheels show.

    Parameters
    ----------
    points : wear points with their last reading.

    Yields
    ------
    Same axle diameters, coupled diameters, back to back and over flanges, back to back around the axle (its
    variation). A difference of diameters is taken from the thickness of the tires where no diameter was
    measured: then the wheel centers are taken as of one diameter, and ``detail`` says so.
    """
    sizes = diameters(points)
    same = sizes.only(one_kind(sizes, sizes.on_axle))
    axle = points.group + np.array([f" {number}" for number in points.axle.tolist()], object)
    yield _spread(points, same, same.on_axle, "same axle diameters", axle[same.row])
    drivers = sizes.only(points.group[sizes.row] == "driver")
    drivers = drivers.only(one_kind(drivers, drivers.in_set))
    yield _spread(points, drivers, drivers.in_set, "coupled diameters", drivers.coupled)
    spaced = (points.measure == "back to back") | (points.measure == "over flanges")
    spaced = np.flatnonzero(spaced & (points.part == "wheelset"))
    between = _plain(points, spaced, points.value[spaced], points.measure[spaced])
    carried = np.isin(points.group[spaced], CARRYING)
    yield replace(between, limited_as=np.where(carried, points.measure[spaced] + OF_CARRYING, ""))
    around = spaced[(points.places[spaced] > 1) & (points.measure[spaced] == "back to back")]
    yield _plain(points, around, points.high[around] - points.low[around], "back to back around the axle")


def diameters(points: Measured) -> Sizes:
    """Diameter of every wheel, measured ones first, or twice its tire's thickness."""
    wheel = ((points.part == "tire") | (points.part == "wheel")) & (points.side != "") & (points.axle > 0)
    measured = np.flatnonzero(wheel & (points.measure == "diameter"))
    thick = np.flatnonzero(wheel & (points.part == "tire") & (points.measure == "thickness"))
    row = np.concatenate([measured, thick])
    scale = np.repeat([1.0, 2.0], [len(measured), len(thick)])
    vehicle = points.vehicle[row]
    coupled = np.where(points.matched_set[row] == "", vehicle.astype(str), points.matched_set[row])
    return Sizes(
        row=row,
        value=scale * points.value[row],
        scale=scale,
        on_axle=numbered(vehicle, points.group[row], points.axle[row]),
        in_set=numbered(vehicle, coupled),
        coupled=coupled,
    )


def one_kind(sizes: Sizes, together: Ints) -> Bools:
    """Which wheels are of the kind, measured or from thickness, that more wheels of their axle or set have.

    A measured diameter is never held against a doubled thickness.

    Parameters
    ----------
    together : ``sizes.on_axle`` or ``sizes.in_set``.
    """
    thick = sizes.scale != 1.0
    count = np.bincount(2 * together + thick, minlength=2 * (together.max(initial=-1) + 1)).reshape(-1, 2)
    kept: Bools = thick == (count[:, 1] > count[:, 0])[together]
    return kept


def _spread(points: LastRead, sizes: Sizes, together: Ints, check: str, place: Texts) -> Found:
    """Largest less smallest of every axle or set of two wheels or more."""
    several = np.bincount(together)[together] > 1 if len(together) else np.zeros(0, bool)
    sizes, together, place = sizes.only(several), together[several], place[several]
    groups, position = Groups.of(together), points.position[sizes.row]
    high, low = (np.lexsort((way * sizes.value, together))[groups.start] for way in (-1.0, 1.0))
    how = sizes.how[groups.first]
    words = [
        f"largest {large}, smallest {small}" + (f"; {way}" if way else "")
        for large, small, way in zip(position[high], position[low], how, strict=True)
    ]
    return Found(
        check=check,
        vehicle=points.vehicle[sizes.row][groups.first],
        position=place[groups.first],
        points=groups.joined(points.point[sizes.row]),
        found=sizes.value[high] - sizes.value[low],
        date=np.minimum.reduceat(points.date[sizes.row][groups.order], groups.start),
        detail=as_texts(words),
        instead=np.where(how == "", "", "Measure the diameters over the tread.").astype(object),
    )


def _plain(points: LastRead, rows: Ints, found: Floats, check: Texts | str) -> Found:
    return Found(
        check=check,
        vehicle=points.vehicle[rows],
        position=points.position[rows],
        points=points.point[rows],
        found=found,
        date=points.date[rows],
        detail="",
    )
