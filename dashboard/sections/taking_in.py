"""Files handed in on a page: kept for as long as they are read, verdicts shown, and undone if wanted."""

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import pandas as pd
import streamlit as st

from dashboard.screen import address, data, show
from dashboard.screen.in_view import forecast_button, person
from dashboard.sections.unexpected import after_batch
from dashboard.services.after_add import recognised_points
from dashboard.words.add_words import known_already, known_words, waited_words, would_fit_words
from dashboard.words.batch_words import in_words, rows_of_batch_shown, rows_words
from ingest.catalogue.recognised import recognised_lines
from ingest.errors import UserError
from ingest.neutral import neutral
from ingest.verdicts.add import add_files
from ingest.verdicts.read_again import would_fit
from ingest.verdicts.report import ACCEPTED, ALREADY_KNOWN, HELD_BACK, AddReport
from ingest.verdicts.undo import batch_list, undo

LAST = "last-report"
_ROWS = 1_000
"""Rows of a batch that are shown."""
_LONGEST_NAME, _LONGEST_ENDING = 120, 8
"""Bytes and characters of a file's name that are kept: a name that any disk takes."""
KINDS = ["csv", "tsv", "txt", "xlsx", "ods"]
"""Endings of the files that can be handed in."""
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


def take_in(uploads: Sequence[Upload], who: str) -> AddReport:
    """Store uploaded files under their own names for the length of the reading, and add them as one batch."""
    with tempfile.TemporaryDirectory(prefix="milesleft-") as folder:
        # A folder each: two files of one name stay two.
        paths = keep_all(uploads, Path(folder))
        return add_files(data.store(), paths, who=who)


def keep(upload: Upload, folder: Path) -> Path:
    """Write an upload into a folder under the last part of its own name, whatever path the browser tells."""
    folder.mkdir(exist_ok=True)
    name = Path(neutral(upload.name.replace("\\", "/"), 100_000)).name
    if not name or name.startswith("."):
        name = f"upload{name}"
    ending = Path(name).suffix[-_LONGEST_ENDING:]
    stem = name.removesuffix(ending).encode()[:_LONGEST_NAME].decode(errors="ignore")
    path = folder / f"{stem}{ending}"
    path.write_bytes(upload.getvalue())
    return path


def keep_all(uploads: Sequence[Upload], folder: Path) -> list[Path]:
    """Each upload as :func:`keep` writes it; a second one of the same name gets a number."""
    paths: list[Path] = []
    for number, upload in enumerate(uploads):
        path = keep(upload, folder / str(number))
        again, taken = 2, {other.name for other in paths}
        fresh = path
        while fresh.name in taken:
            fresh = path.with_name(f"{path.stem} ({again}){path.suffix}")
            again += 1
        paths.append(path.rename(fresh))
    return paths


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
        waited = f" {waited_words(made.no_longer_wait)}" if made.no_longer_wait else ""
        st.success(f"Stored as batch {made.batch}.{waited}")
        forecast_button("Forecast again with this batch", then=lambda: st.session_state.pop(key, None))
        after_batch(data.noticed(made), address.units())
    _recognised(made)
    if counts[HELD_BACK]:
        st.subheader(f"Held back: {counts[HELD_BACK]:,}")
        st.markdown("They wait under *Held back* to be corrected, accepted or dismissed.")
        show.table(made.held_back, "held-back", words=HELD, alt_text="Rows held back and why")
    fresh, said = made.files[~known_already(made.files)], known_words(made.files)
    with st.expander("File by file", expanded=not counts[HELD_BACK]):
        if said:
            st.markdown(said)
        show.table(
            fresh if len(fresh) else made.files, "files", words=FILES, alt_text="Rows of each file by verdict"
        )


def _recognised(made: AddReport) -> None:
    """What the catalogue took new wear points for, so that a name taken for another part is seen at once."""
    kinds = recognised_points(data.store(), made)
    if kinds.empty:
        return
    unknown = int(kinds["recognised_as"].eq("").sum())
    with st.expander(
        f"What the wear points were recognised as: {len(kinds)} kinds, {unknown} not recognised"
    ):
        st.markdown("\n".join(f"- {show.plain(line)}" for line in recognised_lines(kinds)))


BATCHES = {
    "batch": "Batch",
    "made_at": "When (UTC)",
    "who": "Who",
    "command": "What",
    "rows": "Rows",
    "about": "About",
}


def batches_page() -> None:
    """What was changed, by whom and when; the rows of one; the newest can be undone, then the one before."""
    made = batch_list(data.store())
    if made.empty:
        st.info("Nothing has been added yet.")
        return
    st.markdown("Pick a batch to see the rows that it brought, and where they came from.")
    picked = show.table(
        in_words(made).assign(rows=[rows_words(row) for _, row in made.iterrows()]),
        "batches",
        words=BATCHES,
        alt_text="Batches, newest first",
        formats={"When (UTC)": st.column_config.DatetimeColumn(format="D MMM YYYY, HH:mm")},
        pick="batch-picked",
        height=360 if len(made) > 9 else "auto",
    )
    if picked is not None:
        _rows_of(int(made["batch"].iloc[picked]))
    undo_form(made[made["undone_in"] == 0])


def _rows_of(batch: int) -> None:
    """The rows that a batch brought, by table, and where each came from."""
    tables = data.store().rows_of_batch(batch)
    if not tables:
        st.markdown(f"Batch {batch} brought no rows of its own.")
    for table, rows in tables.items():
        st.subheader(f"Batch {batch}: {len(rows):,} rows of {table}")
        shown = rows_of_batch_shown(table, rows.head(_ROWS))
        show.table(
            shown,
            f"batch-{batch}-{table}",
            words={str(name): str(name) for name in shown},
            alt_text=f"Rows of {table}",
        )
        if len(rows) > _ROWS:
            st.caption(f"The first {_ROWS:,} are shown.")


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
    fit = would_fit_words(would_fit(data.store()), "'Check all of them again' under Held back stores them")
    st.success(f"Batch {batch} is undone, as batch {number}. Forecast again to see what that changes.{fit}")
