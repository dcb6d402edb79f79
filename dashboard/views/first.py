"""What will stop us first?"""

import streamlit as st

from dashboard.screen import show
from dashboard.screen.in_view import InView, heading, in_view, nothing_yet
from dashboard.sections import wear_list
from dashboard.sections.first import (
    ahead_list,
    alarms_of_view,
    answer,
    beyond_list,
    outdated,
    overdue,
    past_by_checks,
    plan_lines,
    running_gear,
    without_forecast,
)
from dashboard.words.units_shown import in_units


def page() -> None:
    view = in_view()
    heading("What will stop us first?", view)
    if view is None:
        nothing_yet()
        return
    forecastable = view.forecast[view.forecast["miles_p50"].notna()].sort_values(["miles_p05", "miles_p50"])
    past, ahead = (
        view.forecast[view.forecast["state"] == "past"],
        forecastable[forecastable["state"] != "past"],
    )
    outdated(view)
    answer(view, past, ahead)
    overdue(view)
    alarms_of_view(view)
    running_gear(view)
    lines = plan_lines(view)
    beyond_list(view, past, lines)
    past_by_checks(view, past)
    ahead_list(view, ahead, lines)
    without_forecast(view)
    if st.toggle("All wear points as a table", key="first-table"):  # 500 rows only for who asks for them
        full_table(view)


def full_table(view: InView) -> None:
    """Every wear point, in the units chosen."""
    heads = wear_list.headings(view.units)
    distance = st.column_config.NumberColumn(format="localized")
    show.table(
        in_units(view.forecast.sort_values("miles_p05"), view.units),
        "remaining-miles",
        words=heads,
        alt_text="All wear points",
        formats={heads[name]: distance for name in wear_list.DISTANCES},
    )


page()
