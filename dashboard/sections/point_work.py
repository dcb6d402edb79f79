"""What people record on one wear point's page: work done, and corrections of what is on record."""

from datetime import UTC, datetime

import pandas as pd
import streamlit as st

from dashboard.screen import data, show
from dashboard.screen.in_view import InView
from dashboard.screen.in_view import person as at_screen
from dashboard.sections import taking_in
from dashboard.sections.odometer import Instrument, instrument_of
from dashboard.words.add_words import also_words
from dashboard.words.batch_words import place_words
from ingest.errors import UserError, WrongUsage
from ingest.verdicts.corrections import change_row, withdraw_row
from ingest.verdicts.read_again import let_go_by

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


def correct(view: InView, about: pd.Series, row_id: int) -> None:
    """Change or withdraw the reading that was picked, with a reason; what was there before is kept.

    Parameters
    ----------
    about : row of the forecast: point, vehicle, unit.
    row_id : of the reading as it is stored: of two readings of a day the one that was picked.
    """
    rows = data.readings_of_point(str(about["point"]))
    rows = rows[rows["row_id"] == row_id]
    if rows.empty:
        return
    row, unit = rows.iloc[0], view.units.unit(str(about["unit"]))
    its = instrument_of(str(about["vehicle"]), row["date"].date())
    said = show.plain(f"{row['value_text']} {row['unit']}")
    st.markdown(f"**Reading of {row['date']:%-d %B %Y}**, written as {said}{_odometer_words(row, its)}")
    st.caption(_origin_words(row))
    with st.form(f"correct-{row_id}"):
        cells = st.columns([1, 1, 2])
        value = cells[0].text_input(f"Value [{unit}]", key="correct-value")
        odometer = cells[1].text_input(its.label, key="correct-odometer", help=f"Last entry: {its.last}")
        reason = cells[2].text_input("Why (kept with the correction)", key="correct-why")
        with st.container(horizontal=True):
            changed = st.form_submit_button("Put this in its place")
            withdrawn = st.form_submit_button("Withdraw the reading")
    who = at_screen().name
    try:
        if changed:
            new = {"value": value, "unit": unit} if value.strip() else {}
            new |= {"odometer": _with_unit(odometer, its)} if odometer.strip() else {}
            if not new:
                raise WrongUsage("Nothing was changed. Write the value, the odometer or both.")
            batch = change_row(data.store(), "readings", row_id, new, reason=reason, who=who)
            also = also_words(let_go_by(data.store(), batch))
            _done(f"Changed, as batch {batch}. Forecast again to see what that moves.{also}")
        elif withdrawn:
            batch = withdraw_row(data.store(), "readings", row_id, reason=reason, who=who)
            _done(f"Withdrawn, as batch {batch}. Forecast again to see what that moves.")
    except UserError as error:
        st.error(show.plain(error))


def _origin_words(row: pd.Series) -> str:
    """Where a reading came from: who with what, file, sheet and row, and the batch that brought it."""
    batches = data.store().batches().set_index("batch")
    place = place_words(row["source_file"], row["source_sheet"], int(row["source_row"]))
    parts = [f"From {place}"]
    if row["batch"] in batches.index:
        brought = batches.loc[row["batch"]]
        parts.append(f"batch {row['batch']}, {brought['who']}, {brought['made_at']:%-d %b %Y %H:%M} UTC")
    parts += [
        f"{word} {row[name]}"
        for word, name in (("by", "observer"), ("with", "gauge"), ("note:", "note"))
        if row[name]
    ]
    return show.plain("; ".join(parts)) + "."


def _odometer_words(row: pd.Series, its: Instrument) -> str:
    """What is on record of the odometer of a reading: as it was noted, or where it was taken from."""
    if row["odometer_text"]:
        return f", odometer {show.plain(row['odometer_text'])}"
    if row["odometer_source"] == "last entry":
        return f", without an odometer: it has that of the log's last entry, {show.plain(its.last)}"
    return ", without an odometer: it has its miles from the log"


def _with_unit(odometer: str, its: Instrument) -> str:
    """A bare figure is in the unit of the instrument."""
    text = odometer.strip()
    return f"{text} {its.unit}" if text[-1].isdigit() else text


def _done(message: str) -> None:
    st.session_state[SAID] = message
    st.rerun()
