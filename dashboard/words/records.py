"""Rows of a frame as plain values or named tuples, for JSON and for words."""

import math
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

Row = Any
"""A row of a frame as a named tuple: what it holds is the frame's contract, unseen by a type checker."""


def rows_of(frame: "pd.DataFrame") -> list[Row]:
    """Rows as named tuples."""
    return list(frame.itertuples())


def as_records(frame: "pd.DataFrame") -> list[dict[str, Any]]:
    """Rows as dictionaries, None for what is missing or infinite."""
    plain = frame.astype(object).where(frame.notna(), None)
    return [{str(key): finite(value) for key, value in row.items()} for row in plain.to_dict("records")]


def finite(value: object) -> object:
    """The same with None for every number, however deep in it, that JSON cannot hold."""
    if isinstance(value, dict):
        return {key: finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [finite(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def for_json(frame: "pd.DataFrame") -> list[dict[str, Any]]:
    """Rows as dictionaries that JSON can hold: as :func:`as_records`, days as text."""
    plain = frame.copy()
    for name in plain.columns[plain.dtypes.astype(str).str.startswith("datetime")]:
        plain[name] = plain[name].dt.strftime("%Y-%m-%d")
    return as_records(plain)
