"""Is this batch right?"""

import streamlit as st

from dashboard.screen import address, data
from dashboard.screen.in_view import heading
from dashboard.sections import held_rows, layouts, moved, taking_in, unexpected

PARTS = {
    "add": "Add files",
    "layout": "A sheet with its own layout",
    "held": "Held back",
    "again": "Measure again",
    "moved": "What moved",
    "batches": "Batches",
}


def page() -> None:
    heading("Is this batch right?")
    waiting = held_rows.waiting()
    words = {**PARTS, "held": f"Held back ({len(waiting):,})"}
    part = address.pick(
        st.segmented_control,
        "Part",
        list(PARTS),
        "part",
        words=words.__getitem__,
        label_visibility="collapsed",
        required=True,
    )
    if part == "add":
        taking_in.add_page()
    elif part == "layout":
        layouts.page()
    elif part == "held":
        held_rows.page(waiting)
    elif part == "again":
        again_page()
    elif part == "moved":
        moved.page()
    elif data.exists():
        taking_in.batches_page()


def again_page() -> None:
    """Readings that wait for a second one."""
    if data.exists() and (point := unexpected.page(address.units())):
        address.go("views/point.py", point=point)


page()
