"""Assumptions of the catalogue, read from its table by name."""

from collections.abc import Iterable

import pandas as pd

from ingest.errors import NotPossible
from ingest.units import to_base


def assumed_values(table: pd.DataFrame, names: Iterable[str], topic: str) -> dict[str, float]:
    """Values of named assumptions.

    Parameters
    ----------
    table : assumption, value, unit: rows of one topic, as ``ingest.catalogue`` gives them.
    names : assumptions that are needed.
    topic : words for the message.

    Returns
    -------
    By name, in base unit: mm for lengths, degrees and shares as they are.

    Raises
    ------
    NotPossible : an assumption is missing.
    """
    values = {str(r.assumption): to_base(float(r.value), str(r.unit)) for r in table.itertuples()}  # type: ignore[arg-type]
    missing = [name for name in names if name not in values]
    if missing:
        raise NotPossible(f"{topic}: no value for assumption {missing[0]!r}. State one.")
    return {name: values[name] for name in names}
