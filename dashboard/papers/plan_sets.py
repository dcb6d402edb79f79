"""Tires and rims of a plan, set by set: what turnings leave of them, and what the plan does to them.

Print, page, workbook and PDF all show this one table.
"""

import math
from collections.abc import Callable, Hashable, Mapping
from typing import Any

import pandas as pd

from dashboard.words.units_shown import Units

Row = Mapping[Hashable, Any]

BEYOND = "beyond"
"""Miles to scrap of a set that is still running at the end of the years simulated."""
NOTHING = "nothing"
"""What the plan does to a set that it does not work on."""
SET_HEADS = (
    "Set",
    "In this plan",
    "Turnings left",
    "Scrap, half after",
    "New set: turnings",
    "New set: scrap, half after",
)
"""Headings of :func:`set_rows`: two of words, then figures."""


def plan_sets(turnings: pd.DataFrame, scope: pd.DataFrame) -> pd.DataFrame:
    """The sets with what the plan does to each.

    Parameters
    ----------
    turnings : frame of the plan (``models.tires.outlook.Outlook.table``).
    scope : frame of the plan.

    Returns
    -------
    The rows of ``turnings``; done: each work with the name of its window, comma between.
    """
    done = [_done_to(row, scope) for row in turnings.to_dict("records")]
    return turnings.assign(done=pd.Series(done, index=turnings.index, dtype=object))


def set_rows(sets: pd.DataFrame, far: Callable[[float], str]) -> list[list[str]]:
    """The sets as texts under ``SET_HEADS``. ``far`` writes miles; inf where a set is still running."""
    return [
        [
            str(row["matched_set"]),
            str(row["done"]),
            f"{row['turnings_p50']:.0f}",
            far(row["miles_p50"]),
            f"{row['next_turnings_p50']:.0f}",
            far(row["next_life_p50"]),
        ]
        for row in sets.to_dict("records")
    ]


def set_miles(value: float) -> str:
    """Miles to scrap, as print and papers have them."""
    return f"{value:,.0f} mi" if math.isfinite(value) else BEYOND


def set_far(miles: float, units: Units) -> str:
    """Miles to scrap, as pages have them: in the reader's unit, rounded."""
    return units.within_text(miles) if math.isfinite(miles) else BEYOND


def _done_to(row: Row, scope: pd.DataFrame) -> str:
    tires = set(str(row["positions"]).split(", "))
    own = scope[(scope["vehicle"] == row["vehicle"]) & (scope["component"] == row["component"])]
    own = own[own["position"].map(lambda text: set(str(text).split(", ")) == tires).astype(bool)]
    done = [f"{line['action']} {line['label']}" for line in own.sort_values("window").to_dict("records")]
    return ", ".join(done) or NOTHING
