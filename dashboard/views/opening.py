"""What did the opening show?"""

import streamlit as st

from dashboard.opened import befell, choosing, findings, left, papers, readings, scope, taught
from dashboard.screen import address, data
from dashboard.screen.in_view import nothing_yet, person

PARTS = {
    "found": "As found",
    "findings": "Findings",
    "scope": "Scope and money",
    "left": "As left",
    "papers": "Papers",
    "taught": "What it taught",
}


def page() -> None:
    st.title("What did the opening show?")
    if not data.exists() or data.table("vehicles").empty:
        nothing_yet()
        return
    opening = choosing.chosen()
    if opening is not None:
        part = address.section(PARTS)
        {
            "found": readings.as_found,
            "findings": findings.page,
            "scope": scope.page,
            "left": left.page,
            "papers": papers.page,
            "taught": taught.page,
        }[part](opening)
        befell.page(str(opening["vehicle"]))
    if person().may("add"):
        choosing.begin_or_close(opening)


page()
