"""The scope of an opening: its lines as they stand, contingency, cost to finish and day of finish."""

from collections.abc import Hashable, Mapping
from datetime import date
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.opened.choosing import Opening, say
from dashboard.papers.opening_text import hidden_words, scope_words
from dashboard.screen import data, show
from dashboard.screen.in_view import person
from dashboard.screen.served import path
from dashboard.shop.entries import store_line
from dashboard.shop.scope import ScopeNow, scope_now
from dashboard.words.numbers import day_words
from dashboard.words.opening_words import line_words
from ingest.errors import UserError
from ingest.store import Store
from models.case.opening_scope import ADDED

STATES = {"open": "open", "done": "done", "dropped": "dropped"}
SHOWN = {
    "line": "Work",
    "origin": "Came as",
    "state": "Stands",
    "parts": "Parts",
    "price": "Price",
    "hours": "Hours",
    "trade": "Trade",
    "ordered": "Ordered",
    "note": "Why",
}
SELDOM = ("trade", "ordered", "note")
"""Columns that are shown where something stands in one."""


@st.cache_data(show_spinner="Working out what it still takes …", max_entries=16)
def _scope(identity: tuple[str, int], opening: Opening, version: int, runs: tuple[str, ...]) -> ScopeNow:  # noqa: ARG001
    return scope_now(Store(path()), opening, version)


def now(opening: Opening) -> ScopeNow:
    """Where the scope stands, worked out once for a version of the data and the runs made from it."""
    made = tuple(
        str(data.runs(kind)["run_id"].iloc[0]) for kind in ("forecast", "plan") if len(data.runs(kind))
    )
    return _scope(data.identity(), opening, data.version(), made)


def page(opening: Opening) -> None:
    """Money and days first, then the lines, then the form."""
    with show.problems():
        scope = now(opening)
        _figures(scope)
        _lines(scope)
        if person().may("add") or person().may("plan"):
            _entry(opening, scope)


def _figures(scope: ScopeNow) -> None:
    ahead, money = scope.ahead, scope.sum_words
    cells = st.columns(4)
    cells[0].metric("To finish, enough 8 times in 10", money(ahead.cost[0.8]))
    cells[1].metric("Finished by, 8 times in 10", f"{ahead.finish[0.8]:%-d %b %Y}")
    none = pd.isna(scope.contingency)
    cells[2].metric("Left of the contingency", "none set" if none else money(scope.left))
    cells[3].metric("Needed for what is hidden", money(ahead.hidden_cost[0.8]))
    st.caption(show.plain(f"As of {day_words(scope.today)}; {scope.plan}."))
    st.markdown("\n".join(f"- {show.plain(words)}" for words in scope_words(scope)))
    expected = hidden_words(scope)
    if expected:
        with st.expander("What is still expected to be found"):
            st.markdown("\n".join(f"- {show.plain(words)}" for words in expected))
    for row in ahead.unpriced.to_dict("records"):
        st.warning(show.plain(f"In no sum: {row['component']}, {row['reason']}."))


def _lines(scope: ScopeNow) -> None:
    lines = scope.ahead.lines
    if lines.empty:
        st.info("No work is in the scope yet: nothing was planned, found or added.")
        return
    shown = lines.assign(
        line=[line_words(row) for row in lines.to_dict("records")], price=lines["price"].round()
    )
    told = {name: word for name, word in SHOWN.items() if name not in SELDOM or _any(lines[name])}
    formats = {
        "Work": st.column_config.TextColumn(width="large"),
        "Price": st.column_config.NumberColumn(format="localized"),
    }
    show.table(shown, "scope", words=told, alt_text="Lines of the scope", formats=formats)


def _any(column: pd.Series) -> bool:
    """Whether anything stands in a column."""
    return bool((column.notna() & (column.astype(str).str.strip() != "")).any())


def _entry(opening: Opening, scope: ScopeNow) -> None:
    """Tell where a line stands, or add one."""
    rows = scope.ahead.lines.to_dict("records")
    names = ["A new line", *(line_words(row) for row in rows)]
    chosen = st.selectbox("Line", range(len(names)), format_func=names.__getitem__, key="scope-line")
    row: Mapping[Hashable, Any] = rows[chosen - 1] if chosen else {}
    with st.form(f"scope-entry-{chosen}", clear_on_submit=True):
        told: dict[str, object] = {name: row.get(name, "") for name in ("component", "action", "position")}
        if not chosen:
            new = show.fields(3)
            told = {
                "component": new[0].text_input("Component", key="scope-component"),
                "action": new[1].text_input("What is done", placeholder="renewed, cut, welded"),
                "position": new[2].text_input("Where", placeholder="driver 2 left"),
            }
        cells, key = show.fields(6), f"scope-{{}}-{chosen}".format
        states = list(STATES)
        state = cells[0].selectbox(
            "It is", states, states.index(str(row.get("state", "open"))), format_func=STATES.__getitem__
        )
        trade = cells[1].text_input(
            "Trade", _said(row, "trade"), placeholder="machining, foundry, welding, testing", key=key("trade")
        )
        cost = cells[2].text_input(
            "Price of all of it",
            _said(row, "cost"),
            placeholder="as quoted or paid; else the price list's",
            key=key("cost"),
        )
        hours = cells[3].text_input("Hours of all of it", _said(row, "labor_hours"), key=key("hours"))
        before = row.get("ordered")
        ordered = cells[4].date_input("Ordered on", None if pd.isna(before) else before, key=key("ordered"))
        note = cells[5].text_input("Why", _said(row, "note"), key=key("note"))
        if not st.form_submit_button("Keep this line", type="primary"):
            return
    told |= {"origin": row.get("origin", ADDED), "state": state, "cost": cost, "labor_hours": hours}
    told |= {"ordered": ordered if isinstance(ordered, date) else "", "trade": trade, "note": note}
    if row.get("origin") == ADDED:
        told["parts"] = _said(row, "parts")
    told |= {"currency": scope.currency if cost else "", "date": date.today()}
    try:
        store_line(data.store(), opening, told, who=person().name)
    except UserError as error:
        st.error(show.plain(error))
        return
    say(f"Kept: {told['component']}, {told['action']}: {state}.")


def _said(row: Mapping[Hashable, Any], name: str) -> str:
    """What was told of a line so far: what is kept takes its place whole."""
    value = row.get(name, "")
    if isinstance(value, float):
        return "" if pd.isna(value) else f"{value:.10g}"
    return str(value)
