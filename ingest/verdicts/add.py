"""Files in, verdicts out: what ``milesleft add`` does. One transaction for everything handed in."""

from collections.abc import Iterable
from datetime import UTC, date, datetime
from pathlib import Path

from ingest.layouts.layout import Layout, load_layout
from ingest.store import Store
from ingest.verdicts.decide import decide
from ingest.verdicts.handed_in import HandedIn, read_files
from ingest.verdicts.report import AddReport, report

_TRIES = 3  # times that rows are judged because somebody else stored something meanwhile


def add_files(
    store: Store,
    paths: Iterable[Path | str],
    *,
    who: str = "",
    layout: Layout | Path | None = None,
    today: date | None = None,
) -> AddReport:
    """Read files and folders and store their rows in one batch.

    Parameters
    ----------
    store : it is made if it does not exist.
    paths : files and folders; readings and what they refer to may come in any order.
    who : name for the record; the user of this process if empty.
    layout : a layout or its file, for sheets that are not written like the tables.
    today : day after which dates lie in the future; the present day if None.

    Returns
    -------
    AddReport : a verdict for every row.

    Raises
    ------
    UnreadableFile : nothing of what was handed in is a table; the message speaks of each file.
    StoreBusy, StoreProblem : the store cannot be opened; nothing was stored.
    """
    if isinstance(layout, Path):
        layout = load_layout(layout)
    handed_in = read_files([Path(path) for path in paths], layout)
    return add_rows(store, handed_in, who=who, today=today)


def add_rows(store: Store, handed_in: HandedIn, *, who: str = "", today: date | None = None) -> AddReport:
    """Judge and store rows that were read already; see :func:`add_files`.

    They are judged while others may use the store. If somebody stored something meanwhile they are judged
    again, the last time while nobody else can write.
    """
    today = today or datetime.now(UTC).date()
    about = {"files": sorted(handed_in.sheets["file"].unique())}
    for tries_left in reversed(range(_TRIES)):
        version, known = store.stored()
        decision = decide(handed_in.rows, known, today)
        with store.transaction("add", who, about) as batch:
            overtaken = batch.before != version
            if overtaken and tries_left:
                continue
            if overtaken:
                decision = decide(handed_in.rows, batch.stored(), today)
            decision.write(batch)
            return report(batch.batch if batch.changed else None, handed_in, decision)
    raise AssertionError("the last try stores or raises")
