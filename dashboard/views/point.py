"""One wear point."""

import numpy as np
import pandas as pd
import streamlit as st

from dashboard.pictures import charts
from dashboard.screen import address, data, show
from dashboard.screen.in_view import InView, forecast_button, heading, in_view, nothing_yet, person
from dashboard.sections import parts, wear_story
from dashboard.sections.point import (
    MOST_OFFERED,
    at_a_glance,
    family,
    in_words,
    limits,
    miles_left,
    read_with,
)
from dashboard.sections.point_pictures import pictures
from dashboard.sections.point_work import correct, record_work
from dashboard.sections.unexpected import of_point, remarks
from ingest.errors import StoreProblem

FRAMES = ("reading_check", "path", "distribution", "state")
"""Frames of a forecast that this page shows; forecasts of earlier versions may lack one."""
LEGEND = (
    "Dots: readings; crosses: odd ones, which count less. Line: the fitted wear, dashed where it is carried "
    "on. Band: 8 times in 10."
)
EVENTS = {
    "life": "Life",
    "date": "Date",
    "odometer": "Miles in all",
    "what": "What",
    "value": "Value",
    "expected": "Expected (8 times in 10)",
    "verdict": "Remark",
    "gauge": "Gauge",
    "observer": "Measured by",
    "note": "Note",
    "source": "From",
}


def page() -> None:
    view = in_view()
    if view is None:
        heading("One wear point")
        nothing_yet()
        return
    row = chosen_point(view)
    name, version = str(row["point"]), data.run_version(view.run_id)
    st.title(show.plain(f"{row['component']} – {row['quantity']}"))
    st.markdown(show.plain(f"{row['vehicle']}, {row['position']} · as of {row['as_of']:%-d %B %Y} · {name}"))
    point = data.table("wear_points", version).set_index("point").loc[[name]].iloc[0]
    at_a_glance(view, row)
    parts.of_point(row, view.units)
    marked = data.unexpected(name)
    of_point(marked, view.units)
    frames = frames_shown(view, name)
    if frames is None:
        return
    check, path, *_ = frames
    work = data.work_of_point(name, version)
    left, right = st.columns([3, 2])
    with left:
        st.subheader("Readings and what they say")
        picture = wear_story.picture(point, path, check, work, view.units)
        show.chart(show.drawn(charts.wear, picture), f"wear-{name}", alt_text=in_words(view, row))
        st.caption(LEGEND)
    with right:
        st.subheader("Miles left")
        miles_left(view, row)
    limits(view, point)
    family(view, row)
    read_with(view, name, row, version)
    pictures(name)
    st.subheader("Its lives and events")
    told = wear_story.events(readings_listed(name, point, check, version), work, str(row["unit"]), view.units)
    story = remarks(told, marked)
    odometer = f"{'Miles' if view.units.distance == 'mi' else 'Kilometres'} in all"
    picked = show.table(
        story,
        f"events-{name}",
        words={**EVENTS, "odometer": odometer},
        alt_text="Readings and work, newest first",
        formats={odometer: st.column_config.NumberColumn(format="localized")},
        pick="point-events" if (may := person().may("add")) else "",
    )
    if may:
        st.caption("Pick a reading to correct or withdraw it.")
        if picked is not None and story["row_id"].iloc[picked] != wear_story.NO_ROW:
            correct(view, row, int(story["row_id"].iloc[picked]))
        record_work(view, name, str(row["unit"]))


def readings_listed(name: str, point: pd.Series, check: pd.DataFrame, version: int) -> pd.DataFrame:
    """Readings of a wear point, and of its part at earlier places."""
    stored = data.readings_of_point(name)
    elsewhere = parts.readings_elsewhere(point, check, stored)
    return wear_story.readings_listed(check, stored, point, version, elsewhere)


def frames_shown(view: InView, point: str) -> list[pd.DataFrame] | None:
    """Rows of a wear point in each of ``FRAMES``; None, and what to do, where the forecast lacks one."""
    try:
        return [data.frame_of_point(view.run_id, frame, point) for frame in FRAMES]
    except StoreProblem:
        st.info("This forecast is of an earlier kind and lacks what this page shows. Make a forecast.")
        if person().may("add") or person().may("plan"):
            forecast_button("Make a forecast")
        return None


def chosen_point(view: InView) -> pd.Series:
    """The wear point in the address, or the first to reach its limit; another can be chosen here."""
    order = view.forecast.sort_values("miles_p05").set_index("point", drop=False)
    asked = order.index == address.chosen(address.POINT)
    offered = order[asked | (np.arange(len(order)) < MOST_OFFERED)]
    names = {
        str(row["point"]): f"{row['vehicle']}, {row['position']} – {row['component']}, {row['quantity']}"
        for row in offered.to_dict("records")
    }
    picked = address.pick(st.selectbox, "Wear point", list(names), address.POINT, words=names.__getitem__)
    if len(offered) < len(order):
        st.caption(
            f"Offered are the {MOST_OFFERED:,} of {len(order):,} wear points that may be "
            "at their limit first. Choose a vehicle on the left to see all of its own."
        )
    return order.loc[[picked]].iloc[0]


page()
