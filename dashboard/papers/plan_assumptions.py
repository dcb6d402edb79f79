"""What a plan assumes, in words, and where each value comes from."""

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pandas as pd

from dashboard.services.plan_material import PlanChoices, usual_rules
from dashboard.words.assumptions import STATED, accepted_chances
from dashboard.words.plan_words import DEPTH_WORDS


def plan_assumptions(about: Mapping[str, Any]) -> pd.DataFrame:
    """What a plan assumes: assumption, value (text), unit, source.

    Parameters
    ----------
    about : of a plan's run: the choices it was made with.
    """
    table = pd.read_csv(Path(__file__).with_suffix(".csv"), keep_default_na=False)
    usual, chosen = _flat(asdict(PlanChoices())), _flat(about)
    known = table[table["name"].isin([name for name in chosen if chosen[name] is not None])]
    values = [chosen[name] for name in known["name"]]
    sources = [
        source if chosen[name] == usual[name] else STATED
        for name, source in zip(known["name"], known["source"], strict=True)
    ]
    texts = [value if isinstance(value, str) else f"{value:,.6g}" for value in values]
    money = str(about.get("currency") or "in the currency of the price list")
    units = known["unit"].replace("money", money)
    rows = {"assumption": known["what"], "value": texts, "unit": units, "source": sources}
    accepted = accepted_chances(about.get("rules", {}), asdict(usual_rules()))
    return pd.concat(
        [accepted, pd.DataFrame(rows), _openings(about), _turning(about), _fitting(about)], ignore_index=True
    )


def _openings(about: Mapping[str, Any]) -> pd.DataFrame:
    """What an opening weighs that has no price."""
    rows = [
        (
            f"opening to {DEPTH_WORDS[str(row['depth'])]}, which has no price, weighs as",
            f"{row['share_of_part']:,.6g}",
            f"middle prices of a part; {row['labor_hours']:,.0f} hours, {row['days_out']:,.0f} days",
            row["source"],
        )
        for row in about.get("openings_weighed", [])
    ]
    return pd.DataFrame(rows, columns=["assumption", "value", "unit", "source"], dtype=object)


def _turning(about: Mapping[str, Any]) -> pd.DataFrame:
    """What a turning is taken to need; no row in a plan of a store without tires."""
    taken, everywhere = about.get("turning_taken", []), ", ".join(about.get("vehicles", []))
    rows = [
        (
            f"turning: {row['meaning']}" + ("" if row["of"] == everywhere else f" ({row['of']})"),
            f"{row['value']:,.6g}",
            "" if row["unit"] == "1" else row["unit"],
            row["source"],
        )
        for row in taken
    ]
    return pd.DataFrame(rows, columns=["assumption", "value", "unit", "source"], dtype=object)


def _fitting(about: Mapping[str, Any]) -> pd.DataFrame:
    """What fitting a spare takes where the price list does not name it."""
    row = (
        "fitting a part of the spares rack, which has no price, takes of the longest renewal there",
        "the hours and days",
        "none of the price",
        "common practice, no source",
    )
    rows = [row] if about.get("fitting_assumed") else []
    return pd.DataFrame(rows, columns=["assumption", "value", "unit", "source"], dtype=object)


def _flat(about: Mapping[str, Any]) -> dict[str, Any]:
    """Values by name, those of the rules and of the simulation beside the others."""
    return {**about, **about.get("rules", {}), **about.get("assumptions", {})}
