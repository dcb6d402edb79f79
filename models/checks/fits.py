"""Fits at reassembly: what goes together in the shop, before it is pressed, hung or closed.

They hold when an engine leaves the shop and say nothing of one in service, where the same parts have worn.
"""

from collections.abc import Hashable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from models.checks.findings_frame import COLUMNS, Found, judged, worst_first
from models.checks.measured import Ints, LastRead, as_texts, numbered, pairs

INCH_MM = 25.4
WORDS = {
    "alone": "",
    "less bore": "outside diameter less bore, for one of diameter",
    "less pin": "bore less pin, for one of diameter",
    "over inches": "press load to an inch of the diameter of the seat",
    "left against right": "axles stand square only where both sides agree",
}
"""What is worked out from the two that go together."""


def reassembly(values: pd.DataFrame, fits: pd.DataFrame) -> pd.DataFrame:
    """Each fit of which both parts were measured, against what it must be.

    Parameters
    ----------
    values : wear points as ``ingest.catalogue.classify`` gives them, base_unit among the columns, with their
        last reading (value, low, high, places, date).
    fits : as ``ingest.catalogue.reassembly_fits`` gives them.

    Returns
    -------
    ``models.checks.findings_frame.COLUMNS``, the worst first; what is within is there too.
    """
    about = ["check", "part", "measure", "beside", "with_part", "with_measure", "units", "base_unit"]
    found = []
    for fit in fits[about].drop_duplicates("check").to_dict("records"):
        of_unit = values["base_unit"].isin(str(fit["units"]).split("|"))
        beside = (values["part"] == fit["with_part"]) & (values["measure"] == fit["with_measure"])
        points = LastRead.of(values[of_unit | (beside & (values["base_unit"] == "mm"))])
        found.append(_found(points, fit))
    rows = judged(found, fits, {}) if found else pd.DataFrame(columns=COLUMNS)
    remedies = {(row["check"], row["bound"]): row["remedy"] for row in fits.to_dict("records")}
    asked = zip(rows["check"], rows["bound"], rows["verdict"], strict=True)
    rows["remedy"] = [remedies.get((c, b), "") if v != "within" else "" for c, b, v in asked]
    return worst_first(rows)


def _found(points: LastRead, fit: Mapping[Hashable, Any]) -> Found:
    """What one fit shows, named by the first of its parts."""
    first = np.concatenate(
        [points.rows(part, str(fit["measure"])) for part in str(fit["part"]).split("|")]
        or [np.zeros(0, np.int64)]
    )
    beside = str(fit["beside"])
    if beside == "alone":
        first = first[np.argsort(points.point[first].astype(str), kind="stable")]
        return _named(points, first, first, fit, points.value[first])
    if beside == "left against right":
        place = numbered(points.vehicle, points.group, points.axle, points.axle_to)
        left, right = pairs(place, *(first[points.side[first] == side] for side in ("left", "right")))
        return _named(points, left, right, fit, np.abs(points.value[left] - points.value[right]))
    place = numbered(points.vehicle, points.group, points.axle, points.axle_to, points.side)
    one, other = pairs(place, first, points.rows(str(fit["with_part"]), str(fit["with_measure"])))
    with np.errstate(
        divide="ignore", invalid="ignore"
    ):  # a diameter of 0 is a reading mistyped: inf shows it
        if beside == "over inches":
            return _named(points, one, other, fit, points.value[one] / (points.value[other] / INCH_MM))
        share = (points.value[one] - points.value[other]) / points.value[other]
    return _named(points, one, other, fit, share)


def _named(
    points: LastRead, first: Ints, second: Ints, fit: Mapping[Hashable, Any], value: np.ndarray
) -> Found:
    alone = fit["beside"] == "alone"
    names = [
        str(one) if alone else f"{one}, {other}"
        for one, other in zip(points.point[first], points.point[second], strict=True)
    ]
    both = fit["beside"] == "left against right"
    places = [str(words).removesuffix(" left") if both else str(words) for words in points.position[first]]
    return Found(
        check=str(fit["check"]),
        vehicle=points.vehicle[first],
        position=as_texts(places),
        points=as_texts(names),
        found=value,
        date=np.minimum(points.date[first], points.date[second]),
        detail=WORDS[str(fit["beside"])],
        base_unit=str(fit["base_unit"]),
    )
