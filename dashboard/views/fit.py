"""Does it still fit together?"""

import streamlit as st

from dashboard.screen import state
from dashboard.screen.here import heading, here, nothing_yet
from dashboard.sections import fit_parts

PARTS = {
    "checks": "What must agree",
    "tires": "Turnings left",
    "boxes": "Driving boxes",
    "due": "Inspections due",
}


def page() -> None:
    now = here()
    heading("Does it still fit together?", now)
    if now is None:
        nothing_yet()
        return
    if fit_parts.too_many(now) and not now.vehicle:
        st.info("So many wear points are looked at one vehicle at a time. Choose a vehicle on the left.")
        return
    part = state.pick(
        st.segmented_control,
        "Part",
        list(PARTS),
        "part",
        words=PARTS.__getitem__,
        label_visibility="collapsed",
        required=True,
    )
    {
        "checks": fit_parts.checks,
        "tires": fit_parts.tires,
        "boxes": fit_parts.boxes,
        "due": fit_parts.inspections,
    }[part](now)


page()
