"""Lives: the stretches of wear between two renewals, as padded arrays."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.lives.wear_scale import WearScale

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def combine_hash(key: NDArray[np.uint64], number: Ints) -> NDArray[np.uint64]:
    """Hash of a hash and a number, shape (n,).

    The finaliser of SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, OOPSLA 2014, 453-472).
    """
    z = key + number.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(z ^ (z >> np.uint64(31)))


@dataclass(frozen=True)
class Lives:
    """Readings of many lives, one row a life, readings in order of miles from column 0, NaN after the last.

    Attributes
    ----------
    family : shape (n,). Index of the family that each life belongs to, 0 .. n_families - 1.
    miles : shape (n, k). Miles since the life began, non-decreasing. [mi], >= 0
    wear : shape (n, k). Wear since new, growing toward the limit: s (y - y_new). [mm, or the point's unit]
    limit : shape (n,). Wear at the condemning limit, D = s (y_limit - y_new). Same unit, > 0
    gauge_sd : shape (n, k). Repeatability of the gauge. Same unit; NaN where it is not stated
    as_of_miles : shape (n,). Miles since the life began at which remaining miles are counted. [mi]
    ended : shape (n,). The life is over: the part was renewed.
    day : shape (n, k). Day of each reading, days since 1970-01-01. [d]; NaN where there is no reading
    miles_sd : shape (n, k), optional. Standard deviation of the miles, where they were estimated. [mi]
    unknown_step : shape (n, k), optional. True where the level may have changed by an unknown amount before
        the reading: a cut that nobody measured, or a first reading of a part whose past is not on record.
    place : shape (n,), optional. Lives that followed each other at one position share a number.
    key : shape (n,), optional. A hash of the wear point's name and the life's number: where some of many
        lives are learned from, it says which, whatever became of them.
    end_miles : shape (n,), optional. Miles at which an ended life was renewed, where nobody measured it then;
        NaN for any other. [mi]
    end_worn : shape (n,), optional. Whether it came off because it was worn: 1 told so, 0 told otherwise, NaN
        not told.
    """

    family: Ints
    miles: Floats
    wear: Floats
    limit: Floats
    gauge_sd: Floats
    as_of_miles: Floats
    ended: Bools
    day: Floats
    miles_sd: Floats | None = None
    unknown_step: Bools | None = None
    place: Ints | None = None
    key: NDArray[np.uint64] | None = None
    end_miles: Floats | None = None
    end_worn: Floats | None = None

    @property
    def count(self) -> Ints:
        """Readings of each life, shape (n,)."""
        return np.asarray(np.isfinite(self.wear).sum(axis=1))

    @property
    def n_families(self) -> int:
        """Number of families, counting every index up to the largest."""
        return int(self.family.max()) + 1 if len(self.family) else 0

    def take(self, rows: Ints) -> "Lives":
        """The lives of these rows, in their order."""
        taken: dict[str, Any] = {
            name: None if values is None else values[rows] for name, values in vars(self).items()
        }
        return Lives(**taken)


@dataclass(frozen=True)
class EveryLife:
    """Every life on record, used or not, in order of point and number, shape (all lives,).

    Attributes
    ----------
    point, renewals : its wear point, and the renewals of that point before it.
    began_day, began_odometer : [d], [mi]; NaN where nothing tells.
    new_then : whether the part was new when the life began.
    current : no renewal ended it.
    end_odometer : of the renewal that ended it, if the part was renewed and not measured then; else NaN. [mi]
    end_worn : 1 where it is told that the part came off because it was worn, 0 where it is told that it did
        not, NaN where nothing is told.
    """

    point: Ints
    renewals: Ints
    began_day: Floats
    began_odometer: Floats
    new_then: Bools
    current: Bools
    end_odometer: Floats
    end_worn: Floats


@dataclass(frozen=True)
class Suspected:
    """Renewals that are missing from the record, one entry each, shape (suspected,).

    Attributes
    ----------
    point : wear point.
    day_before, day_after : days of the last reading before the renewal and of the first after it. [d]
    """

    point: Ints
    day_before: Floats
    day_after: Floats


@dataclass(frozen=True)
class LifeTable:
    """Lives of all wear points and what is needed to speak of them in the points' own terms.

    Attributes
    ----------
    scale : direction, allowance and family of every wear point.
    as_of_day, as_of_odometer : shape (points,). [d], [mi]
    lives : every life that can be used, ordered by wear point and number; lives that begin with a suspected
        renewal come after all others.
    point, number : shape (n,). Wear point of each life; 1 for its first.
    began_day, began_odometer : shape (n,). [d], [mi]
    cut : shape (n, k). What was cut before each entry, to be added to its wear. [base unit]
    cut_now : shape (n,). What was cut in the whole life; ``lives.limit`` is the allowance less this. [base
        unit]
    source : shape (n, k). Row of the readings table behind each entry; -1: measured at the shop (work table).
    in_service : shape (points,). Row of the life in service; -1 where there is none.
    reason : shape (points,). Why a wear point cannot be forecast; empty where it can.
    suspected : renewals at which lives were cut although nobody wrote them down.
    every : every life on record, also of wear points that cannot be forecast from readings.
    read_off : shape (n, k). Wear that each reading's gauge showed too much, taken off ``lives.wear``; None:
        nothing was. [base unit]
    """

    scale: WearScale
    as_of_day: Floats
    as_of_odometer: Floats
    lives: Lives
    point: Ints
    number: Ints
    began_day: Floats
    began_odometer: Floats
    cut: Floats
    cut_now: Floats
    source: Ints
    in_service: Ints
    reason: NDArray[np.object_]
    suspected: Suspected
    every: EveryLife
    read_off: Floats | None = None
