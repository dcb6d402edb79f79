"""A sheet with a layout of its own: proposed from the file, put right here, previewed, used to add it."""

import tempfile
from pathlib import Path

import streamlit as st

from dashboard.screen import show
from dashboard.screen.in_view import person
from dashboard.sections import taking_in
from ingest.errors import UserError
from ingest.layouts.layout import parse_layout
from ingest.layouts.propose import Preview, preview_text, propose_layout

TEXT, OF = "layout-text", "layout-of"


def page() -> None:
    """Choose a file, see how it would be read, put that right, add it."""
    st.markdown(
        "For a sheet whose headings or arrangement are its own: a **layout** says once how it maps to the "
        "tables. One is proposed from the file; put right what is wrong, above all the order of dates and "
        "the units."
    )
    upload = st.file_uploader("One file", type=["csv", "xlsx", "txt", "tsv"], key="layout-file")
    if upload is None:
        return
    with tempfile.TemporaryDirectory(prefix="milesleft-") as folder:
        path = taking_in.keep(upload, Path(folder))
        try:
            _propose(upload.name, path)
            text = st.text_area("Layout", key=TEXT, height=320)
            for preview in preview_text(path, text):
                _show(preview)
        except UserError as error:
            st.error(show.plain(error))
            return
    left, right = st.columns([1, 3], vertical_alignment="center")
    left.download_button("Save the layout", text, f"{Path(upload.name).stem}.toml", on_click="ignore")
    if right.button("Add the file with this layout", type="primary"):
        try:
            st.session_state[taking_in.LAST] = taking_in.take_in([upload], person().name, parse_layout(text))
        except UserError as error:
            st.error(show.plain(error))
        else:
            st.rerun()
    if taking_in.LAST in st.session_state:
        taking_in.report(st.session_state[taking_in.LAST])


def _propose(name: str, path: Path) -> None:
    """Propose anew for another file; what was typed stays for the same one."""
    if st.session_state.get(OF) != name:
        st.session_state[TEXT] = propose_layout(path)
        st.session_state[OF] = name


def _show(preview: Preview) -> None:
    """First rows as they would be taken in, and what is amiss."""
    st.subheader(show.plain(f"{preview.place} → {preview.table}: {preview.n_rows:,} rows"))
    if preview.lacking:
        st.warning(
            show.plain(f"Still missing: {', '.join(preview.lacking)}. Say in the layout where they are.")
        )
    if preview.unused:
        st.markdown(show.plain(f"Not used: {', '.join(preview.unused)}"))
    st.dataframe(preview.rows, hide_index=True, alt=f"First rows as {preview.table}")
