"""Many stored rows put right alike: chosen, shown before and after, stored as one batch."""

from datetime import date

import pandas as pd
import streamlit as st

from dashboard.screen import data, show
from dashboard.screen.in_view import person
from dashboard.words.add_words import also_words
from dashboard.words.batch_words import place_words
from dashboard.words.correct_words import proposed_words
from ingest.errors import UserError
from ingest.verdicts.correct_many import CORRECTABLE, Change, Chosen, Proposed, correct_many, propose
from ingest.verdicts.read_again import let_go_by

SAID = "many-said"
COLUMNS = {
    "who": "Wear point",
    "date": "Date",
    "before": "Before",
    "after": "After",
    "observer": "Measured by",
    "gauge": "Gauge",
    "place": "From",
    "remark": "Remark",
}
_WRONG = {
    "read_high": "they read too high",
    "read_low": "they read too low",
    "unit": "they were written in another unit",
    "years": "the year is wrong",
    "days": "the day is wrong",
    "cells": "a word is wrong",
}


def page() -> None:
    """Choose rows by what they share, say what is wrong, see it, store it."""
    if SAID in st.session_state:
        st.success(st.session_state.pop(SAID))
    st.markdown(
        "A gauge that read high by its certificate, an observer who wrote another unit, a sheet that is off "
        "by a year: choose the rows, see them before and after, and store the correction as one batch. What "
        "was there before stays on record, and the batch can be undone."
    )
    with show.problems():
        chosen = _chosen()
        change = _change(chosen.table)
        if chosen == Chosen(chosen.table) or change == Change():
            st.info("Say which rows, and what is wrong with them.")
            return
        _shown(propose(data.store(), chosen, change), chosen, change)


def _chosen() -> Chosen:
    """Which rows."""
    table = st.segmented_control(
        "Rows of", CORRECTABLE, default=CORRECTABLE[0], key="many-table", required=True
    )
    rows = data.table(str(table))
    names = {"gauge": "Gauge", "observer": "Measured by", "source_file": "File", "source_sheet": "Sheet"}
    said: dict[str, str] = {}
    cells = st.columns(3)
    offered = [(name, word, rows[name]) for name, word in names.items() if name in rows]
    points = data.table("wear_points")
    offered.append(("vehicle", "Vehicle", rows["vehicle"] if "vehicle" in rows else points["vehicle"]))
    for place, (name, word, column) in enumerate(offered):
        choices = ["", *sorted(text for text in column.dropna().unique() if text)]
        said[name.removeprefix("source_")] = cells[place % 3].selectbox(
            word, choices, format_func=lambda text: text or "any", key=f"many-{name}"
        )
    since, until = st.columns(2)
    first = since.date_input("From", None, key="many-since", min_value=date(1800, 1, 1))
    last = until.date_input("Until", None, key="many-until", min_value=date(1800, 1, 1))
    return Chosen(str(table), since=_day(first), until=_day(last), **said)


def _day(said: object) -> date | None:
    return said if isinstance(said, date) else None


def _change(table: str) -> Change:
    """What is wrong with them."""
    measured = table != "mileage"
    ways = [name for name in _WRONG if measured or name in ("years", "days", "cells")]
    left, right, third = st.columns(3)
    what = left.selectbox("What is wrong", ways, format_func=_WRONG.__getitem__, key="many-what")
    if what in ("read_high", "read_low"):
        amount = right.text_input(
            "By how much, with its unit", key="many-amount", placeholder="4 thou"
        ).strip()
        return Change(read_high=f"-{amount}" if amount and what == "read_low" else amount)
    if what == "unit":
        return Change(
            unit=right.text_input("They were written in", key="many-unit", placeholder="mm").strip()
        )
    if what in ("years", "days"):
        count = int(right.number_input(f"Move dates by so many {what}", value=0, step=1, key=f"many-{what}"))
        return Change(years=count) if what == "years" else Change(days=count)
    words = {"gauge": "gauge", "observer": "by", "note": "note"} if table == "readings" else {"note": "note"}
    column = right.selectbox("In the column", list(words), format_func=words.__getitem__, key="many-column")
    text = third.text_input("It should say", key="many-text").strip()
    return Change(cells={column: text} if text else {})


def _shown(proposed: Proposed, chosen: Chosen, change: Change) -> None:
    """How many rows, the first before and after, and the button."""
    st.markdown(f"**{show.plain(proposed_words(proposed, chosen, change))}** Nothing is stored yet.")
    refused = len(proposed.refused)
    if refused:
        st.error(f"{refused:,} rows cannot be corrected so. Choose fewer rows, or correct these one by one.")
    rows = proposed.rows
    places = [place_words(*place) for place in rows[["file", "sheet", "row"]].itertuples(index=False)]
    shown = rows.assign(
        who=rows["point"] if "point" in rows else rows["vehicle"],
        place=places,
        remark=rows["why_not"].mask(rows["why_not"] == "", rows["doubt"]),
    )
    worst = pd.Series((shown["remark"] == "").to_numpy(), shown.index)
    shown = shown.loc[worst.sort_values(kind="stable").index]
    show.table(shown, "corrected", words=COLUMNS, alt_text="Rows before and after the correction", height=320)
    with st.form("many"):
        reason = st.text_input(
            "Why (kept with the correction)", key="many-why", placeholder="certificate 123"
        )
        pressed = st.form_submit_button(
            f"Correct {proposed.changed:,} rows as one batch", type="primary", disabled=bool(refused)
        )
    if not pressed:
        return
    try:
        batch, count = correct_many(data.store(), chosen, change, reason=reason, who=person().name)
    except UserError as error:
        st.error(show.plain(error))
        return
    st.session_state[SAID] = (
        f"{count:,} rows are corrected, as batch {batch}. Forecast again to see what that moves."
        f"{also_words(let_go_by(data.store(), batch))}"
    )
    st.rerun()
