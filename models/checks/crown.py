"""Journal, crown brass and lining together: after truing, bore the brass again, line it, or renew it.

A journal that was turned down leaves the brass too wide. Boring a smaller bearing into a wider one moves its
center into the crown: metal is taken at the top that no wear took. A lining (babbitt) fills the gap instead
and keeps the crown (common practice, no source).
"""

from dataclasses import dataclass, fields
from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.assumed import assumed_values

Floats = NDArray[np.float64]

ADVICE = ("bore the brass", "line the brass", "renew the brass", "no least crown thickness stated")


@dataclass(frozen=True)
class CrownAssumptions:
    """What truing and boring take; the catalogue holds the values and where they come from.

    Attributes
    ----------
    bearing_half_angle : half of the arc over which the brass bears. [deg], in (0, 90]
    journal_cleanup : taken off the diameter to true the journal, below its worst reading. [mm]
    running_clearance : diametral clearance after boring. [mm]
    least_lining : thinnest lining that is cast. [mm]
    """

    bearing_half_angle: float
    journal_cleanup: float
    running_clearance: float
    least_lining: float

    @classmethod
    def of(cls, table: pd.DataFrame) -> Self:
        """From rows assumption, value, unit of the topic ``crown``.

        Raises
        ------
        NotPossible : an assumption is missing.
        """
        names = [field.name for field in fields(cls)]
        return cls(**assumed_values(table, names, "crown thickness"))


def crown_taken(bore: Floats, bore_after: Floats, half_angle_deg: float) -> Floats:
    """Crown thickness that boring a brass anew takes.

    Parameters
    ----------
    bore : diameter of the bearing now. [mm]
    bore_after : diameter to be bored. [mm]
    half_angle_deg : half of the arc that must bear afterwards. [deg]

    Returns
    -------
    Metal taken at the crown. [mm], >= 0

    Notes
    -----
    Radii R now and r after. The new arc, its center raised by h, must lie in metal over the whole arc: at the
    angle t from the crown ``r^2 + h^2 + 2 r h cos t >= R^2``, hardest at the ends, so ``h = sqrt(R^2 - r^2
    sin^2 t) - r cos t`` and the crown loses ``h + r - R``. For r >= R it is bored about its own center and
    loses ``r - R``.
    """
    old, new = np.asarray(bore, float) / 2.0, np.asarray(bore_after, float) / 2.0
    angle = np.deg2rad(half_angle_deg)
    raised = np.sqrt(np.maximum(old**2 - (new * np.sin(angle)) ** 2, 0.0)) - new * np.cos(angle)
    return np.where(new >= old, new - old, np.maximum(raised + new - old, 0.0))


def boxes_after_truing(values: pd.DataFrame, assumptions: CrownAssumptions) -> pd.DataFrame:
    """What each driving box would need if its journal were trued today.

    Parameters
    ----------
    values : wear points with part, measure, group, axle, side, condemning_limit, and value, low, date of the
        last reading. Needed at one place: journal diameter and crown brass thickness; taken where they were
        measured: crown brass bore, or its clearance on the journal.

    Returns
    -------
    vehicle, position, points, journal (worst diameter now), journal_after, bore, bore_after, crown (now),
    crown_bored (left if the brass is bored), crown_least (its limit; NaN: none stated), lining (thickness
    that fills the gap), crown_lined (left under the lining), advice (one of ``ADVICE``), how_bore, all in mm;
    date (the older reading).
    """
    rows = _measured_boxes(values)
    known = np.where(rows["bore"].notna(), "measured", "from the clearance")
    rows["how_bore"] = np.where(
        rows["bore"].notna() | rows["clearance"].notna(), known, "running clearance assumed"
    )
    clearance = rows["clearance"].fillna(assumptions.running_clearance)
    rows["bore"] = rows["bore"].fillna(rows["journal"] + clearance)
    rows["journal_after"] = rows["journal"] - assumptions.journal_cleanup
    rows["bore_after"] = rows["journal_after"] + assumptions.running_clearance
    bored = crown_taken(
        rows["bore"].to_numpy(), rows["bore_after"].to_numpy(), assumptions.bearing_half_angle
    )
    gap = (rows["bore"] - rows["bore_after"]) / 2.0
    rows["lining"] = np.maximum(gap, assumptions.least_lining)
    rows["crown_bored"] = rows["crown"] - bored
    rows["crown_lined"] = rows["crown"] - (rows["lining"] - gap)
    bore, line, renew, no_limit = ADVICE
    rows["advice"] = np.select(
        [
            rows["crown_least"].isna(),
            rows["crown_bored"] > rows["crown_least"],
            rows["crown_lined"] > rows["crown_least"],
        ],
        [no_limit, bore, line],
        renew,
    )
    rows["points"] = rows["point_1"] + ", " + rows["point_2"]
    rows["date"] = rows[["date_1", "date_2"]].min(axis=1)
    return rows[_BOX_COLUMNS]


_PLACE = ["vehicle", "group", "axle", "side"]
_BOX_COLUMNS = [
    "vehicle", "position", "points", "journal", "journal_after", "bore", "bore_after", "crown", "crown_bored",
    "crown_least", "lining", "crown_lined", "advice", "how_bore", "date",
]  # fmt: skip


def _measured_boxes(values: pd.DataFrame) -> pd.DataFrame:
    """Boxes whose journal and crown are measured, with bore and clearance where those are too."""
    journal = _measure(
        values, "journal", "diameter", {"low": "journal", "point": "point_1", "date": "date_1"}
    )
    of_crown = {"value": "crown", "condemning_limit": "crown_least", "point": "point_2", "date": "date_2"}
    crown = _measure(values, "crown brass", "thickness", of_crown)
    rows = journal.merge(crown, on=_PLACE, suffixes=("", "_crown"))
    for measure in ("bore", "clearance"):
        column = _measure(values, "crown brass", measure, {"value": measure})[[*_PLACE, measure]]
        rows = rows.merge(column, on=_PLACE, how="left")
    return rows


def _measure(values: pd.DataFrame, part: str, measure: str, names: dict[str, str]) -> pd.DataFrame:
    """Rows of one measure of the driving boxes, columns renamed."""
    rows = values[(values["part"] == part) & (values["measure"] == measure) & (values["group"] == "driver")]
    return rows[[*_PLACE, "position", *names]].rename(columns=names)
