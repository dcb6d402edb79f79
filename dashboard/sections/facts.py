"""The parts of the page of facts: what is stated of an engine, what follows, and a form to state more."""

from collections.abc import Hashable
from datetime import UTC, date, datetime
from io import StringIO
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.screen import data, show
from dashboard.screen.in_view import person
from dashboard.sections import taking_in
from dashboard.services.engine_facts import catalogues, facts_in_words, taken_in_words
from ingest.catalogue.known_facts import KnownFact, known_facts

REPORT = "facts-report"


def governs(vehicle: str) -> None:
    """The catalogue that everything follows, and how it was chosen."""
    tables = {name: data.table(name) for name in ("vehicles", "wear_points", "facts")}
    law = catalogues(tables)[vehicle]
    box = st.warning if law.how == "not known" else st.info
    follows = "Limits, checks, inspections and findings follow it."
    box(f"**Governing catalogue:** {show.plain(law.text)}. {follows}")


def stated(vehicle: str) -> None:
    """The facts on record, with their sources and dates, and what is taken where nothing is stated."""
    rows = facts_in_words(data.table("facts"), vehicle)
    if rows.empty:
        st.markdown("No fact of this vehicle is on record yet. State the first one below.")
    else:
        st.markdown("\n".join(_fact_line(row) for row in rows.to_dict("records")))
        show.downloads(rows, f"facts-{vehicle}")
    for line in taken_in_words(data.table("facts"), vehicle):
        st.caption(show.plain(line))


def _fact_line(row: dict[Hashable, Any]) -> str:
    """A fact, and under it where it is from and what uses it."""
    day = "" if pd.isna(row["date"]) else f", {row['date']:%-d %B %Y}"
    source = f"{row['source'] or 'no source stated'}{day}"
    note = f" {row['note']}." if row["note"] else ""
    head, about = f"{row['fact']}: {row['value']}", f"{source}. Used by: {row['used_by']}.{note}"
    return f"- **{show.plain(head)}**  \n  {show.plain(about)}"


def entry(vehicle: str) -> None:
    """State one fact: it goes the way of every file, and ends accepted, held back or already known."""
    st.subheader("State a fact")
    known = {one.fact: one for one in known_facts()}
    name = st.selectbox("Fact", list(known), key="fact-name")
    one = known[str(name)]
    st.caption(show.plain(f"{one.meaning}. Used by: {one.used_by}."))
    with st.form("fact", clear_on_submit=True):
        value, unit = _value(one)
        source = st.text_input("Source", placeholder="drawing, weighing, certificate, or who says so")
        found = st.date_input("Day on which it was found", "today")
        if st.form_submit_button("State it", type="primary"):
            if not value.strip():
                st.error("Nothing was entered.")
                return
            who, moment = person().name, datetime.now(UTC)
            day = found.isoformat() if isinstance(found, date) else ""
            row = [vehicle, one.fact, value, unit, source, day]
            file = taking_in.Made(f"facts-{moment:%Y%m%d-%H%M%S}.csv", _as_file(row))
            st.session_state[REPORT] = taking_in.take_in([file], who)
            st.rerun()


def _value(one: KnownFact) -> tuple[str, str]:
    """The value as it is typed or chosen, and its unit."""
    if one.choices:
        return str(st.selectbox("Value", one.choices)), ""
    if one.kind == "day":
        day = st.date_input("Done on", "today", max_value="today")
        return day.isoformat() if isinstance(day, date) else "", ""
    value = st.text_input("Value")
    return value, str(st.selectbox("Unit", one.units)) if one.units else ""


def _as_file(row: list[str]) -> bytes:
    out = StringIO()
    frame = pd.DataFrame([row], columns=["vehicle", "fact", "value", "unit", "source", "date"])
    frame.to_csv(out, index=False)
    return out.getvalue().encode()


def not_stated(vehicle: str) -> None:
    """Facts that something depends on and that nobody has stated."""
    table = data.table("facts")
    on_record = set(facts_in_words(table, vehicle)["fact"])
    open_facts = [one for one in known_facts() if one.fact not in on_record]
    with st.expander(f"Not stated: {len(open_facts)} facts, and what uses each"):
        st.markdown(
            "\n".join(
                f"- **{show.plain(one.fact)}**: {show.plain(one.meaning)}. Used by {show.plain(one.used_by)}."
                for one in open_facts
            )
        )
