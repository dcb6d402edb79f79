"""What people record on one wear point's page: work done, and corrections of what is on record."""

from datetime import UTC, datetime

import pandas as pd
import streamlit as st

from dashboard.screen import data, show
from dashboard.screen.in_view import InView
from dashboard.screen.in_view import person as at_screen
from dashboard.sections import taking_in
from ingest.errors import UserError
from ingest.verdicts.corrections import change_row, withdraw_row

REPORT, SAID = "work-report", "point-said"


def record_work(view: InView, point: str, own: str) -> None:
    """A renewal or a cut, saved as a batch of its own."""
    if SAID in st.session_state:
        st.success(st.session_state.pop(SAID))
    with st.expander("Record work done on it"), st.form("work", clear_on_submit=True):
        cells = st.columns(4)
        action = cells[0].selectbox("What", ["renewed", "cut"], key="work-action")
        day = cells[1].date_input("On", "today", key="work-date", max_value="today")
        unit = view.units.unit(own)
        before = cells[2].text_input(f"Measured before [{unit}]", key="work-before")
        after = cells[3].text_input(f"Measured after [{unit}]", key="work-after")
        note = st.text_input("Note", key="work-note")
        if st.form_submit_button("Save"):
            row = {
                "point": point,
                "date": day,
                "action": action,
                "value_before": before,
                "value_after": after,
            }
            sheet = pd.DataFrame([row | {"unit": unit, "note": note}]).to_csv(index=False).encode()
            file = taking_in.Made(f"work-{datetime.now(UTC):%Y%m%d-%H%M%S}.csv", sheet)
            st.session_state[REPORT] = taking_in.take_in([file], at_screen().name)
    if REPORT in st.session_state:
        taking_in.report(st.session_state[REPORT], key=REPORT)


def correct(view: InView, point: str, day: pd.Timestamp, own: str) -> None:
    """Change or withdraw the reading of a day, with a reason; what was there before is kept."""
    rows = data.table("readings")
    rows = rows[(rows["point"] == point) & (rows["date"] == day)]
    if rows.empty:
        return
    row = rows.iloc[0]
    st.markdown(f"**Reading of {day:%-d %B %Y}**, written as {show.plain(row['value_text'])}")
    with st.form("correct"):
        cells = st.columns([1, 2])
        value = cells[0].text_input(f"Value [{view.units.unit(own)}]", key="correct-value")
        reason = cells[1].text_input("Why (kept with the correction)", key="correct-why")
        with st.container(horizontal=True):
            changed = st.form_submit_button("Put this value in its place")
            withdrawn = st.form_submit_button("Withdraw the reading")
    who, row_id = at_screen().name, int(row["row_id"])
    try:
        if changed:
            new = {"value": value, "unit": view.units.unit(own)}
            batch = change_row(data.store(), "readings", row_id, new, reason=reason, who=who)
            _done(f"Changed, as batch {batch}. Forecast again to see what that moves.")
        elif withdrawn:
            batch = withdraw_row(data.store(), "readings", row_id, reason=reason, who=who)
            _done(f"Withdrawn, as batch {batch}. Forecast again to see what that moves.")
    except UserError as error:
        st.error(show.plain(error))


def _done(message: str) -> None:
    st.session_state[SAID] = message
    st.rerun()
