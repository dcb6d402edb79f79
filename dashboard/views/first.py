"""What will stop us first?"""

import streamlit as st

from dashboard import show
from dashboard.first_parts import ahead_list, answer, beyond_list, not_told, outdated, running_gear
from dashboard.here import heading, here

FULL = {
    "vehicle": "Vehicle",
    "component": "Component",
    "position": "Position",
    "quantity": "Quantity",
    "last_value": "Last value",
    "unit": "Unit",
    "condemning_limit": "Limit",
    "miles_p05": "Miles, 1 in 20",
    "date_p05": "Date, 1 in 20",
    "miles_p50": "Miles, half",
    "date_p50": "Date, half",
    "readings_used": "Readings",
    "flags": "Remarks",
}


def page() -> None:
    now = here()
    heading("What will stop us first?", now)
    if now is None:
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
        show.table(
            now.forecast.sort_values("miles_p05"), "remaining-miles", words=FULL, alt_text="All wear points"
        )


page()
