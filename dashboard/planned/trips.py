"""Which engine runs which train of the next season."""

import streamlit as st

from dashboard.planned.trips_file import trips_workbook
from dashboard.screen import data, show
from dashboard.words.plan_words import trips_words


def trips(plan: str) -> None:
    """Section: how the trains of the next season are best given out, and as a file to be added."""
    given = data.frame_if_any(plan, "trips")
    if given.empty:
        return
    st.subheader("Which engine runs which train?")
    changed = int((given["vehicle"] != given["was"]).sum())
    st.markdown(
        f"{len(given)} trains of the next season, {changed} to another engine than now: the engine whose"
        " parts come out next is given the miles, the weakest is spared."
    )
    for said in trips_words(data.frame_if_any(plan, "trip_engines")):
        st.markdown(f"- {show.plain(said)}")
    with st.expander("Train by train"):
        words = {"date": "Day", "train": "Train", "was": "Now", "vehicle": "To be run by", "miles": "Miles"}
        show.table(given[list(words)], "trips-given", words=words, alt_text="Trains and their engines")
    show.download(
        "Trains and running as given, XLSX",
        lambda: trips_workbook(given, data.table("usage")),
        "trips.xlsx",
        show.XLSX,
    )
    st.caption("Add the file to have them run so; a plan made then rests on it.")
