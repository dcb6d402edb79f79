"""Wear points as a table to download, in the units chosen."""

import pandas as pd

from dashboard.screen import show
from dashboard.words.units_shown import Units, in_units

COLUMNS = {
    "vehicle": "Vehicle",
    "component": "Component",
    "position": "Position",
    "quantity": "Quantity",
    "last_value": "Last value",
    "condemning_limit": "Limit",
    "miles_p05": "1 in 20 after",
    "date_p05": "1 in 20 by",
    "miles_p50": "Half after",
    "date_p50": "Half by",
    "readings_used": "Readings",
    "flags": "Remarks",
}
DISTANCES = ("miles_p05", "miles_p50")


def headings(units: Units) -> dict[str, str]:
    """Heading of each column, distances with their unit."""
    return COLUMNS | {name: f"{COLUMNS[name]} [{units.distance}]" for name in DISTANCES}


def downloads(forecast: pd.DataFrame, units: Units, name: str) -> None:
    """The buttons under a list of wear points: what the list shows, and as of when."""
    words = {**headings(units), "as_of": "As of"}
    show.downloads(in_units(forecast, units)[list(words)].rename(columns=words), name)
