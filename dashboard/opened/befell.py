"""What befell an engine between openings: hot bearing, derailment, another lubricant; listed and told."""

from datetime import date

import pandas as pd
import streamlit as st

from dashboard.opened.choosing import say
from dashboard.screen import data, show
from dashboard.screen.in_view import person
from dashboard.shop.entries import store_event
from dashboard.words.numbers import day_words
from ingest.errors import UserError

KINDS = ("hot bearing", "derailment", "lubricant", "lining", "new profile", "flood", "collision")
WHOLE = "the whole engine"


def page(vehicle: str) -> None:
    """The events on record of a vehicle, the last first, and the form for the next."""
    events = data.table("events")
    own = events[events["vehicle"] == vehicle].sort_values("date", ascending=False, kind="stable")
    with st.expander(f"What befell {show.plain(vehicle)}: {len(own)} on record"):
        for row in own.to_dict("records"):
            where = row["point"] or row["component"] or WHOLE
            note = f": {row['note']}" if row["note"] else ""
            said = f"{day_words(row['date'])}, {row['event']}, {where}{note}"
            st.markdown(f"- {show.plain(said)}")
        st.caption(
            "Hot bearings and changes of lubricant count for the hidden defects that the next opening is "
            "expected to show."
        )
        if person().may("add"):
            _entry(vehicle)


def _entry(vehicle: str) -> None:
    points = data.table("wear_points")
    components = sorted(set(points.loc[points["vehicle"] == vehicle, "component"]))
    with st.form("event", clear_on_submit=True):
        cells = show.fields(4)
        event = cells[0].selectbox("What happened", KINDS, accept_new_options=True, key="event-what")
        day = cells[1].date_input("Day of it", "today", max_value="today", key="event-day")
        component = cells[2].selectbox(
            "It concerns",
            ["", *components],
            format_func=lambda name: name or WHOLE,
            key="event-component",
        )
        note = cells[3].text_input("About it", placeholder="from what to what, how long", key="event-note")
        if not st.form_submit_button("Tell it") or not isinstance(day, date):
            return
    row = {"vehicle": vehicle, "event": event, "date": day, "component": component, "note": note}
    try:
        store_event(data.store(), row, who=person().name)
    except UserError as error:
        st.error(show.plain(error))
        return
    say(f"Kept: {event} of {vehicle}, {pd.Timestamp(day):%Y-%m-%d}. It counts at the next opening.")
