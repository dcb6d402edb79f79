"""What is known of each vehicle?"""

import streamlit as st

from dashboard.screen import address, data
from dashboard.screen.in_view import nothing_yet, person
from dashboard.sections import facts, taking_in


def page() -> None:
    st.title("What is known of each vehicle?")
    if not data.exists() or data.table("vehicles").empty:
        nothing_yet()
        return
    names = [str(name) for name in data.table("vehicles")["vehicle"]]
    vehicle = address.pick(st.selectbox, "Facts of", names, address.VEHICLE, where="-facts")
    facts.governs(vehicle)
    facts.stated(vehicle)
    if person().may("add"):
        facts.entry(vehicle)
        if facts.REPORT in st.session_state:
            taking_in.report(st.session_state[facts.REPORT], key=facts.REPORT)
    facts.not_stated(vehicle)


page()
