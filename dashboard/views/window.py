"""When do we open it, and what is in it?"""

from dataclasses import replace

import streamlit as st

from dashboard.screen import data, state
from dashboard.screen.here import heading, here, nothing_yet, person
from dashboard.sections import plan_files, plan_parts


def page() -> None:
    now = here()
    title = "When do we open it, and what is in it?"
    if now is None:
        heading(title)
        nothing_yet()
        return
    known = plan_parts.plans()
    heading(title, replace(now, vehicle=plan_parts.engine(now)) if known else now)
    if known:
        left, right = st.columns(2)
        with left:
            plan = state.pick(st.selectbox, "Plan", list(known), "plan", words=known.__getitem__)
        vehicles = sorted(data.frame(plan, "windows")["vehicle"].unique())
        with right:
            wanted = now.vehicle if now.vehicle in vehicles else vehicles[0]
            vehicle = state.pick(st.selectbox, "Engine", vehicles, "engine", default=wanted)
        window = plan_parts.calendar(plan, vehicle)
        plan_parts.warnings(plan, vehicle)
        if window:
            plan_parts.scope(now, plan, vehicle, window)
        plan_files.files(plan)
        plan_parts.waiting(now, plan, vehicle)
        plan_parts.compare(known, plan)
    else:
        st.info(
            "No plan has been made yet. A plan chooses which lay-ups to open the engine in, how deep, and "
            "what to do there, so that no part is likely to reach its limit in mid-season."
        )
    if person().may("plan"):
        plan_parts.what_if(now)


page()
