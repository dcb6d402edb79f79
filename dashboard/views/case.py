"""What does it cost, and why now?"""

from dataclasses import replace
from datetime import UTC, datetime

import streamlit as st

from dashboard.screen import access, address
from dashboard.screen.in_view import heading, in_view, nothing_yet, person
from dashboard.sections import case as sections
from dashboard.sections.case_lines import under_it
from dashboard.sections.excursion import excursion


def page() -> None:
    view = in_view()
    title = "What does it cost, and why now?"
    if view is None:
        heading(title)
        nothing_yet()
        return
    heading(title, replace(view, vehicle=sections.engine(view)))
    turned_to = sections.turn(view)
    case, material = sections.case_for(view.run_id, turned_to)
    looks = sections.looks_of(turned_to)
    brief = sections.as_brief(case, looks)
    sections.shown(brief)
    under_it(case, view)
    excursion(case, view)
    st.subheader("Files to download")
    sections.files(sections.as_kept(case, looks))
    if person().may("plan"):
        sections.keep(case, material, turned_to)
    sections.kept_and_shown(person())
    if person().may("all"):
        link_for_donors()


def link_for_donors() -> None:
    """A link that shows the case and nothing else; only where people sign in, else all is open anyway."""
    roles = access.roles_in_use()
    if roles is None:
        return
    st.subheader("A link for donors")
    st.markdown("Whoever has the link sees the brief that is shown to donors, as it was kept, and no more.")
    days = st.number_input("Good for so many days", 1, 730, 90, key="donor-days")
    if st.button("Make the link"):
        site = roles.sign_in["redirect_uri"].removesuffix("/oauth2callback")
        token = access.donor_token(roles, datetime.now(UTC), int(days))
        st.code(f"{site}/?{address.SHARE}={token}", language=None)


page()
