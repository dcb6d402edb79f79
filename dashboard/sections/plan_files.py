"""A kept plan as files to download: workbook and PDF for a quotation, calendar picture, JSON; and its sets of
tires as the files have them."""

import json
import tempfile
from pathlib import Path
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.papers.plan_assumptions import plan_assumptions
from dashboard.papers.plan_board import board_pdf
from dashboard.papers.plan_documents import plan_json, plan_pdf, write_plan
from dashboard.papers.plan_sets import SET_HEADS, plan_sets, set_far, set_rows
from dashboard.screen import data, show
from dashboard.screen.in_view import InView
from dashboard.services.planning import PlanResult
from ingest.errors import StoreProblem
from models.measure.first import COLUMNS as FIRST_COLUMNS
from models.plan.engine import FRONTIER_COLUMNS, RISK_COLUMNS
from models.plan.planner import Plan
from models.plan.rules import Rules
from models.plan.shop import SHOP_COLUMNS
from models.plan.what_if import CHANGE_COLUMNS
from models.tires.outlook import no_sets
from models.trips.share import ENGINE_COLUMNS, GIVEN_COLUMNS

FRAMES = ("windows", "scope", "points", "late", "risk", "carriers", "at_limit", "not_planned", "totals")


def kept(plan: str) -> PlanResult:
    """A plan put together again from its run."""
    runs = data.runs("plan")
    about = json.loads(runs.loc[runs["run_id"] == plan, "about"].iloc[0])
    rules = Rules(**{**about["rules"], "now": tuple(about["rules"]["now"])})
    frames: dict[str, Any] = {name: _frame(plan, name) for name in FRAMES}
    return PlanResult(
        plan=Plan(
            **frames,
            engine_risk=_frame_if_any(plan, "engine_risk", RISK_COLUMNS),
            frontier=_frame_if_any(plan, "frontier", FRONTIER_COLUMNS),
            shop=_frame_if_any(plan, "shop", SHOP_COLUMNS),
            rules=rules,
        ),
        usage=_frame(plan, "usage"),
        amounts=_frame(plan, "amounts"),
        lines=_frame(plan, "amount_lines"),
        unpriced=_frame(plan, "unpriced"),
        turnings=turnings_of(plan),
        measure_first=_frame_if_any(plan, "measure_first", FIRST_COLUMNS),
        about=about,
        changes=_frame_if_any(plan, "changes", CHANGE_COLUMNS),
        trips=_frame_if_any(plan, "trips", GIVEN_COLUMNS),
        trip_engines=_frame_if_any(plan, "trip_engines", ENGINE_COLUMNS),
    )


def turnings_of(plan: str) -> pd.DataFrame:
    """What turnings leave of the matched sets; none for a plan kept before plans said so."""
    try:
        return data.frame(plan, "turnings")
    except StoreProblem:
        return no_sets()


def _frame_if_any(plan: str, name: str, columns: list[str]) -> pd.DataFrame:
    """A frame that plans made before did not have, without rows for those."""
    frame = data.frame_if_any(plan, name)
    return frame if len(frame.columns) else pd.DataFrame(columns=columns)


def _frame(plan: str, name: str) -> pd.DataFrame:
    """A frame as it was made: the store gives lists back as arrays."""
    frame = data.frame(plan, name)
    if "points" in frame:
        frame["points"] = frame["points"].map(list)
    return frame


def _written(plan: str, ending: str) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"plan{ending}"
        write_plan(kept(plan), path)
        return path.read_bytes()


def sets(view: InView, plan: str, vehicle: str) -> None:
    """What turnings leave of the tires and rims, and what the plan does to them."""
    of_vehicle = turnings_of(plan)
    of_vehicle = of_vehicle[of_vehicle["vehicle"] == vehicle]
    if of_vehicle.empty:
        return
    st.subheader("What is left of the tires and rims?")
    rows = set_rows(
        plan_sets(of_vehicle, data.frame(plan, "scope")), lambda miles: set_far(miles, view.units)
    )
    alt_text = f"Sets of tires and rims of {vehicle}, and what the plan does to them"
    show.words_table(SET_HEADS, rows, alt_text=alt_text, words=2)
    policy = of_vehicle["policy"].iloc[0]
    st.caption(show.plain(f"Turned {policy}. One tire that is scrap ends its whole set."))


def files(plan: str) -> None:
    """The buttons; each file is made when it is asked for."""
    with st.container(horizontal=True, gap="small"):
        show.download(
            "Scope list for a quotation, XLSX", lambda: _written(plan, ".xlsx"), "plan.xlsx", show.XLSX
        )
        show.download("Scope list, PDF", lambda: plan_pdf(kept(plan)), "plan.pdf", "application/pdf")
        show.download(
            "For the board, one page", lambda: board_pdf(kept(plan)), "board.pdf", "application/pdf"
        )
        show.download("Calendar, SVG", lambda: _written(plan, ".svg"), "calendar.svg", "image/svg+xml")
        show.download("Calendar, PNG", lambda: _written(plan, ".png"), "calendar.png", "image/png")
        show.download("JSON", lambda: plan_json(kept(plan)).encode(), "plan.json", "application/json")
    with st.expander("What the plan assumes"):
        words = {"assumption": "Assumption", "value": "Value", "unit": "Unit", "source": "Source"}
        alt_text = "What the plan assumes, and where each value comes from"
        show.table(plan_assumptions(kept(plan).about), "plan-assumes", words=words, alt_text=alt_text)
