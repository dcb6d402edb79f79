"""What an opening found: wear points beside their forecast, and located defects, in words."""

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from dashboard.services.scoring import found_at
from ingest import catalogue
from ingest.store import Store
from ingest.value_state import value_states
from models.checks.examined import examined_in, is_sound


def as_found(store: Store, opening: Mapping[Hashable, Any], version: int | None = None) -> pd.DataFrame:
    """Readings as found beside the forecast of the day before, with the state of each
    (``ingest.value_state``).

    Columns of :func:`dashboard.services.scoring.found_at`, and ``state``.
    """
    rows = found_at(store, dict(opening), version)
    about = store.read("wear_points", version=version).set_index("point").loc[rows["point"]].reset_index()
    state = value_states(rows["found"] / about["per_base"], about)
    return rows.assign(state=state.to_numpy())


def findings_of(defects: pd.DataFrame, opening: str) -> pd.DataFrame:
    """Located defects of an opening, as they were told, with ``sound``: nothing was found."""
    rows = defects[defects["opening"] == opening]
    rows = rows.assign(sound=is_sound(rows, catalogue.nothing_found()))
    return rows.sort_values(["sound", "date", "component", "position"], kind="stable", ignore_index=True)


def examined(defects: pd.DataFrame, opening: str) -> pd.DataFrame:
    """Parts examined and found defective in an opening: component, examined, defective."""
    counts = examined_in(defects[defects["opening"] == opening], catalogue.nothing_found())
    return counts[["component", "examined", "defective"]]
