"""The end of the mileage log: what is measured after it may be held back; said before it is typed."""

from datetime import date

import streamlit as st

from dashboard.opened.choosing import say
from dashboard.screen import data, show
from dashboard.screen.in_view import person
from dashboard.sections.odometer import Instrument, instrument_of
from dashboard.shop.openings import record, taken
from ingest.errors import UserError


def ask(vehicle: str, day: date) -> None:
    """Say that readings of a day would be held back, and take the entry of the log that they need."""
    its = instrument_of(vehicle, day)
    if not its.asked_for:
        return
    without = not (data.table("mileage")["vehicle"] == vehicle).any()
    ends = "has no entry" if without else f"ends with {its.last}"
    stood = "" if without else " (if it stood in the shop, the same again)"
    st.warning(
        show.plain(
            f"The mileage log of {vehicle} {ends}, so what is measured on {day:%-d %B %Y} would be held "
            f"back: add what the odometer shows on that day{stood}."
        )
    )
    with st.form("log-end"):
        shown = st.text_input(its.label, placeholder="" if without else its.last, key="log-end-odometer")
        if st.form_submit_button("Add to the mileage log"):
            _add(its, shown)


def _add(its: Instrument, shown: str) -> None:
    row = {"vehicle": its.vehicle, "date": its.day, "odometer": shown, "unit": its.unit}
    try:
        taken(record(data.store(), {"mileage": [row]}, person().name))
    except UserError as error:
        st.error(show.plain(error))
        return
    say(f"The mileage log of {its.vehicle} goes on to {its.day:%-d %B %Y}.")
