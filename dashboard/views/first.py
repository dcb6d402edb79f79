"""What will stop us first?"""

import streamlit as st

from dashboard.screen import show
from dashboard.screen.here import Here, heading, here, nothing_yet
from dashboard.sections import wear_list
from dashboard.sections.first_parts import ahead_list, answer, beyond_list, not_told, outdated, running_gear
from dashboard.words.units_shown import in_units


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
    heads = wear_list.headings(now.units)
    distance = st.column_config.NumberColumn(format="localized")
    show.table(
        in_units(now.forecast.sort_values("miles_p05"), now.units),
        "remaining-miles",
        words=heads,
        alt_text="All wear points",
        formats={heads[name]: distance for name in wear_list.DISTANCES},
    )


page()
