"""Readings at the engine: the way to the page for telephones, and what there is to know of it."""

from urllib.parse import urlsplit

import streamlit as st

from dashboard.screen import data, show
from dashboard.screen.in_view import heading, nothing_yet
from dashboard.sections.doorway import HOW, address_of, keeps_for_offline, only_here


def page() -> None:
    heading("Readings at the engine")
    if not data.exists() or data.table("wear_points").empty:
        nothing_yet()
        return
    st.markdown(
        "A page of its own for a telephone beside the pit: large keys, one wear point after the other as one "
        "walks, without a connection too. What is due to be read comes first, and why."
    )
    left, right, _ = st.columns([2, 3, 2])
    left.link_button("Take readings", "pit/", type="primary", icon=":material/straighten:")
    right.link_button("Print a sheet, or type one in", "pit/desk", icon=":material/print:")
    address = address_of(st.context.url)
    if address:
        st.markdown("On the telephone, open this address:")
        st.code(address, language=None)
        if only_here(address):
            st.info("This address is good on this very machine; a telephone needs that of the server.")
        elif not keeps_for_offline(address):
            here = show.plain(urlsplit(address).netloc)
            st.warning(
                f"**{here} is reached without HTTPS.** A telephone then keeps no page for use without a "
                "connection; what is noted on an open page is kept all the same. Whoever runs the server: "
                "README, *Serving*."
            )
    for question, answer in HOW.items():
        st.subheader(question)
        st.markdown(answer)


page()
