"""Layouts kept under a name, and which layout would read a file that was not taken as it stands."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import pandas as pd

from ingest.errors import NotPossible, UserError
from ingest.layouts.kept import kept_for
from ingest.layouts.layout import Layout, load_layout, parse_layout
from ingest.layouts.propose import propose_layout
from ingest.neutral import harmless, quoted_path, visible
from ingest.schema import TABLES
from ingest.sheets.readers import find_files, read_cells
from ingest.store import Store
from ingest.store.store import this_user
from ingest.verdicts.decide import decide
from ingest.verdicts.handed_in import read_files
from ingest.verdicts.report import AddReport

_MOST = 10
"""Files that are looked at; a folder of hundreds that all wait would take minutes."""


@dataclass(frozen=True)
class Advice:
    """A layout that would solve rows of a file.

    ``layout`` is the name of a kept one, empty for a proposal made from the file; ``rows`` how many of the
    file's rows would be accepted so.
    """

    file: str
    layout: str
    rows: int


def layout_advice(
    store: Store, paths: Iterable[Path], report: AddReport | None, *, today: date | None = None
) -> list[Advice]:
    """Layouts that would solve what a call did not take: files that are no table, or whose rows all wait.

    Parameters
    ----------
    paths : as they were handed in.
    report : what became of them without a layout; None where nothing of them was a table.
    """
    found = find_files(paths)
    unsolved = {visible(path.name) for path in found} if report is None else _unsolved(report)
    if not unsolved or not store.path.exists():
        return []
    known = store.stored()[1]
    advice = []
    for path in [path for path in found if visible(path.name) in unsolved][:_MOST]:
        best = Advice("", "", 0)
        for name, text in _candidates(path, known["layouts"]):
            rows = _accepted(path, text, known, today or datetime.now(UTC).date())
            best = max(best, Advice(visible(path.name), name, rows), key=lambda found: found.rows)
        if best.rows:
            advice.append(best)
    return advice


def _unsolved(report: AddReport) -> set[str]:
    """Files that are no table and not asked about, and those whose rows all wait."""
    files = report.files
    waits = files[(files["held_back"] > 0) & (files["accepted"] + files["already_known"] == 0)]
    return {item.file for item in report.not_read if not item.question} | set(waits["file"])


def layout_named(store: Store, layout: Path) -> Layout:
    """The layout in a file, or the kept one of that name.

    Raises
    ------
    UnreadableFile : the file is no layout.
    NotPossible : there is neither a file nor a kept layout of that name.
    """
    if layout.exists() or not store.path.exists():
        return load_layout(layout)
    kept = store.read("layouts").set_index("layout")["content"]
    if str(layout) in kept.index:
        return parse_layout(str(kept[str(layout)]), str(layout))
    listed = ", ".join(kept.index) or "none yet"
    raise NotPossible(
        f"There is no layout {quoted_path(layout)}: neither a file nor one that is kept. Kept: {listed}."
    )


def _candidates(path: Path, kept: pd.DataFrame) -> list[tuple[str, str]]:
    """Name and text of the layouts to be tried; the name of a proposal is empty."""
    try:
        names = kept_for(read_cells(path), kept) if len(kept) else []
        texts = dict(zip(kept["layout"], kept["content"], strict=True))
        return [*((name, str(texts[name])) for name in names), ("", propose_layout(path))]
    except UserError:
        return []


def _accepted(path: Path, text: str, known: dict[str, pd.DataFrame], today: date) -> int:
    """How many rows would be accepted under a layout."""
    try:
        decision = decide(read_files([path], parse_layout(text)).rows, known, today)
    except UserError:
        return 0
    return sum(len(judged.accepted) for judged in decision.judged.values())


def keep_layout(
    store: Store, name: str, kind: str, text: str, *, who: str = "", today: date | None = None
) -> int:
    """Keep a layout under a name; one of that name is replaced, and stays on record. Returns the batch.

    Parameters
    ----------
    kind : what headings of sheets of this make share, as :func:`ingest.layouts.kept.sheet_kind` gives it.
    text : the layout, TOML.

    Raises
    ------
    NotPossible : without a name.
    UnreadableFile : the text is no layout.
    """
    name = name.strip()
    if not name:
        raise NotPossible("A layout is kept under a name. Write one, such as 'wheel book'.")
    parse_layout(text, name)
    row = {"layout": name, "sheet_kind": kind, "content": text, "who": who or this_user(), "note": ""}
    with store.transaction("layout", who, harmless({"layout": name})) as batch:
        stored = batch.stored()["layouts"]
        frame = pd.DataFrame([harmless(row)]).astype("str")
        frame["date"] = pd.Timestamp(today or datetime.now(UTC).date()).as_unit("us")
        frame = frame.assign(source_file="", source_sheet="", source_row=0)
        columns = [column.stored for column in TABLES["layouts"].all_columns]
        before = stored.loc[stored["layout"] == name, "row_id"]
        batch.replace("layouts", before, frame[[*columns, "source_file", "source_sheet", "source_row"]])
        return batch.batch
