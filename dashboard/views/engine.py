"""Readings at the engine: for a telephone beside the pit."""

from datetime import UTC, datetime

import streamlit as st

from dashboard.screen.in_view import heading, in_view, nothing_yet, person
from dashboard.screen.sitting import REPORT, readings_taken, start_over, taken_page
from dashboard.sections import at_engine, taking_in
from dashboard.sections.engine import engine_at, measuring


def page() -> None:
    view = in_view()
    heading("Readings at the engine", view)
    if view is None:
        nothing_yet()
        return
    measuring(view, engine_at(view))
    saving()
    if REPORT in st.session_state:
        taking_in.report(st.session_state[REPORT], key=REPORT)


def saving() -> None:
    """The readings of this sitting, and the button that saves them as a batch."""
    kept = readings_taken()
    if not kept:
        return
    st.subheader(f"Kept so far: {len(kept)}")
    taken_page(kept)
    if st.button(f"Save {len(kept)} as a batch", type="primary", key="engine-save"):
        who, moment = person().name, datetime.now(UTC)
        file = taking_in.Made(
            f"at-the-engine-{moment:%Y%m%d-%H%M%S}.csv", at_engine.as_file(kept, moment.date(), who)
        )
        st.session_state[REPORT] = taking_in.take_in([file], who)
        start_over()
        st.rerun()


page()
