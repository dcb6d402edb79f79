"""When do we open it, and what is in it?"""

from dataclasses import replace

import streamlit as st

from dashboard.planned.changes import changes
from dashboard.planned.measure import measure_first
from dashboard.planned.trips import trips
from dashboard.planned.wear_of_lines import wear_of_lines
from dashboard.screen import address, data
from dashboard.screen.in_view import heading, in_view, nothing_yet, person
from dashboard.sections import plan_files
from dashboard.sections import window as sections


def page() -> None:
    view = in_view()
    title = "When do we open it, and what is in it?"
    if view is None:
        heading(title)
        nothing_yet()
        return
    states = sections.kept()
    known = sections.plans(states)
    heading(title, replace(view, vehicle=sections.engine(view)) if known else view)
    if known:
        left, right = st.columns(2)
        with left:
            holds = sections.followed(states, sections.engine(view))
            plan = address.pick(
                st.selectbox, "Plan", list(known), "plan", default=holds, words=known.__getitem__
            )
        vehicles = sorted(data.frame(plan, "windows")["vehicle"].unique())
        with right:
            wanted = view.vehicle if view.vehicle in vehicles else vehicles[0]
            vehicle = address.pick(st.selectbox, "Vehicle", vehicles, "engine", default=wanted)
        sections.decision(states, plan, person())
        window = sections.calendar(plan, vehicle)
        sections.warnings(plan, vehicle)
        if window:
            sections.scope(view, plan, vehicle, window, wear_of_lines(plan, vehicle))
        changes(plan, vehicle)
        measure_first(plan, vehicle)
        trips(plan)
        plan_files.sets(view, plan, vehicle)
        plan_files.files(plan)
        sections.risk_of_engine(plan, vehicle)
        sections.waiting(view, plan, vehicle)
        sections.compare(known, plan)
    else:
        st.info(
            "No plan has been made yet. A plan chooses which lay-ups to open the engine in, how deep, and "
            "what to do there, so that no part is likely to reach its limit in mid-season."
        )
    if person().may("plan"):
        sections.what_if(view)


page()
