"""What a plan changes in the approved one, line by line, and what became of the lines since."""

import json

import pandas as pd
import streamlit as st

from dashboard.screen import data, show
from dashboard.words.plan_words import CHANGE_WORDS, changed_words, moved_words

SHOWN = 8
"""Lines shown before all are asked for."""


def changes(plan: str, vehicle: str) -> None:
    """Section: the lines that are moved, added, dropped or done, the next windows first."""
    runs = data.runs("plan")
    about = json.loads(runs.loc[runs["run_id"] == plan, "about"].iloc[0])
    approved = str(about.get("changes_since") or "")
    if not approved:
        return
    lines = data.frame_if_any(plan, "changes")
    lines = lines[lines["vehicle"] == vehicle] if "vehicle" in lines else lines
    st.subheader("What changed against the approved plan?")
    st.markdown(show.plain(changed_words(lines, approved) if len(lines) else _nothing(approved)))
    if lines.empty:
        return
    everything = len(lines) <= SHOWN or st.toggle(f"Show all {len(lines)} changes", key="changes-all")
    rows = _rows(lines if everything else lines.head(SHOWN))
    head = ["Change", "Work", "Where", "From, to", "Cost", "Why"]
    show.words_table(head, rows, alt_text="Lines that this plan changes in the approved one", words=6)


def _nothing(approved: str) -> str:
    return changed_words(pd.DataFrame({"change": []}), approved)


def _rows(lines: pd.DataFrame) -> list[list[str]]:
    return [
        [
            CHANGE_WORDS.get(str(row["change"]), str(row["change"])),
            f"{row['component']} {row['action']}",
            str(row["position"]),
            moved_words(row),
            "" if pd.isna(row["cost"]) else f"{row['cost']:,.0f}",
            str(row["why"]),
        ]
        for row in lines.to_dict("records")
    ]
