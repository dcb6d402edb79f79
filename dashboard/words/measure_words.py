"""What to measure first in words: the round, what it saves, and its rows, for command, page and paper."""

from collections.abc import Hashable, Mapping
from typing import Any

import numpy as np
import pandas as pd

FIRST_SHARE = 0.2
"""Share of the list that makes up a round where no minutes are stated: it holds most of what all readings
save."""
CARRIERS_TOLD = 2
"""Readings of a round whose work is named with its price."""


def round_of(table: pd.DataFrame, minutes: float | None) -> pd.DataFrame:
    """The readings of one round, in the order of the walk.

    Parameters
    ----------
    table : columns ``models.measure.first.COLUMNS``. minutes : that there are for each vehicle; None for the
        first fifth of its list.
    """
    parts = []
    for _, own in table.groupby("vehicle", sort=True):
        ranked = own.sort_values("rank")
        if minutes is None:
            chosen = ranked.head(int(np.ceil(FIRST_SHARE * len(ranked))))
        else:
            chosen = ranked[ranked["minutes"].cumsum() <= minutes]
        parts.append(chosen.sort_values("stop"))
    return pd.concat(parts, ignore_index=True) if parts else table


def round_words(own: pd.DataFrame, walk: pd.DataFrame, currency: str) -> str:
    """What a round saves of all that readings would save.

    Parameters
    ----------
    own : the whole list of one vehicle. walk : its rows in the round. currency : of the plan; empty if its
        prices name none.
    """
    return (
        f"{len(walk)} of {len(own)} readings, {walk['minutes'].sum():,.0f} minutes, may save"
        f" {_money(walk['saves'].sum(), currency)} of the {own['saves'].sum():,.0f} that all would."
    )


def carried_words(walk: pd.DataFrame, currency: str) -> list[str]:
    """The readings of a round that save most, each with the price of the work that depends on it."""
    told = walk[walk["carries"].notna()].sort_values("rank").head(CARRIERS_TOLD)
    return [
        f"{row['quantity']} of {row['component']} {row['position']}, {_since(row)}, carries"
        f" {_money(row['carries'], currency)} of this plan."
        for row in told.to_dict("records")
    ]


def _money(amount: float, currency: str) -> str:
    return f"{currency} {amount:,.0f}".strip()


def _since(row: Mapping[Hashable, Any]) -> str:
    return f"last read {row['last_date']:%b %Y}" if pd.notna(row["last_date"]) else "never read"
