"""The papers of an opening as downloads; each is made when it is asked for."""

from collections.abc import Callable

import streamlit as st

from dashboard.opened.choosing import Opening
from dashboard.papers.opening_papers import WHAT, opening_paper
from dashboard.papers.table_papers import paper_pdf, paper_workbook
from dashboard.screen import data, show

MEANS = {
    "contractor": "Open lines by trade, with room for a quotation.",
    "orders": "What open lines need, by when it is there, the latest first.",
    "as-left": "Every dimension as left beside what it must be, what does not agree, and the findings.",
    "inspector": "All readings of the running gear since the opening before this one was closed.",
}


def page(opening: Opening) -> None:
    """One paper under the other, as PDF and as a workbook."""
    name = "".join(sign if sign.isalnum() else "-" for sign in str(opening["opening"]))
    for what, title in WHAT.items():
        st.subheader(title)
        st.markdown(MEANS[what])
        with st.container(horizontal=True, gap="small"):
            show.download("PDF", _pdf(opening, what), f"{name}-{what}.pdf", "application/pdf")
            show.download("XLSX", _workbook(opening, what), f"{name}-{what}.xlsx", show.XLSX)


def _pdf(opening: Opening, what: str) -> Callable[[], bytes]:
    return lambda: paper_pdf(opening_paper(data.store(), opening, what))


def _workbook(opening: Opening, what: str) -> Callable[[], bytes]:
    return lambda: paper_workbook(opening_paper(data.store(), opening, what))
