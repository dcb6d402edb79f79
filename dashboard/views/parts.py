"""Where are our parts?"""

import streamlit as st

from dashboard.screen import data
from dashboard.screen.in_view import heading, in_view, nothing_yet, person
from dashboard.sections import parts, taking_in


def page() -> None:
    view = in_view()
    heading("Where are our parts?", view)
    if view is None or not data.exists():
        nothing_yet()
        return
    told = parts.parts()
    if told.now.empty:
        st.markdown(
            "No part has a number of its own here, so wear belongs to its place. Once wheelsets, boxes or "
            "rods are named in the tables *parts* and *fittings*, or an exchange is told below, wear goes "
            "with them."
        )
    else:
        parts.rack(told, view.units)
        parts.fitted(told, view.units)
    if person().may("add"):
        parts.tell_swap()
        parts.tell_fitting(told)
        if parts.REPORT in st.session_state:
            taking_in.report(st.session_state[parts.REPORT], key=parts.REPORT)


page()
