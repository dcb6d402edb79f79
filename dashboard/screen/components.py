"""Our own two elements in the browser: the drawing and the ranked list. Data go in, a pick comes out."""

from pathlib import Path
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.pictures.drawing import LOOKS, Drawing, swatch
from dashboard.words.units_shown import Units

_ASSETS = Path(__file__).parents[1] / "assets"


def _asset(name: str) -> str:
    return (_ASSETS / name).read_text(encoding="utf-8")


# Registered once for the process: registering again for each run would tell every browser to build anew.
_gear = st.components.v2.component(
    "milesleft_gear", html='<div class="gear"></div>', css=_asset("gear.css"), js=_asset("gear.js")
)
_ranked = st.components.v2.component(
    "milesleft_ranked", html='<div class="ranked"></div>', css=_asset("ranked.css"), js=_asset("ranked.js")
)


def gear(drawings: dict[tuple[str, str], Drawing], key: str) -> tuple[str, str] | None:
    """Show drawings by (vehicle, part); what was picked last, as (vehicle, key of the place)."""
    before = st.session_state.get(key, {}).get("place")
    data = {
        "drawings": [
            {"name": ", ".join(filter(None, name)), "scene": drawn.scene, "width": drawn.width}
            for name, drawn in drawings.items()
        ],
        "legend": [
            {"word": look.word, "swatch": swatch(state)} for state, look in LOOKS.items() if state != "none"
        ],
        "picked": before,
    }
    result = _gear(key=key, data=data, default={"place": before}, on_place_change=lambda: None)
    return picked_place(result.place, [vehicle for vehicle, _ in drawings])


def picked_place(value: object, vehicles: list[str]) -> tuple[str, str] | None:
    """Read ``index:place`` as it comes from the browser; None if it fits nothing that is shown."""
    index, _, place = str(value or "").partition(":")
    if not index.isdigit() or int(index) >= len(vehicles) or not place:
        return None
    return vehicles[int(index)], place


def ranked(
    forecast: pd.DataFrame, units: Units, *, caption: str, key: str, with_vehicle: bool = False
) -> str | None:
    """Show wear points in the order given; the point that was opened, if one was just now."""
    furthest = forecast["miles_p50"].max() * 1.6 if forecast["miles_p50"].notna().any() else 1.0
    spans = (forecast[["miles_p05", "miles_p50", "miles_p95"]] / max(furthest, 1.0)).clip(0.0, 1.0)
    rows = [
        {
            **_name(row, with_vehicle),
            "word": LOOKS[row["state"]].word,
            "low": units.within_text(row["miles_p05"]),
            "middle": units.within_text(row["miles_p50"]),
            "low_date": month(row["date_p05"]) if row["miles_p05"] > 0 else "",
            "middle_date": month(row["date_p50"]) if row["miles_p50"] > 0 else "",
            "span": [float(v) for v in span] if pd.notna(row["miles_p50"]) else None,
        }
        for row, span in zip(forecast.to_dict("records"), spans.to_numpy(), strict=True)
    ]
    headings = ("How soon", "1 in 20 at the limit within", "Half at the limit within")
    return _list(rows, headings, "From 1 in 20 to 19 in 20, half at the mark", caption, key)


def past(forecast: pd.DataFrame, units: Units, *, caption: str, key: str) -> str | None:
    """Show wear points that are past their limit, by what was read; the point that was opened just now."""
    rows = [
        {
            **_name(row, with_vehicle=True),
            "word": cases(row["p_beyond_now"]),
            "low": units.text(row["last_value"], row["unit"]),
            "low_date": month(row["last_date"]),
            "middle": units.text(row["condemning_limit"], row["unit"]),
            "middle_date": "",
            "span": None,
        }
        for row in forecast.to_dict("records")
    ]
    return _list(rows, ("Past its limit", "Last reading", "Limit"), "", caption, key)


def cases(chance: float) -> str:
    return f"in {100 * chance:.0f} of 100 cases" if chance < 0.995 else "in over 99 of 100 cases"


def _name(row: dict[Any, Any], with_vehicle: bool) -> dict[str, Any]:
    return {
        "key": str(row["point"]),
        "name": f"{row['component']} – {row['quantity']}",
        "where": f"{row['vehicle']}, {row['position']}" if with_vehicle else str(row["position"]),
        "state": row["state"],
    }


def _list(
    rows: list[dict[str, Any]], headings: tuple[str, str, str], span: str, caption: str, key: str
) -> str | None:
    words = zip(("name", "state", "low", "middle"), ("Wear point", *headings), strict=True)
    data = {
        "caption": caption,
        "headings": [*words, *([("span", span)] if span else [])],
        "short_headings": [heading.replace(" at the limit", "") for heading in headings[1:]],
        "rows": rows,
    }
    result = _ranked(key=key, data=data, on_opened_change=lambda: None)
    return str(result.opened) if result.opened else None


def month(date: pd.Timestamp) -> str:
    """``May 2027``; empty where there is no date."""
    return "" if pd.isna(date) else f"{date:%b %Y}"
