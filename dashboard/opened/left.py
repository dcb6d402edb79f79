"""As left: each dimension typed is held against its limits and against what it must agree with, at once."""

from datetime import date

import pandas as pd
import streamlit as st

from dashboard.opened import log_end
from dashboard.opened.choosing import Opening, by_whom, keep_name, say
from dashboard.screen import address, data, show
from dashboard.screen.in_view import person
from dashboard.screen.served import path
from dashboard.services.states import state_of
from dashboard.shop.as_left import (
    DONE,
    WHY,
    Typed,
    agree,
    left_in,
    problems_of,
    rows_to_store,
    shown,
    typed,
)
from dashboard.shop.openings import record, taken
from dashboard.words.batch_words import place_words
from dashboard.words.checks_text import HEADS, finding_head, finding_reasons
from dashboard.words.opening_words import STATE_WORDS
from dashboard.words.records import as_records
from dashboard.words.units_shown import Units, railway_units
from ingest.errors import UserError
from ingest.store import Store
from models.checks.findings_frame import WITHIN

KEPT, VALUE = "opening-left", "left-value-"
LEFT = {
    "where": "Where",
    "what": "What",
    "text": "As left",
    "must": "New to shop limit",
    "state_words": "State",
    "how_words": "How",
    "date": "On",
    "source": "From",
}
HOW = {"left": "measured as left", "found": "stands as found", "": "not measured"}


@st.cache_data(show_spinner=False, max_entries=16)
def _left(identity: tuple[str, int], opening: Opening, version: int) -> pd.DataFrame:  # noqa: ARG001
    return left_in(Store(path()), opening, version)


def rows(opening: Opening) -> pd.DataFrame:
    """How each wear point went back, read once for a version of the data."""
    return _left(data.identity(), opening, data.version())


def page(opening: Opening) -> None:
    """Entry first, for those who may; then what does not agree, then the record."""
    if person().may("add"):
        _entry(opening)
    _agreement(opening)
    _record(opening)


def _kept(opening: Opening) -> list[Typed]:
    return list(st.session_state.get(KEPT, {}).get(opening["opening"], []))


def _keep(opening: Opening, entries: list[Typed]) -> None:
    st.session_state[KEPT] = {str(opening["opening"]): entries}


def _entry(opening: Opening) -> None:
    """One dimension: typed, judged at once, kept; all that were kept are stored as one batch."""
    points = data.table("wear_points")
    own = points[points["vehicle"] == opening["vehicle"]].sort_values(
        ["component", "position"], kind="stable"
    )
    if own.empty:
        return
    about = own.set_index("point", drop=False)
    names = {
        str(row["point"]): f"{row['component']}, {row['quantity']}: {row['position']}"
        for row in own.to_dict("records")
    }
    point = st.selectbox("Dimension", list(names), format_func=names.__getitem__, key="left-point")
    row, units = about.loc[[point]].iloc[0], address.units()
    unit = units.unit(str(row["unit"]))
    cells = show.fields(4)
    text = cells[0].text_input(f"As left [{unit}]", key=f"{VALUE}{point}", autocomplete="off")
    day = cells[1].date_input("Measured on", "today", max_value="today", key="left-day")
    done = cells[2].selectbox(
        "The part was", list(DONE), format_func=DONE.__getitem__, key=f"left-done-{point}"
    )
    why = ""
    if done:
        why = cells[3].selectbox(
            "The old one came off", list(WHY), format_func=WHY.__getitem__, key=f"left-why-{point}"
        )
    by = by_whom("Measured by", "left-by")
    if not isinstance(day, date):
        return
    log_end.ask(str(opening["vehicle"]), day)
    if text.strip():
        try:
            one = typed(row, text, day, unit=unit, done=str(done), why=str(why), by=by)
        except UserError as error:
            st.error(show.plain(error))
        else:
            _judged(opening, one, row, units)
    _store(opening, names)


