"""Our own two elements in the browser: the drawing and the ranked list. Data go in, a pick comes out."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.pictures.drawing import LOOKS, Drawing, swatch
from dashboard.pictures.wear_course import Stroke, end_words
from dashboard.services.states import LIKELY
from dashboard.words.units_shown import Units
from models.frequency import times_in

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
    key = _allowed(key)
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


def _allowed(key: str) -> str:
    """The key without two underscores in a row, which no element may have; different keys stay different."""
    return key.replace("_", "_.")


def picked_place(value: object, vehicles: list[str]) -> tuple[str, str] | None:
    """Read ``index:place`` as it comes from the browser; None if it fits nothing that is shown."""
    index, _, place = str(value or "").partition(":")
    if not index.isdigit() or int(index) >= len(vehicles) or not place:
        return None
    return vehicles[int(index)], place


@dataclass(frozen=True)
class Picked:
    """What was chosen in a list just now: a wear point to be opened, or its line in the plan."""

    opened: str | None = None
    planned: str | None = None


def ranked(
    forecast: pd.DataFrame,
    units: Units,
    *,
    caption: str,
    key: str,
    with_vehicle: bool = False,
    planned: Mapping[str, str] | None = None,
) -> Picked:
    """Show wear points in the order given; what was chosen just now.

    ``planned``: what the plan does about a wear point, by its name; None leaves the column out.
    """
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
    columns = {
        "state": "How soon",
        "low": "1 in 20 at the limit by",
        "middle": "Half at the limit by",
        "span": "From 1 in 20 to 19 in 20, half at the mark",
    }
    return _wear_list(rows, columns, caption, key, planned)


def past(
    forecast: pd.DataFrame, units: Units, *, caption: str, key: str, planned: Mapping[str, str] | None = None
) -> Picked:
    """Show wear points that are past their limit, by what was read; what was chosen just now."""
    rows = [
        {
            **_name(row, with_vehicle=True),
            "word": times_in(row["p_beyond_now"]) if row["p_beyond_now"] >= LIKELY else "as last read",
            "low": units.text(row["last_value"], row["unit"]),
            "low_date": month(row["last_date"]),
            "middle": units.text(row["condemning_limit"], row["unit"]),
            "middle_date": "",
        }
        for row in forecast.to_dict("records")
    ]
    columns = {"state": "Past its limit", "low": "Last reading", "middle": "Limit"}
    return _wear_list(rows, columns, caption, key, planned)


WHY_NOT = {"not_later": "Why not later", "not_sooner": "Why not sooner"}


def work(
    scope: pd.DataFrame, wear: Mapping[str, Mapping[str, Stroke]], *, caption: str, key: str
) -> str | None:
    """Show the lines of a window in the order given; the wear point that was opened just now.

    Columns read: point, component, position, action, why (a word), reason, not_later, not_sooner, cost,
    currency, labor_hours. ``wear``: strokes by wear point (``pictures.wear_course.courses``).
    """
    rows = [
        {
            "key": str(row["point"]),
            "more": [f"{word}: {row[name]}." for name, word in WHY_NOT.items() if row[name]],
            "wear": _strokes(wear.get(str(row["point"]))),
            "name": f"{row['component']} – {row['action']}",
            "where": str(row["position"]),
            "word": str(row["why"]),
            "why": str(row["reason"]),
            "low": f"{row['currency']} {row['cost']:,.0f}" if pd.notna(row["cost"]) else "no price",
            "low_date": "",
            "middle": f"{row['labor_hours']:,.0f} h" if pd.notna(row["labor_hours"]) else "",
            "middle_date": "",
        }
        for row in scope.to_dict("records")
    ]
    columns = {"name": "Work", "state": "Why now", "why": "Reason", "low": "Cost", "middle": "Hours"}
    if any(row["wear"] for row in rows):
        columns["wear"] = "Wear: dashed without the work, full with it"
    return _list(rows, columns, caption, key).opened


def _strokes(course: Mapping[str, Stroke] | None) -> dict[str, Any] | None:
    return None if course is None else {**course, "said": end_words(course)}


def _name(row: dict[Any, Any], with_vehicle: bool) -> dict[str, Any]:
    return {
        "key": str(row["point"]),
        "name": f"{row['component']} – {row['quantity']}",
        "where": f"{row['vehicle']}, {row['position']}" if with_vehicle else str(row["position"]),
        "state": row["state"],
    }


def _wear_list(
    rows: list[dict[str, Any]],
    columns: dict[str, str],
    caption: str,
    key: str,
    planned: Mapping[str, str] | None,
) -> Picked:
    if planned is not None:
        rows = [{**row, "plan": planned.get(row["key"], "")} for row in rows]
        columns = {**columns, "plan": "In the plan"}
    return _list(rows, {"name": "Wear point", **columns}, caption, key)


def _list(rows: list[dict[str, Any]], columns: dict[str, str], caption: str, key: str) -> Picked:
    """A list in the browser: its rows, and the heading of each column by the name of the cells."""
    data = {
        "caption": caption,
        "headings": list(columns.items()),
        "short_headings": [columns[name].replace(" at the limit", "") for name in ("low", "middle")],
        "rows": rows,
    }
    result = _ranked(
        key=_allowed(key), data=data, on_opened_change=lambda: None, on_planned_change=lambda: None
    )
    return Picked(*(str(chosen) if chosen else None for chosen in (result.opened, result.planned)))


def month(date: pd.Timestamp) -> str:
    """``May 2027``; empty where there is no date."""
    return "" if pd.isna(date) else f"{date:%b %Y}"
