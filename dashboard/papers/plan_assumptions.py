"""What a plan assumes, in words, and where each value comes from."""

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pandas as pd

from dashboard.services.plan_material import PlanChoices

STATED = "stated for this plan"
"""Source of a value that differs from what is assumed where nothing is stated."""


def plan_assumptions(about: Mapping[str, Any]) -> pd.DataFrame:
    """What a plan assumes: assumption, value (text), unit, source.

    Parameters
    ----------
    about : of a plan's run: the choices it was made with.
    """
    table = pd.read_csv(Path(__file__).with_suffix(".csv"), keep_default_na=False)
    usual, chosen = _flat(asdict(PlanChoices())), _flat(about)
    known = table[table["name"].isin(chosen)]
    values = [chosen[name] for name in known["name"]]
    sources = [
        source if chosen[name] == usual[name] else STATED
        for name, source in zip(known["name"], known["source"], strict=True)
    ]
    texts = [value if isinstance(value, str) else f"{value:,.6g}" for value in values]
    rows = {"assumption": known["what"], "value": texts, "unit": known["unit"], "source": sources}
    return pd.DataFrame(rows).reset_index(drop=True)


def _flat(about: Mapping[str, Any]) -> dict[str, Any]:
    """Values by name, those of the rules and of the simulation beside the others."""
    return {**about, **about.get("rules", {}), **about.get("assumptions", {})}
