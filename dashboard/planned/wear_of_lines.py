"""The wear beside each line of a plan: dashed without the work, full with it."""

import json

import streamlit as st

from dashboard.pictures.wear_course import Stroke, courses
from dashboard.screen import data
from ingest.errors import StoreProblem

FRAMES = ("path", "forecast", "distribution")
"""Frames of the forecast that the strokes are drawn from."""


def wear_of_lines(plan: str, vehicle: str) -> dict[str, dict[str, Stroke]]:
    """Strokes by wear point, as ``pictures.wear_course.courses`` gives them; none where the forecast that the
    plan was made from is gone or of an earlier kind."""
    return _courses(data.identity(), plan, vehicle)


@st.cache_data(show_spinner=False, max_entries=16)
def _courses(identity: tuple[str, int], plan: str, vehicle: str) -> dict[str, dict[str, Stroke]]:  # noqa: ARG001
    runs = data.runs("plan")
    forecast = str(json.loads(runs.loc[runs["run_id"] == plan, "about"].iloc[0]).get("forecast", ""))
    points = data.frame(plan, "points")
    points = points[points["vehicle"] == vehicle]
    names = sorted(points["point"].unique())
    try:
        frames = [data.store().read_run(forecast, frame, names) for frame in FRAMES]
    except StoreProblem:
        return {}
    return courses(points, *frames)
