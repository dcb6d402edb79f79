"""Parts of the page about what must agree: turnings left, driving boxes, inspections; lists, then tables."""

from collections.abc import Hashable
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.papers.plan_sets import set_far
from dashboard.screen import address, show
from dashboard.screen.components import month
from dashboard.screen.in_view import InView
from dashboard.sections import fit
from dashboard.words.cautions import CHECKS_CAUTION
from dashboard.words.checks_text import (
    BORE,
    RECORD_DECIDES,
    Figure,
    assumption_text,
    box_figures,
    box_head,
    by_source,
    inspection_head,
    inspection_reasons,
    no_inspections_text,
    overdue_words,
)
from dashboard.words.records import as_records
from dashboard.words.units_shown import figure_in
from ingest import catalogue
from ingest.errors import UserError

NO_MORE = "none"
"""When the next turning is of a set that cannot be turned again."""


def tires(view: InView) -> None:
    """Turning policies compared, and what they assume."""
    vehicles = sorted(view.forecast["vehicle"].unique())
    vehicle = view.vehicle or address.pick(st.selectbox, "Vehicle", vehicles, "engine")
    try:
        frame, taken = (fit.made(view, what, vehicle) for what in ("tires", "assumptions"))
    except UserError as error:
        st.info(show.plain(error))
        return
    shown = frame.assign(
        **{
            name: [set_far(miles, view.units) for miles in frame[name]]
            for name in ("miles_p05", "miles_p50", "next_life_p50")
        },
        next_turning_p50=[_next_turning(view, miles) for miles in frame["next_turning_p50"]],
        stop=frame["out_of_season"].round(1),
    )
    words = {
        "matched_set": "Set",
        "tires": "Tires",
        "policy": "Turned",
        "miles_p05": "Scrap, 1 in 20 after",
        "miles_p50": "Scrap, half after",
        "turnings_p50": "Turnings left",
        "next_turning_p50": "Next turning, half after",
        "stop": "Turnings in mid-season, on average",
        "next_turnings_p50": "New set: turnings",
        "next_life_p50": "New set: scrap, half after",
    }
    st.markdown("How far the tires go until they are scrap, by when they are turned:")
    st.markdown("\n".join(_turned_line(row) for row in shown.to_dict("records")))
    with st.expander("As a table"):
        show.table(shown, f"tires-{vehicle}", words=words, alt_text="Turning policies compared")
    _taken(taken, figure_in(fit.usual(view).of(vehicle)))
    st.caption(CHECKS_CAUTION)


def _turned_line(row: dict[Hashable, Any]) -> str:
    head = f"{row['matched_set']}, {row['policy']}"
    scrap = f"scrap: 1 in 20 after {row['miles_p05']}, half after {row['miles_p50']}"
    due = row["next_turning_p50"]
    following = "no next one" if due == NO_MORE else f"the next one half after {due}"
    turnings = f"turnings left {row['turnings_p50']:.0f}, {following}"
    new = f"a new set: turnings {row['next_turnings_p50']:.0f}, scrap: half after {row['next_life_p50']}"
    return fit.line(head, f"{scrap}; {turnings}; turnings in mid-season, on average: {row['stop']}; {new}")


def _next_turning(view: InView, miles: float) -> str:
    return NO_MORE if miles == float("inf") else view.units.within_text(miles)


def _taken(taken: pd.DataFrame, figure: Figure) -> None:
    """What a turning is taken to need: what the record says, then what is assumed, each with its source."""
    st.markdown(f"**What a turning takes.** {RECORD_DECIDES}")
    for words, rows in by_source(taken):
        lines = (f"- {show.plain(assumption_text(row, figure))}" for row in as_records(rows))
        st.markdown(f"{words}:\n\n" + "\n".join(lines))


def boxes(view: InView) -> None:
    """What each driving box would need if its journal were trued today."""
    units, frame = fit.usual(view), fit.made(view, "boxes")
    if frame.empty:
        st.info("No driving box has readings of both journal and crown brass.")
        return
    lengths = ("journal", "journal_after", "bore_after", "crown", "crown_bored", "crown_least", "lining")
    own = [units.of(vehicle) for vehicle in frame["vehicle"]]
    shown = frame.assign(
        **{
            name: [each.text(value, "mm") for each, value in zip(own, frame[name], strict=True)]
            for name in lengths
        }
    )
    shown["how_bore"] = [BORE[str(how)] for how in frame["how_bore"]]
    words = {
        "vehicle": "Vehicle",
        "position": "Box",
        "advice": "Advice",
        "journal": "Journal",
        "journal_after": "after truing",
        "bore_after": "Bore then",
        "crown": "Crown",
        "crown_bored": "Crown bored",
        "crown_least": "Least crown",
        "lining": "Lining that fills the gap",
        "how_bore": "Bore today",
        "date": "Measured",
    }
    st.markdown("If the journal were trued today: is there crown enough to bore, or is a lining needed?")
    figures = [figure_in(each) for each in own]
    rows = zip(as_records(frame), figures, strict=True)
    st.markdown("\n".join(fit.line(box_head(row), box_figures(row, figure)) for row, figure in rows))
    with st.expander("As a table"):
        show.table(shown, "boxes", words=words, alt_text="Driving boxes after truing the journals")
    st.markdown("Assumed, as nobody has measured or stated it:")
    assumed = as_records(catalogue.assumptions("crown"))
    railway = figure_in(units.railway)
    st.markdown("\n".join(f"- {show.plain(assumption_text(row, railway))}" for row in assumed))
    st.caption(CHECKS_CAUTION)


def inspections(view: InView) -> None:
    """Inspections that fall due by service days or by the calendar."""
    frame = fit.made(view, "due")
    for row in as_records(fit.made(view, "no inspections")):
        st.warning(show.plain(f"{row['vehicle']}: {no_inspections_text(str(row['why']))}"))
    unknown = frame["due"].isna().sum()
    if unknown:
        st.info(
            f"{unknown} inspections have no last date on record. Enter the day of each on the page of facts."
        )
    shown = frame.assign(
        when=[
            overdue_words(since) if pd.notna(since) else month(day) or "cannot be told"
            for day, since in zip(frame["due"], frame["overdue_since"], strict=True)
        ],
        service_days_left=[f"{days:,.0f}" if pd.notna(days) else "–" for days in frame["service_days_left"]],
    )
    words = {
        "vehicle": "Vehicle",
        "title": "Inspection",
        "when": "Due",
        "state": "State",
        "last_done": "Last done",
        "service_days_left": "Service days left",
        "decided_by": "Decided by",
        "source": "Source",
        "note": "Note",
    }
    lines = [
        fit.line(inspection_head(row, when), inspection_reasons(row))
        for row, when in zip(as_records(frame), shown["when"], strict=True)
    ]
    st.markdown("\n".join(lines))
    with st.expander("As a table"):
        show.table(shown, "inspections", words=words, alt_text="Inspections and when they fall due")
    st.caption(CHECKS_CAUTION)
