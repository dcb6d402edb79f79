"""The readings taken in one sitting at the engine, kept until they are saved as a batch."""

import pandas as pd
import streamlit as st

from dashboard.screen import show

KEPT, REPORT = "engine-kept", "engine-report"


def readings_taken() -> list[dict[str, str]]:
    """The readings kept so far, as rows of the table ``readings``."""
    return list(st.session_state.get(KEPT, []))


def add_reading(row: pd.Series, text: str, unit: str, odometer: float | None, distance: str) -> None:
    """Keep a reading as it was typed; its unit is kept beside it unless the text has its own."""
    reading = {
        "point": str(row["point"]),
        "value": text.strip(),
        "unit": unit,
        "odometer": "" if odometer is None else f"{odometer:.0f} {distance}",
        "gauge": "",
        "note": "",
        "where": f"{row['vehicle']}, {row['position']} – {row['component']}, {row['quantity']}",
    }
    st.session_state[KEPT] = [*readings_taken(), reading]
    st.session_state.pop(REPORT, None)


def start_over() -> None:
    """Forget the sitting: it is saved."""
    st.session_state.pop(KEPT, None)


def taken_page(kept: list[dict[str, str]]) -> None:
    """The list with a button to take each one out again."""
    for place, reading in enumerate(kept):
        left, right = st.columns([5, 1], vertical_alignment="center")
        left.markdown(f"{show.plain(reading['where'])}: **{show.plain(reading['value'])}**")
        if right.button("Take out", key=f"engine-out-{place}", type="tertiary"):
            st.session_state[KEPT] = [*kept[:place], *kept[place + 1 :]]
            st.rerun()
