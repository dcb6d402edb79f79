"""What will stop us first?"""

import streamlit as st

from dashboard import show
from dashboard.first_parts import ahead_list, answer, beyond_list, not_told, outdated, running_gear
from dashboard.here import Here, heading, here, nothing_yet
from dashboard.units_shown import in_units

FULL = {
    "vehicle": "Vehicle",
    "component": "Component",
    "position": "Position",
    "quantity": "Quantity",
    "last_value": "Last value",
    "condemning_limit": "Limit",
    "miles_p05": "1 in 20 within",
    "date_p05": "1 in 20 by",
    "miles_p50": "Half within",
    "date_p50": "Half by",
    "readings_used": "Readings",
    "flags": "Remarks",
}


def page() -> None:
    now = here()
    heading("What will stop us first?", now)
    if now is None:
        nothing_yet()
        return
    told = now.forecast[now.forecast["miles_p50"].notna()].sort_values(["miles_p05", "miles_p50"])
    past, ahead = told[told["state"] == "past"], told[told["state"] != "past"]
    outdated(now)
    answer(now, past, ahead)
    running_gear(now)
    beyond_list(now, past)
    ahead_list(now, ahead)
    not_told(now)
    if st.toggle("All wear points as a table", key="first-table"):  # 500 rows only for who asks for them
        full_table(now)


def full_table(now: Here) -> None:
    """Every wear point, in the units chosen."""
    distance = now.units.distance
    miles = {"miles_p05": f"1 in 20 within [{distance}]", "miles_p50": f"Half within [{distance}]"}
    money = st.column_config.NumberColumn(format="localized")
    show.table(
        in_units(now.forecast.sort_values("miles_p05"), now.units),
        "remaining-miles",
        words={**FULL, **miles},
        alt_text="All wear points",
        formats=dict.fromkeys(miles.values(), money),
    )


page()
