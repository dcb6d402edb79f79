"""Does it still fit together?"""

import streamlit as st

from dashboard.screen import address
from dashboard.screen.in_view import heading, in_view, nothing_yet
from dashboard.sections import fit, fit_lists

PARTS = {
    "checks": "What must agree",
    "tires": "Turnings left",
    "boxes": "Driving boxes",
    "due": "Inspections due",
}


def page() -> None:
    view = in_view()
    heading("Does it still fit together?", view)
    if view is None:
        nothing_yet()
        return
    if fit.too_many(view) and not view.vehicle:
        st.info("So many wear points are looked at one vehicle at a time. Choose a vehicle on the left.")
        return
    part = address.section(PARTS)
    {
        "checks": fit.checks,
        "tires": fit_lists.tires,
        "boxes": fit_lists.boxes,
        "due": fit_lists.inspections,
    }[part](view)


page()
