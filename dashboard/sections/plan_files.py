"""A kept plan as files to download: workbook and PDF for a quotation, calendar picture, JSON."""

import json
import tempfile
from pathlib import Path

import pandas as pd
import streamlit as st

from dashboard.papers.plan_assumptions import plan_assumptions
from dashboard.papers.plan_documents import plan_json, plan_pdf, write_plan
from dashboard.screen import data, show
from dashboard.services.planning import PlanResult
from ingest.errors import StoreProblem
from models.plan.planner import Plan
from models.plan.rules import Rules
from models.tires.outlook import no_sets

FRAMES = ("windows", "scope", "points", "late", "risk", "carriers", "at_limit", "not_planned", "totals")


def kept(plan: str) -> PlanResult:
    """A plan put together again from its run."""
    runs = data.runs("plan")
    about = json.loads(runs.loc[runs["run_id"] == plan, "about"].iloc[0])
    rules = Rules(**{**about["rules"], "now": tuple(about["rules"]["now"])})
    return PlanResult(
        plan=Plan(**{name: _frame(plan, name) for name in FRAMES}, rules=rules),
        usage=_frame(plan, "usage"),
        amounts=_frame(plan, "amounts"),
        lines=_frame(plan, "amount_lines"),
        unpriced=_frame(plan, "unpriced"),
        turnings=turnings_of(plan),
        about=about,
    )


def turnings_of(plan: str) -> pd.DataFrame:
    """What turnings leave of the matched sets; none for a plan kept before plans said so."""
    try:
        return data.frame(plan, "turnings")
    except StoreProblem:
        return no_sets()


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


def files(plan: str) -> None:
    """The buttons; each file is made when it is asked for."""
    with st.container(horizontal=True, gap="small"):
        show.download(
            "Scope list for a quotation, XLSX", lambda: _written(plan, ".xlsx"), "plan.xlsx", show.XLSX
        )
        show.download("Scope list, PDF", lambda: plan_pdf(kept(plan)), "plan.pdf", "application/pdf")
        show.download("Calendar, SVG", lambda: _written(plan, ".svg"), "calendar.svg", "image/svg+xml")
        show.download("Calendar, PNG", lambda: _written(plan, ".png"), "calendar.png", "image/png")
        show.download("JSON", lambda: plan_json(kept(plan)).encode(), "plan.json", "application/json")
    with st.expander("What the plan assumes"):
        words = {"assumption": "Assumption", "value": "Value", "unit": "Unit", "source": "Source"}
        alt_text = "What the plan assumes, and where each value comes from"
        show.table(plan_assumptions(kept(plan).about), "plan-assumes", words=words, alt_text=alt_text)
