"""Gauges as people see them: what their certificate says, and how their readings count in a forecast."""

from datetime import date
from typing import Any

import pandas as pd

from dashboard.words.units_shown import Units
from ingest.units import from_base
from models.gauges.read_twice import repeatability, sd_used


def gauges_of(gauges: pd.DataFrame, blind: pd.DataFrame, today: date) -> list[dict[str, str]]:
    """Gauges on record by number, each with what its certificate says today and how its readings count.

    Parameters
    ----------
    gauges : table of the store. blind : ``Store.read_blind``.
    """
    twice = repeatability(blind)
    newest = gauges.sort_values("since", na_position="first").drop_duplicates("gauge", keep="last")
    return [
        {
            "gauge": str(row["gauge"]),
            "instrument": str(row["instrument"]),
            "says": "; ".join(part for part in (_certificate(row, today), counts_with(row, twice)) if part),
        }
        for row in newest.sort_values("gauge").to_dict("records")
    ]


def counts_with(gauge: dict[Any, Any], twice: pd.DataFrame) -> str:
    """Which deviation a forecast takes for readings of a gauge, and from what; empty where nothing tells.

    Parameters
    ----------
    gauge : its row: gauge, unit, repeatability [base unit]. twice : of ``repeatability``.
    """
    unit, stated = str(gauge["unit"]), float(gauge["repeatability"])
    own = twice[twice["gauge"] == str(gauge["gauge"]).strip()]
    if own.empty:
        return "" if pd.isna(stated) else f"counts with {_text(stated, unit)}, as stated"
    sd, pairs = float(own["sd"].iloc[0]), int(own["pairs"].iloc[0])
    found = f"{pairs} read twice say {_text(sd, unit)}"
    if not stated > 0:
        return f"{found}; that is set against what is stated of each wear point"
    used = float(sd_used(stated, sd, pairs))
    why = f"stated {_text(stated, unit)}, {found}"
    return f"counts with {_text(used, unit)}: {why}"


def _text(value: float, unit: str) -> str:
    return Units().text(from_base(value, unit), unit)


def _certificate(row: dict[Any, Any], today: date) -> str:
    if pd.isna(row["until"]):
        return "no date of a certificate on record"
    until = pd.Timestamp(row["until"])
    ended = until < pd.Timestamp(today)
    return f"certificate {'ended on' if ended else 'until'} {until:%-d %B %Y}"
