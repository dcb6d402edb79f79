"""What a batch did, in words: the store keeps it as JSON."""

import json
from typing import Any

import pandas as pd

from dashboard.words.correct_words import kept_words
from ingest.names.as_written import as_written

MOST_FILES = 3
DID = {
    "add": "files added",
    "mend": "row corrected",
    "accept": "row accepted as it is",
    "dismiss": "rows dismissed",
    "retry": "held rows checked again",
    "change": "row changed",
    "withdraw": "row withdrawn",
    "correct": "rows corrected alike",
    "layout": "layout kept",
    "undo": "batch undone",
}


def in_words(batches: pd.DataFrame) -> pd.DataFrame:
    """Batches with ``command`` and ``about`` in words.

    Parameters
    ----------
    batches : as ``Store.batches`` gives them: command, about (JSON).
    """
    return batches.assign(
        command=[DID.get(command, command) for command in batches["command"]],
        about=[about_words(about) for about in batches["about"]],
    )


def place_words(file: str, sheet: str, row: int) -> str:
    """``wheels.xlsx, sheet 2019, row 12``."""
    return f"{file}{', sheet ' + sheet if sheet else ''}, row {row}"


def rows_words(batch: "pd.Series[Any]") -> str:
    """``212 rows stored, 3 held back``; ``undone by batch 9``.

    Parameters
    ----------
    batch : row of ``ingest.verdicts.undo.batch_list``.
    """
    left = (
        ""
        if batch["hold"] == batch["brought"] or batch["undone_in"]
        else f", of which {batch['hold']:,} still hold"
    )
    parts = [
        (batch["brought"], f"stored{left}"),
        (batch["taken"], "taken back"),
        (batch["held"], "held back"),
        (batch["settled"], "settled"),
    ]
    said = [f"{count:,} row{'s' * (count != 1)} {word}" for count, word in parts if count]
    if batch["undone_in"]:
        said.append(f"undone by batch {batch['undone_in']}")
    return "; ".join(said) or "nothing"


def rows_of_batch_shown(table: str, rows: pd.DataFrame) -> pd.DataFrame:
    """Rows of a batch as they were written, those columns that hold anything, and where they came from.

    Parameters
    ----------
    rows : as ``Store.rows_of_batch`` gives them.
    """
    cells = as_written(table, rows)
    cells = cells.loc[:, (cells != "").any(axis=0)]
    where = rows[["source_file", "source_sheet", "source_row"]].set_axis(["file", "sheet", "row"], axis=1)
    state = rows["holds"].map({True: "", False: "no longer holds"})
    return pd.concat([cells, where, state.rename("state")], axis=1)


def about_words(about: str) -> str:
    """Files, rows and the reason: ``3 files: a.csv, b.csv, c.csv``; ``value = 1 3/8. read again``."""
    try:
        facts: dict[str, Any] = json.loads(about) if about else {}
    except ValueError:
        return about
    files = facts.get("files", [])
    parts = []
    if files:
        more = f" and {len(files) - MOST_FILES} more" if len(files) > MOST_FILES else ""
        count = "1 file" if len(files) == 1 else f"{len(files)} files"
        parts.append(f"{count}: {', '.join(files[:MOST_FILES])}{more}")
    if "layout" in facts:
        parts.append(str(facts["layout"]))
    if "undone" in facts:
        parts.append(f"batch {facts['undone']}")
    held = facts.get("held_ids", [facts["held_id"]] if "held_id" in facts else [])
    if held:
        parts.append(f"held {'row' if len(held) == 1 else 'rows'} {', '.join(map(str, held))}")
    if "table" in facts:
        parts.append(f"row {facts.get('row_id', '')} of {facts['table']}")
    parts += [f"{name} = {value}" for name, value in facts.get("changes", {}).items()]
    if "chosen" in facts:
        parts.append(kept_words(facts["chosen"]))
    if facts.get("reason"):
        parts.append(f"why: {facts['reason']}")
    return "; ".join(parts)
