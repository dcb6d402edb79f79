"""Where the headings of a sheet of unknown make stand, which columns are measurements, where blocks begin."""

import re
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from ingest.dates import ORDERS, parse_dates
from ingest.headings import known_tables, match
from ingest.values import parse_values

_ROWS_LOOKED_AT = 40
_MEASURED_SHARE = 0.5  # a column of measurements may hold dashes and remarks in the other half of its cells
_LABEL = re.compile(r"[^\W\d][^:]*:(?:\s.*)?")
BLOCK = re.compile(r"(?P<label>[^\W\d][^\d:]*?)\s*:?\s*(?P<date>\d.*)")
"""A line such as ``Inspection: 3.5.1998``."""


def find_header(cells: pd.DataFrame) -> int | None:
    """Place of the row of headings: it names columns, is wide, holds no figures and stands above some.

    A row of labels (``Engine:`` beside a name) is none. None for a sheet without any text.
    """
    top = [list(map(str, row)) for row in cells.iloc[:_ROWS_LOOKED_AT].to_numpy(dtype=object)]
    filled = [sum(map(bool, row)) for row in top]
    if not any(filled):
        return None
    scores = [
        3 * _named(row)
        + width
        - 6 * sum(bool(_LABEL.fullmatch(text)) for text in row)
        - 6 * int(figures(row).sum())
        for row, width in zip(top, filled, strict=True)
    ]
    scores = [score if width else min(scores) - 1 for score, width in zip(scores, filled, strict=True)]
    return int(np.argmax(scores))


def find_measured(body: pd.DataFrame) -> tuple[int, ...]:
    """Columns whose filled cells are mostly measurements, with either decimal mark."""
    found = []
    for p in range(body.shape[1]):
        texts = body[p][body[p] != ""]
        share = max(
            ((parse_values(texts, decimal=mark)["problem"] == "").mean() for mark in ".,"), default=0.0
        )
        if len(texts) and share >= _MEASURED_SHARE:
            found.append(p)
    return tuple(found)


def find_dates(body: pd.DataFrame) -> tuple[int, ...]:
    """Columns whose filled cells are all dates in some order."""
    found = []
    for p in range(body.shape[1]):
        texts = body[p][body[p] != ""]
        if len(texts) and any(
            (parse_dates(texts, order)["problem"] == "").all() for order in (None, *ORDERS)
        ):
            found.append(p)
    return tuple(found)


def with_other_headings(cells: pd.DataFrame, header: int, measured: Sequence[int]) -> tuple[int, ...]:
    """The row of headings and the one below or above it, if that too says something of the measurements."""
    over = cells[list(measured)]
    below = list(over.iloc[header + 1]) if header + 1 < len(cells) else []
    if any(below) and not figures(below).any() and not are_dates(below).any():
        return (header, header + 1)
    above = list(over.iloc[header - 1]) if header else []
    labels = [text for text in above if text and _LABEL.fullmatch(text)]
    if sum(map(bool, above)) > 1 and not labels and not figures(above).any():
        return (header - 1, header)
    return (header,)


def find_blocks(cells: pd.DataFrame) -> tuple[str, list[int]]:
    """How the lines begin that open a block for a date, and their places; nothing where fewer than two do."""
    alone = ((cells != "").sum(axis=1) == 1).to_numpy(dtype=bool)
    lines = [(p, found) for p, text in enumerate(cells[0]) if alone[p] and (found := BLOCK.fullmatch(text))]
    begins: dict[str, list[int]] = {}
    for (place, found), dated in zip(lines, are_dates([found["date"] for _, found in lines]), strict=True):
        if dated:
            begins.setdefault(found["label"], []).append(place)
    label, places = max(begins.items(), key=lambda item: len(item[1]), default=("", []))
    return (label, places) if len(places) > 1 else ("", [])


def figures(texts: Sequence[str]) -> npt.NDArray[np.bool_]:
    """Which cells are measurements."""
    cells = pd.Series(list(texts), dtype="str")
    read = [parse_values(cells, decimal=mark)["problem"] == "" for mark in ".,"]
    return (read[0] | read[1]).to_numpy(dtype=bool)


def are_dates(texts: Sequence[str]) -> npt.NDArray[np.bool_]:
    """Which texts are dates in some order."""
    cells = pd.Series(list(texts), dtype="str")
    dated = np.zeros(len(cells), dtype=bool)
    for order in (None, *ORDERS):
        dated |= (parse_dates(cells, order)["problem"] == "").to_numpy(dtype=bool)
    return dated


def _named(row: Sequence[str]) -> int:
    """How many cells of a row are headings of one table."""
    headings = [text for text in row if text and not _LABEL.fullmatch(text)]
    return max(len(match(headings, table).renames) for table in known_tables())
