"""Rows of a frame as plain values, for JSON and for words."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd


def as_records(frame: "pd.DataFrame") -> list[dict[str, Any]]:
    """Rows as dictionaries, None for what is missing."""
    plain = frame.astype(object).where(frame.notna(), None)
    return [{str(key): value for key, value in row.items()} for row in plain.to_dict("records")]