def _judged(opening: Opening, one: Typed, row: pd.Series, units: Units) -> None:
    """What a dimension says at once; the button that keeps it."""
    own = str(row["unit"])
    state = state_of(shown(one, own), row)
    box = {"within": st.success, "unknown": st.info}.get(state, st.error)
    box(f"**{STATE_WORDS[state][0].upper()}{STATE_WORDS[state][1:]}.** {_must(row, units)}")
    others = [kept for kept in _kept(opening) if kept.point != one.point]
    found = agree(data.store(), opening, [*others, one])
    mine = found[found["points"].map(lambda points: one.point in str(points).split(", ")).astype(bool)]
    for finding in as_records(problems_of(mine)):
        st.error(f"**Do not hang it yet.** {_words(finding, units)}")
    for finding in as_records(mine[mine["verdict"] == WITHIN]):
        st.markdown(f"Agrees: {_words(finding, units)}")
    kept_too = [*others, one]
    st.button(
        "Keep this dimension", type="primary", key="left-keep", on_click=_taken, args=(opening, kept_too)
    )


def _taken(opening: Opening, entries: list[Typed]) -> None:
    """Keep what was typed, its field emptied for the next."""
    _keep(opening, entries)
    keep_name(entries[-1].by)
    st.session_state[f"{VALUE}{entries[-1].point}"] = ""


def _must(row: pd.Series, units: Units) -> str:
    """New value and shop limit in words."""
    own, per = str(row["unit"]), float(row["per_base"])
    parts = [
        f"{word} {show.plain(units.text(float(row[name]) * per, own))}"
        for word, name in (("new", "new_value"), ("to leave the shop", "shop_limit"))
        if pd.notna(row[name])
    ]
    return f"It must be: {', '.join(parts)}." if parts else "No figure is on record for it."


def _words(finding: dict[str, object], units: Units) -> str:
    """A finding of a check: what, its limit, and what would put it right."""
    railway = railway_units(data.table("wear_points"), units)
    return show.plain(f"{finding_head(finding, railway)} {finding_reasons(finding)}")


def _store(opening: Opening, names: dict[str, str]) -> None:
    kept = _kept(opening)
    if not kept:
        return
    st.subheader(f"Kept so far: {len(kept)}")
    for one in kept:
        work = f", {DONE[one.done]}" if one.done else ""
        st.markdown(f"- {show.plain(f'{names.get(one.point, one.point)}: {one.words}{work}')}")
    if st.button(f"Store {len(kept)} as left", key="left-store"):
        try:
            report = record(data.store(), rows_to_store(opening, kept), person().name)
            _keep(opening, [])  # what is held back waits with the other rows, not here too
            taken(report)
        except UserError as error:
            st.error(show.plain(error))
            return
        say(f"Stored as left: {len(kept)}. They begin the new lives; forecast again to see what that moves.")


def _agreement(opening: Opening) -> None:
    """What does not agree, of all that is stored and kept."""
    found = agree(data.store(), opening, _kept(opening))
    wrong = problems_of(found)
    st.subheader("What must agree")
    if wrong.empty:
        st.markdown("Nothing that was measured is past what it must agree with.")
    for verdict, part in wrong.groupby("verdict", sort=False):
        st.markdown(f"**{HEADS[str(verdict)]}**")
        lines = [f"- {_words(row, address.units())}" for row in as_records(part)]
        st.markdown("\n".join(lines))


def _record(opening: Opening) -> None:
    """The as-left record."""
    made, units = rows(opening), address.units()
    measured = made[made["how"] != ""]
    st.subheader(f"As left: {int((made['how'] == 'left').sum())} measured")
    if measured.empty:
        st.info("No dimension of this opening is on record yet.")
        return

    def text(name: str) -> list[str]:
        return [
            units.text(value, str(unit)) for value, unit in zip(measured[name], measured["unit"], strict=True)
        ]

    places = measured[["source_file", "source_sheet", "source_row"]].itertuples(index=False, name=None)
    listed = measured.assign(
        where=measured["position"],
        what=measured["component"] + ", " + measured["quantity"],
        text=text("value"),
        must=[f"{new} to {shop}" for new, shop in zip(text("new_value"), text("shop_limit"), strict=True)],
        state_words=measured["state"].map(STATE_WORDS),
        how_words=measured["how"].map(HOW),
        source=[place_words(file, sheet, int(row)) for file, sheet, row in places],
    )
    show.table(listed, "as-left", words=LEFT, alt_text="Dimensions as left")
