"""Readings of an opening as found, beside the forecast of the day before it."""

import pandas as pd
import streamlit as st

from dashboard.opened.choosing import Opening
from dashboard.papers.opening_text import place_of
from dashboard.screen import address, data, show
from dashboard.screen.served import path
from dashboard.shop.found import as_found as found_of
from dashboard.words.opening_words import STATE_WORDS, held_words
from ingest.store import Store

FOUND = {
    "where": "Where",
    "what": "What",
    "found_text": "Found",
    "p50_text": "Forecast",
    "range": "8 times in 10",
    "inside": "Inside",
    "state_words": "State",
    "date": "On",
    "source": "From",
}


@st.cache_data(show_spinner="Forecasting as of the day before …", max_entries=16)
def _found(identity: tuple[str, int], opening: Opening, version: int) -> pd.DataFrame:  # noqa: ARG001
    return found_of(Store(path()), opening, version)


def found(opening: Opening) -> pd.DataFrame:
    """What was found, worked out once for a version of the data."""
    return _found(data.identity(), opening, data.version())


def as_found(opening: Opening) -> None:
    """Every reading as found, the furthest from its forecast first."""
    rows = found(opening)
    if rows.empty:
        st.info(
            "No reading of this opening is on record yet. Take them at the engine; those of its days that "
            "name no opening count as found until work is on record."
        )
        return
    told = rows[rows["p50"].notna()]
    cells = st.columns(3)
    cells[0].metric("Measured as found", len(rows))
    cells[1].metric("As forecast, 8 times in 10", f"{int(told['held'].astype(bool).sum())} of {len(told)}")
    cells[2].metric("Past a limit", int((rows["state"] == "past").sum()))
    st.markdown(held_words(rows))
    units = address.units()

    def text(name: str) -> list[str]:
        return [units.text(value, str(unit)) for value, unit in zip(rows[name], rows["unit"], strict=True)]

    inside = rows["held"].map({True: "yes", False: "no"}).fillna("no forecast")
    shown = rows.assign(
        where=rows["position"],
        what=rows["component"] + ", " + rows["quantity"],
        found_text=text("found"),
        p50_text=text("p50"),
        range=[f"{low} to {high}" for low, high in zip(text("p10"), text("p90"), strict=True)],
        inside=inside,
        state_words=rows["state"].map(STATE_WORDS),
        source=[place_of(row) for row in rows.to_dict("records")],
    )
    show.table(shown, "as-found", words=FOUND, alt_text="Readings as found beside their forecast")
