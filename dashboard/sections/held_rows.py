"""The work list of rows held back: see why, correct, accept as it is, or dismiss."""

import pandas as pd
import streamlit as st

from dashboard.screen import data, show
from dashboard.screen.in_view import person
from dashboard.sections.odometer import instrument_of
from ingest.errors import UserError
from ingest.schema import TABLES
from ingest.verdicts.corrections import accept, dismiss, mend, retry
from ingest.verdicts.odometers import NO_ODOMETER

COLUMNS = {"file": "File", "sheet": "Sheet", "row": "Row", "table": "Table", "why": "Why"}
SAID = "held-said"


def waiting() -> pd.DataFrame:
    """Rows held back that nobody has settled yet."""
    return data.held_waiting() if data.exists() else pd.DataFrame(columns=["held_id", *COLUMNS])


def page(held: pd.DataFrame) -> None:
    """The list; the row picked in it can be settled."""
    if SAID in st.session_state:
        st.success(st.session_state.pop(SAID))
    if held.empty:
        st.success("Nothing waits here: every row handed in was accepted or settled.")
        return
    files = ["", *sorted(held["file"].unique())]
    only = st.selectbox("File", files, format_func=lambda f: f or "all files", key="held-file")
    shown = held if not only else held[held["file"] == only]
    asked = shown.loc[shown["why"].str.startswith(f"odometer: {NO_ODOMETER}"), "why"]
    for why, count in asked.value_counts().items():
        if count > 1:
            st.info(f"{count:,} rows wait for one and the same thing: {show.plain(why)}.")
    st.markdown("Pick a row to correct it, accept it as it is, or dismiss it.")
    picked = show.table(
        shown,
        "held-back",
        words=COLUMNS,
        alt_text="Rows held back and why",
        pick="held-table",
        height=320 if len(shown) > 8 else "auto",
    )
    if picked is not None:
        settle(shown.iloc[picked])
    elif st.button("Judge all of them again", help="Rows may have become good through what was added since."):
        stored, left = retry(data.store(), who=person().name)
        done(f"{stored:,} rows have become good and are stored; {left:,} wait on.")


def settle(row: pd.Series) -> None:
    """One row: what it said, why it was held back, and what is to become of it."""
    st.subheader(show.plain(f"{' '.join(filter(None, (row['file'], row['sheet'])))}, row {row['row']}"))
    st.error(show.plain(row["why"]))
    cells = {name: str(row["cells"].get(name, "")) for name in TABLES[str(row["table"])].public}
    held_id = int(row["held_id"])
    with st.form(f"held-{held_id}"):
        columns = st.columns(3)
        typed = {
            name: columns[place % 3].text_input(
                name, text, key=f"held-{held_id}-{name}", help=_help(name, str(row["table"]), cells)
            )
            for place, (name, text) in enumerate(cells.items())
        }
        reason = st.text_input("Why (kept with the correction)", key=f"held-{held_id}-why")
        with st.container(horizontal=True):
            mended = st.form_submit_button("Correct", type="primary")
            accepted = st.form_submit_button("Accept as it is", disabled=not row["can_accept"])
            dismissed = st.form_submit_button("Dismiss")
    who, store = person().name, data.store()
    try:
        if mended:
            changes = {name: text for name, text in typed.items() if text != cells[name]}
            batch = mend(store, held_id, changes, reason=reason, who=who)
            done(f"Corrected and stored as batch {batch}. Forecast again to see what it changes.")
        elif accepted:
            done(f"Stored as it is, as batch {accept(store, held_id, reason=reason, who=who)}.")
        elif dismissed:
            dismiss(store, [held_id], reason=reason, who=who)
            done("Dismissed. The row stays on record with your reason.")
    except UserError as error:
        st.error(show.plain(error))


def _help(name: str, table: str, cells: dict[str, str]) -> str | None:
    """What is typed as an odometer, with the last entry of the instrument beside."""
    if name != "odometer":
        return None
    vehicle = cells.get("vehicle", "")
    if table == "readings":
        points = data.table("wear_points")
        found = points.loc[points["point"] == cells["point"], "vehicle"]
        vehicle = str(found.iloc[0]) if len(found) else ""
    day = pd.to_datetime(cells.get("date", ""), errors="coerce")
    if not vehicle or pd.isna(day):
        return "What the instrument shows, in its own unit."
    its = instrument_of(vehicle, day.date())
    return f"What the instrument shows, in {its.unit}. Its last entry: {its.last}."


def done(message: str) -> None:
    """Say it on the next run, when the list is fresh."""
    st.session_state[SAID] = message
    st.session_state.pop("held-table", None)
    st.rerun()
