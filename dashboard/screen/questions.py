"""A question about a sheet: what is asked, and how the cells read by each answer."""

import streamlit as st

from dashboard.screen import show
from dashboard.words.looked import question_place
from ingest.look.question import Question


def ask(question: Question) -> str | None:
    """Show the question; the answer that was picked, None until there is one."""
    with st.container(border=True):
        st.markdown(f"**{show.plain(question.text)}**")
        st.caption(show.plain(question_place(question)))
        words = list(question.answers)
        said: str | None = st.radio(
            "Answer",
            words,
            index=None,
            format_func=lambda word: show.plain(question.answers[word].means),
            captions=[_reads(question, word) for word in words],
            key=f"answer-{question.id}",
            label_visibility="collapsed",
        )
    return said


def _reads(question: Question, word: str) -> str:
    """How the shown cells read by an answer."""
    reads = question.answers[word].reads
    pairs = zip(question.shown_rows, question.shown, reads, strict=False)
    return show.plain(
        "; ".join(f"row {row}: {written} → {read}" for row, (_, written), read in list(pairs)[:3])
    )
