"""One wear point."""

import numpy as np
import pandas as pd
import streamlit as st

from dashboard.pictures import charts
from dashboard.screen import address, data, show
from dashboard.screen.in_view import InView, heading, in_view, nothing_yet, person
from dashboard.sections import wear_story
from dashboard.sections.point import MOST_OFFERED, at_a_glance, family, in_words, limits, miles_left
from dashboard.sections.point_work import correct, record_work
from dashboard.sections.unexpected import of_point, remarks

EVENTS = {
    "life": "Life",
    "date": "Date",
    "odometer": "Miles in all",
    "what": "What",
    "value": "Value",
    "expected": "Expected (8 in 10)",
    "verdict": "Remark",
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
    marked = data.unexpected(name)
    of_point(marked, view.units)
    check, path = (data.frame_of_point(view.run_id, frame, name) for frame in ("reading_check", "path"))
    work = data.work_of_point(name, version)
    left, right = st.columns([3, 2])
    with left:
        st.subheader("Readings and what they say")
        picture = wear_story.picture(point, path, check, work, view.units)
        show.chart(show.drawn(charts.wear, picture), f"wear-{name}", alt_text=in_words(view, row))
        st.caption(
            "Dots: readings; crosses: odd ones, which count less. Line: the fitted wear, dashed where it is "
            "carried on. Band: 8 times in 10."
        )
    with right:
        st.subheader("Miles left")
        miles_left(view, row)
    limits(view, point)
    family(view, row)
    st.subheader("Its lives and events")
    readings = wear_story.readings_listed(check, data.readings_of_point(name), point, version)
    story = remarks(wear_story.events(readings, work, str(row["unit"]), view.units), marked)
    may = person().may("add")
    odometer = f"{'Miles' if view.units.distance == 'mi' else 'Kilometres'} in all"
    picked = show.table(
        story,
        f"events-{name}",
        words={**EVENTS, "odometer": odometer},
        alt_text="Readings and work, newest first",
        formats={odometer: st.column_config.NumberColumn(format="localized")},
        pick="point-events" if may else "",
    )
    if may:
        st.caption("Pick a reading to correct or withdraw it.")
        if picked is not None and story["row_id"].iloc[picked] != wear_story.NO_ROW:
            correct(view, row, int(story["row_id"].iloc[picked]))
        record_work(view, name, str(row["unit"]))


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
