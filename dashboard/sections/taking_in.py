"""Files handed in on a page: kept for as long as they are read, verdicts shown, and undone if wanted."""

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

import pandas as pd
import streamlit as st

from dashboard.screen import address, data, show
from dashboard.screen.in_view import forecast_button, person
from dashboard.sections.odometer import last_entries
from dashboard.sections.unexpected import after_batch
from dashboard.services.after_add import recognised_points
from dashboard.words.batch_words import in_words
from ingest.catalogue.recognised import recognised_lines
from ingest.errors import UserError
from ingest.layouts.layout import Layout
from ingest.neutral import neutral
from ingest.verdicts.add import add_files
from ingest.verdicts.report import ACCEPTED, ALREADY_KNOWN, HELD_BACK, AddReport
from ingest.verdicts.undo import undo

LAST = "last-report"
FILES = {
    "file": "File",
    "sheet": "Sheet",
    "table": "Table",
    "rows": "Rows",
    "accepted": "Accepted",
    "held_back": "Held back",
    "already_known": "Already known",
    "not_used": "Columns not used",
}
HELD = {"file": "File", "sheet": "Sheet", "row": "Row", "table": "Table", "reasons": "Why"}


class Upload(Protocol):
    """A file as the browser sends it."""

    @property
    def name(self) -> str: ...

    def getvalue(self) -> bytes: ...


@dataclass(frozen=True)
class Made:
    """A file that a page made itself."""

    name: str
    content: bytes

    def getvalue(self) -> bytes:
        """Its content."""
        return self.content


def add_page() -> None:
    """Choose files, add them, see what became of every row."""
    st.markdown(
        "CSV or XLSX: readings, mileage, work and the other tables, in any order, several at once. Every row "
        "ends **accepted**, **held back** with all reasons, or **already known**. Nothing is lost, and a "
        "batch can be undone."
    )
    entries = last_entries(datetime.now(UTC).date())
    if entries:
        st.caption(
            "An odometer in a sheet is what the instrument shows, in its own unit; over a replaced one the "
            f"count goes on by itself. Last entries: {show.plain(entries)}."
        )
    uploads = st.file_uploader("Files", type=["csv", "xlsx"], accept_multiple_files=True, key="batch-files")
    if st.button("Add these files", type="primary", disabled=not uploads):
        try:
            st.session_state[LAST] = take_in(uploads, person().name)
        except UserError as error:
            st.session_state.pop(LAST, None)
            st.error(show.plain(error))
        else:
            st.rerun()  # so that what stands above the button knows of the batch too
    if LAST in st.session_state:
        report(st.session_state[LAST])


def take_in(uploads: Sequence[Upload], who: str, layout: Layout | None = None) -> AddReport:
    """Store uploaded files under their own names for the length of the reading, and add them as one batch."""
    with tempfile.TemporaryDirectory(prefix="milesleft-") as folder:
        # A folder each: two files of one name stay two.
        paths = [keep(upload, Path(folder) / str(place)) for place, upload in enumerate(uploads)]
        return add_files(data.store(), paths, who=who, layout=layout)


def keep(upload: Upload, folder: Path) -> Path:
    """Write an upload into a folder under the last part of its own name, whatever path the browser tells."""
    folder.mkdir(exist_ok=True)
    name = Path(neutral(upload.name.replace("\\", "/"), 120)).name
    path = folder / (name if name not in ("", "..") else "upload")
    path.write_bytes(upload.getvalue())
    return path


def report(made: AddReport, key: str = LAST) -> None:
    """The verdicts, which add up, and what to do next; ``key`` is where the report is kept until then."""
    counts = {word: made.count(word) for word in (ACCEPTED, HELD_BACK, ALREADY_KNOWN)}
    cells = st.columns(4)
    cells[0].metric("Rows handed in", f"{len(made.verdicts):,}")
    for cell, (word, count) in zip(cells[1:], counts.items(), strict=True):
        cell.metric(word.capitalize(), f"{count:,}")
    for item in made.not_read:
        st.error(show.plain(f"{item.file}{', ' + item.sheet if item.sheet else ''}: {item.reason}"))
    if made.batch is None:
        st.info("Nothing new: the store is as it was.")
    else:
        st.success(f"Stored as batch {made.batch}.")
        forecast_button("Forecast again with this batch", then=lambda: st.session_state.pop(key, None))
        after_batch(data.noticed(made), address.units())
    _recognised(made)
    if counts[HELD_BACK]:
        st.subheader(f"Held back: {counts[HELD_BACK]:,}")
        st.markdown("They wait under *Held back* to be corrected, accepted or dismissed.")
        show.table(made.held_back, "held-back", words=HELD, alt_text="Rows held back and why")
    with st.expander("File by file", expanded=not counts[HELD_BACK]):
        show.table(made.files, "files", words=FILES, alt_text="Rows of each file by verdict")


def _recognised(made: AddReport) -> None:
    """What the catalogue took new wear points for, so that a name taken for another part is seen at once."""
    kinds = recognised_points(data.store(), made)
    if kinds.empty:
        return
    unknown = int(kinds["recognised_as"].eq("").sum())
    with st.expander(
        f"What the catalogue took the wear points for: {len(kinds)} kinds, {unknown} not recognised"
    ):
        st.markdown("\n".join(f"- {show.plain(line)}" for line in recognised_lines(kinds)))


def batches_page() -> None:
    """What was changed, by whom and when; the newest can be undone, then the one before it."""
    made = data.store().batches()
    if made.empty:
        st.info("Nothing has been added yet.")
        return
    words = {"batch": "Batch", "made_at": "When (UTC)", "who": "Who", "command": "What", "about": "About"}
    show.table(
        in_words(made),
        "batches",
        words=words,
        alt_text="Batches, newest first",
        formats={"When (UTC)": st.column_config.DatetimeColumn(format="D MMM YYYY, HH:mm")},
    )
    undo_form(made)


def undo_form(made: pd.DataFrame) -> None:
    """Take back what a batch brought. What it replaced holds again; the record of both stays."""
    with st.form("undo"):
        choices = [int(batch) for batch in made.loc[made["command"] != "undo", "batch"]]
        left, right = st.columns([1, 3])
        batch = left.selectbox("Batch", choices, key="undo-batch")
        why = right.text_input("Why (kept with the undo)", key="undo-why")
        if not st.form_submit_button("Undo the batch"):
            return
    try:
        number = undo(data.store(), int(batch), person().name, why)
    except UserError as error:
        st.error(show.plain(error))
        return
    st.session_state.pop(LAST, None)
    st.success(f"Batch {batch} is undone, as batch {number}. Forecast again to see what that changes.")
