"""What does it cost, and why now?"""

from dataclasses import replace
from datetime import UTC, datetime

import streamlit as st

from dashboard.screen import access, state
from dashboard.screen.here import heading, here, nothing_yet, person
from dashboard.sections import case_lines, case_parts, excursion_parts


def page() -> None:
    now = here()
    title = "What does it cost, and why now?"
    if now is None:
        heading(title)
        nothing_yet()
        return
    heading(title, replace(now, vehicle=case_parts.engine(now)))
    turned_to = case_parts.turn(now)
    case, material = case_parts.case_for(now.run_id, turned_to)
    looks = case_parts.looks_of(turned_to)
    brief = case_parts.as_brief(case, looks)
    case_parts.shown(brief)
    case_lines.under_it(case, now)
    excursion_parts.excursion(case, now)
    st.subheader("To take along")
    case_parts.files(brief, case, looks)
    if person().may("plan"):
        case_parts.keep(case, material, turned_to)
    if person().may("all"):
        link_for_donors()


def link_for_donors() -> None:
    """A link that shows the case and nothing else; only where people sign in, else all is open anyway."""
    roles = access.roles_in_use()
    if roles is None:
        return
    st.subheader("A link for donors")
    st.markdown("Whoever has the link sees the case that was kept last, and nothing else.")
    days = st.number_input("Good for so many days", 1, 730, 90, key="donor-days")
    if st.button("Make the link"):
        address = roles.sign_in["redirect_uri"].removesuffix("/oauth2callback")
        token = access.donor_token(roles, datetime.now(UTC), int(days))
        st.code(f"{address}/?{state.SHARE}={token}", language=None)


page()
