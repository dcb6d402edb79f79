"""What a batch did, in words: the store keeps it as JSON."""

import json
from typing import Any

import pandas as pd

MOST_FILES = 3
DID = {
    "add": "files added",
    "mend": "row corrected",
    "accept": "row accepted as it is",
    "dismiss": "rows dismissed",
    "retry": "held rows checked again",
    "change": "row changed",
    "withdraw": "row withdrawn",
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
    if "undone" in facts:
        parts.append(f"batch {facts['undone']}")
    held = facts.get("held_ids", [facts["held_id"]] if "held_id" in facts else [])
    if held:
        parts.append(f"held {'row' if len(held) == 1 else 'rows'} {', '.join(map(str, held))}")
    if "table" in facts:
        parts.append(f"row {facts.get('row_id', '')} of {facts['table']}")
    parts += [f"{name} = {value}" for name, value in facts.get("changes", {}).items()]
    if facts.get("reason"):
        parts.append(f"why: {facts['reason']}")
    return "; ".join(parts)
