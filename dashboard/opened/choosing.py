"""Which opening is looked at; beginning one and closing it."""

from collections.abc import Hashable
from datetime import date
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.screen import address, data, show
from dashboard.screen.access import roles_in_use
from dashboard.screen.in_view import person
from dashboard.shop.openings import begin, close
from dashboard.words.opening_words import open_words
from dashboard.words.plan_words import DEPTH_WORDS
from ingest.errors import UserError

Opening = dict[Hashable, Any]
SAID, BY = "opening-said", "opening-by"


def chosen() -> Opening | None:
    """The opening in the address, or the last one; None where none is on record."""
    openings = data.table("openings").sort_values("since", ascending=False, kind="stable")
    vehicle = address.chosen(address.VEHICLE)
    if vehicle in set(openings["vehicle"]):
        openings = openings[openings["vehicle"] == vehicle]
    said()
    if openings.empty:
        st.info("No opening is on record yet. It begins when an engine is opened in the shop.")
        return None
    rows = openings.set_index("opening", drop=False)
    names = [str(name) for name in rows.index]
    still = set(rows.index[rows["until"].isna()])
    words = {name: f"{name} (open)" if name in still else name for name in names}
    name = address.pick(st.selectbox, "Opening", names, address.OPENING, words=words.__getitem__)
    opening: Opening = rows.loc[name].to_dict()
    st.markdown(show.plain(open_words(opening)))
    if opening["note"]:
        st.caption(show.plain(opening["note"]))
    return opening


def say(message: str) -> None:
    """Say something once the page has run again."""
    st.session_state[SAID] = message
    st.rerun()


def by_whom(label: str, key: str) -> str:
    """A field for the name of who did it: whoever is signed in, else as it was typed last."""
    signed_in = person().name if roles_in_use() is not None else st.session_state.get(BY, "")
    return st.text_input(label, signed_in, key=key, placeholder="initials or name").strip()


def keep_name(name: str) -> None:
    """Offer the name in the next form, until the page is left."""
    st.session_state[BY] = name


def said() -> None:
    """What was to be said."""
    if SAID in st.session_state:
        st.success(show.plain(st.session_state.pop(SAID)))


def begin_or_close(opening: Opening | None) -> None:
    """The forms that begin an opening and close the one that is looked at."""
    with show.problems():
        if opening is not None and pd.isna(opening["until"]):
            _closing(opening)
        _beginning()


def _closing(opening: Opening) -> None:
    with st.expander("Close this opening"), st.form("opening-close"):
        until = st.date_input("Last day", "today", key="opening-until")
        if st.form_submit_button("Close it") and isinstance(until, date):
            try:
                close(data.store(), opening, until, who=person().name)
            except UserError as error:
                st.error(show.plain(error))
                return
            say(f"{opening['opening']} is closed.")


def _beginning() -> None:
    vehicles = [str(name) for name in data.table("vehicles")["vehicle"]]
    with st.expander("An engine is opened"), st.form("opening-begin"):
        cells = show.fields(4)
        vehicle = cells[0].selectbox("Vehicle", vehicles, key="opening-vehicle")
        since = cells[1].date_input("First day", "today", key="opening-since")
        depth = cells[2].selectbox("How deep", list(DEPTH_WORDS), format_func=DEPTH_WORDS.__getitem__)
        place = cells[3].text_input("Where", key="opening-place", placeholder="own shop, contractor")
        name = st.text_input("Name", key="opening-name", placeholder="vehicle and month, if left empty")
        if st.form_submit_button("Begin", type="primary") and isinstance(since, date):
            try:
                made = begin(
                    data.store(),
                    str(vehicle),
                    since,
                    name=name,
                    depth=str(depth),
                    place=place,
                    who=person().name,
                )
            except UserError as error:
                st.error(show.plain(error))
                return
            address.choose(address.OPENING, made)
            say(f"{made} is open.")
