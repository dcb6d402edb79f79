"""Findings of an opening: what was examined, what was found on it, and the form for the next one."""

from collections.abc import Mapping
from datetime import date
from typing import Any

import streamlit as st

from dashboard.opened.choosing import Opening, by_whom, keep_name, say
from dashboard.papers.opening_text import place_of, size_words
from dashboard.screen import data, show
from dashboard.screen.in_view import person
from dashboard.screen.served import path
from dashboard.shop.entries import store_finding
from dashboard.shop.found import examined, findings_of
from dashboard.shop.photos import ENDINGS, Photo, check_photo
from dashboard.words.opening_words import METHOD_WORDS, VERDICT_WORDS, finding_words, verdict_words
from ingest.errors import UserError
from ingest.store import Store

NOTHING = "nothing found"
DEFECTS = (NOTHING, "crack", "loose", "scored", "pitted", "broken", "bent", "overheated", "worn", "other")
OTHER = "Another component"


def page(opening: Opening) -> None:
    """Counts, the findings, and the form for those who may add."""
    defects = data.table("defects")
    told = findings_of(defects, str(opening["opening"]))
    counts = examined(defects, str(opening["opening"]))
    if told.empty:
        st.info("No part has been examined yet. Enter each part that is looked at, also one that is sound.")
    for row in counts.to_dict("records"):
        words = f"{row['examined']:.0f} examined, {row['defective']:.0f} defective"
        st.markdown(f"**{show.plain(row['component'])}**: {words}")
    for row in told.to_dict("records"):
        if not row["sound"]:
            _finding(row)
    if person().may("add"):
        _entry(opening)


@st.cache_data(show_spinner=False, max_entries=64)
def _picture(identity: tuple[str, int], picture: str) -> bytes:  # noqa: ARG001
    return Store(path()).picture(picture)


def _finding(row: dict[Any, Any]) -> None:
    """One defect: what and where, the verdict, its picture, where it was told."""
    with st.container(border=True):
        st.markdown(f"{show.plain(finding_words(row, size_words(row)))}  \n**{verdict_words(row)}**")
        if row["note"]:
            st.markdown(show.plain(row["note"]))
        if row["picture"]:
            with show.problems():
                st.image(_picture(data.identity(), str(row["picture"])), width=360, caption="As it was found")
        st.caption(show.plain(f"{row['date']:%-d %B %Y}, from {place_of(row)}"))


def _places(vehicle: str) -> dict[str, list[str]]:
    """Positions by component, as the wear points of the vehicle and earlier findings name them."""
    points = data.table("wear_points")
    own = points[points["vehicle"] == vehicle]
    places: dict[str, list[str]] = {
        str(name): sorted(set(map(str, rows["position"]))) for name, rows in own.groupby("component")
    }
    findings = data.table("findings")
    for name in sorted(set(findings.loc[findings["vehicle"] == vehicle, "component"])):
        places.setdefault(str(name), [])
    return places


def _entry(opening: Opening) -> None:
    st.subheader("The next part")
    places = _places(str(opening["vehicle"]))
    component = st.selectbox("Component", [*places, OTHER], key="finding-component")
    with st.form("finding", clear_on_submit=True):
        if component == OTHER:
            component = st.text_input("Name of the component")
        cells = show.fields(10)
        position = cells[0].selectbox(
            "Position", ["", *places.get(str(component), [])], accept_new_options=True
        )
        part_no = cells[1].text_input("Number of the part", placeholder="where parts have numbers")
        defect = cells[2].selectbox("What was found", DEFECTS, accept_new_options=True)
        place = cells[3].text_input("Where on the part", placeholder="fillet, bore, spoke 4")
        size = cells[4].text_input("Size", placeholder="3/4 in, 12 mm")
        method = cells[5].selectbox("How", list(METHOD_WORDS), format_func=METHOD_WORDS.__getitem__)
        verdict = cells[6].selectbox("Verdict", list(VERDICT_WORDS), format_func=VERDICT_WORDS.__getitem__)
        watch = cells[7].date_input("Look again by (if it is watched)", None)
        day = cells[8].date_input("Day", "today")
        picture = cells[9].file_uploader(
            "Picture", type=ENDINGS, help="It is kept smaller, without its place."
        )
        note = st.text_input("Note", key="finding-note")
        found_by = by_whom("Found by", "finding-by")
        if not st.form_submit_button("Keep this finding", type="primary"):
            return
    row = {
        "component": component,
        "position": position or "",
        "part_no": part_no,
        "defect": defect or NOTHING,
        "place": place,
        "size": size,
        "method": method,
        "verdict": verdict,
        "watch_until": watch if isinstance(watch, date) and verdict == "watch" else "",
        "date": day,
        "note": note,
        "found_by": found_by,
    }
    try:
        photo = None if picture is None else check_photo(picture.getvalue(), picture.name)
        _store(opening, row, photo)
    except UserError as error:
        st.error(show.plain(error))


def _store(opening: Opening, row: Mapping[str, object], photo: Photo | None) -> None:
    made = store_finding(data.store(), opening, row, photo, who=person().name)
    keep_name(str(row["found_by"]))
    known = "Kept." if made.batch is not None else "Known already."
    where = f", {row['position']}" if row["position"] else ""
    say(f"{known} {row['component']}{where}: {row['defect']}.")
