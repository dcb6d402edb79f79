"""The railway's own figures: limits, shop limits and dimensions of new parts, as it states them."""

from typing import Any

import pandas as pd

from ingest.catalogue.tables import figure, records
from ingest.errors import WrongUsage
from ingest.units import base_unit, from_base, to_base, unit_of

OWN_COLUMNS = ("component", "quantity", "bound", "value", "unit")
_WORDS = {"bound": ("min", "max"), "condemned_when": ("at", "beyond"), "tier": ("condemning", "shop", "new")}


def own_limits(frame: pd.DataFrame, unit: str) -> pd.DataFrame:
    """The railway's own limits, checked and in the unit of the limit set.

    Parameters
    ----------
    frame : component, quantity, bound (min / max), value (as written: 1 1/2), unit; optional group, tier
        (condemning / shop / new: the dimension of a new part), condemned_when (at / beyond, empty = at),
        source.
    unit : unit of the set they are laid beside: in or mm.

    Returns
    -------
    The same columns, ``value`` a number in ``unit``; counts and shares keep their own unit.

    Raises
    ------
    WrongUsage : a column is missing, or a row holds a word or figure that cannot be read.
    """
    missing = [column for column in OWN_COLUMNS if column not in frame]
    if missing:
        raise WrongUsage(f"own limits: column {missing[0]!r} is missing. Expected {', '.join(OWN_COLUMNS)}.")
    defaults = {"group": "", "tier": "condemning", "condemned_when": "at", "source": ""}
    table = frame.astype(object).where(frame.notna(), "").astype(str)
    table = table.assign(**{key: table.get(key, "") for key in defaults})
    for key, default in defaults.items():
        table[key] = table[key].where(table[key] != "", default)
    rows = [_own_row(row, place, unit) for place, row in enumerate(records(table), start=1)]
    return pd.DataFrame(rows, columns=[*OWN_COLUMNS, *defaults])


def _own_row(row: dict[str, Any], place: int, unit: str) -> dict[str, Any]:
    where = f"own limits, row {place}"
    if row["tier"] == "new":
        row = {**row, "bound": "min"}  # the dimension of a new part bounds nothing
    for column, words in _WORDS.items():
        if row[column] not in words:
            raise WrongUsage(f"{where}: {column} {row[column]!r}. Expected {' or '.join(words)}.")
    own_unit = "1" if row["unit"] == "1" else unit_of(str(row["unit"]))
    if own_unit is None:
        raise WrongUsage(
            f"{where}: unit {row['unit']!r} cannot be read. Expected in, mm, 1/64 in, count, 1, ..."
        )
    try:
        value = figure(str(row["value"]))
    except (ValueError, ZeroDivisionError):
        raise WrongUsage(f"{where}: value {row['value']!r} is no figure. Write 1 1/2 or 38.1.") from None
    if pd.isna(value):
        raise WrongUsage(f"{where}: no value. State the figure, or take the row out.")
    if base_unit(own_unit) == base_unit(unit):
        value, own_unit = from_base(to_base(value, own_unit), unit), unit
    return {**row, "value": round(value, 9), "unit": own_unit}
