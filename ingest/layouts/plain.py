"""A sheet as tables of text under headings; without a layout these are its first row that is not empty.

Titles may stand above the headings, tables side by side, parted by an empty column, and headings in the
first column, a column a row.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.errors import UnknownTable, UnreadableFile
from ingest.layouts.blocks import beyond_headings
from ingest.layouts.headings import recognise
from ingest.layouts.stage_words import stage_pairs
from ingest.neutral import quoted
from ingest.notation.values import parse_values
from ingest.sheets.cells import RawCells, unmarked
from ingest.sheets.contents import column_letter

_MOST_TITLES = 8
"""Lines above the headings that are passed over."""
_MOST_TURNED = 100
"""Lines of a sheet whose headings may stand in its first column: a table has fewer columns."""
_LONGEST_HEADING = 400
"""Characters up to which a heading is looked for again below: each is held against every cell."""
_LONGEST_TITLE = 400
"""Characters kept of what stands above the headings."""


@dataclass(frozen=True)
class RawTable:
    """One table of text under its headings.

    ``columns`` are the headings as written; ``rows`` a frame of text under them (missing = ""), index = row
    number in the file, 1-based as a spreadsheet shows it; ``problems`` row → why it must be held back;
    ``date_order`` and ``decimal`` what a layout states about dates and numbers; ``table`` the public table
    if a layout names it; ``typed`` whether the file tells numbers from texts; ``marks`` what it says of cells
    (characters of ``ingest.sheets.contents.MARKS``), under the same columns, one row for each of ``rows``;
    ``title`` what stands above the headings; ``words`` that, and lines of which a layout makes no row.
    """

    file: str
    sheet: str | None
    columns: list[str]
    rows: pd.DataFrame
    problems: dict[int, str] = field(default_factory=dict)
    date_order: str | None = None
    decimal: str = "."
    table: str | None = None
    typed: bool = False
    marks: pd.DataFrame | None = None
    title: str = ""
    words: str = ""

    @property
    def place(self) -> str:
        """File and sheet, harmless to show."""
        return quoted(self.file) + (f", sheet {quoted(self.sheet)}" if self.sheet is not None else "")


def as_tables(raw: RawCells) -> list[RawTable]:
    """The sheet as it stands: one table, several where they stand side by side, none of an empty sheet.

    Raises
    ------
    UnreadableFile : two filled columns under one heading.
    """
    beside = list(_side_by_side(raw))
    tables = [_as_table(part) for part in beside] if len(beside) > 1 and not _is_table(raw) else []
    if len([table for table in tables if table is not None and _is_known(table.columns)]) < 2:
        turned = _turned(raw)
        tables = [_as_table(part) for part in ([turned] if turned is not None else _stacked(raw))]
    return [table for table in tables if table is not None]


def _turned(raw: RawCells) -> RawCells | None:
    """The sheet with its columns as rows, where its first column holds the headings and no row does.

    Rows of it are numbered as the columns stood. A sheet with cells that cannot be believed stays as it is:
    what is said of them is said of rows.
    """
    if raw.problems or raw.cells.empty or len(raw.cells) > _MOST_TURNED or _is_table(raw):
        return None
    first = [text for text in _unspaced(raw.cells.iloc[:, 0]) if text]
    if len(set(first)) < len(first) or not _is_known(first):
        return None
    top = int(raw.cells.index[0])
    cells = raw.cells.T.set_axis(range(len(raw.cells)), axis=1).set_axis(range(1, raw.cells.shape[1] + 1))
    merged = tuple((b + 1, a - top, d + 1, c - top) for a, b, c, d in raw.merged)
    return replace(raw, cells=cells, merged=merged, marks={})


def _side_by_side(raw: RawCells) -> Iterator[RawCells]:
    """The parts of a sheet between columns that hold nothing."""
    filled = (raw.cells != "").any(axis=0).to_numpy()
    edges = np.flatnonzero(np.diff(np.concatenate([[False], filled, [False]]).astype(np.int8)))
    for first, end in edges.reshape(-1, 2):
        cells = raw.cells.iloc[:, first:end].set_axis(range(end - first), axis=1)
        merged = tuple(
            (top, max(left - first, 0), bottom, right - first)
            for top, left, bottom, right in raw.merged
            if left < end and right >= first
        )
        yield replace(raw, cells=cells, merged=merged, marks={})  # marks stand behind the texts by now


def _stacked(raw: RawCells) -> Iterator[RawCells]:
    """The parts of a sheet that each begin with headings of a known table, two of them at least as above."""
    filled = (raw.cells != "").any(axis=1).to_numpy()
    header = _header(raw, filled) if filled.any() else 0
    first = (
        {text for text in _headings(raw, header) if 0 < len(text) <= _LONGEST_HEADING}
        if filled.any()
        else set()
    )
    same = raw.cells.isin(first).sum(axis=1).to_numpy() if len(first) > 1 else np.zeros(len(raw.cells))
    again = [int(place) for place in np.flatnonzero(same > 1) if place > header]
    starts = [place for place in again if _is_known([text for text in _headings(raw, place) if text])]
    starts = [_from_title(raw, place) for place in starts]
    for start, end in pairwise([0, *starts, len(raw.cells)]):
        yield replace(raw, cells=raw.cells.iloc[start:end]) if starts else raw


def _from_title(raw: RawCells, header: int) -> int:
    """Where a part begins whose headings stand in a row: at the lines above it of which one cell is filled.

    A line with a figure alone is one only below an empty line: it may be the last row of the part before.
    """
    first = header
    while first > 1 and header - first < _MOST_TITLES:
        texts = [text for text in unmarked(raw.cells.iloc[first - 1]) if text]
        if len(texts) != 1 or (_is_number(texts[0]) and (raw.cells.iloc[first - 2] != "").any()):
            break
        first -= 1
    return first


def _is_table(raw: RawCells) -> bool:
    """Whether the whole sheet is one known table, no heading of it twice."""
    filled = (raw.cells != "").any(axis=1).to_numpy()
    if not filled.any():
        return False
    headings = [text for text in _headings(raw, _header(raw, filled)) if text]
    return len(set(headings)) == len(headings) and _is_known(headings)


def _is_known(headings: list[str]) -> bool:
    """Whether headings are those of a table."""
    try:
        recognise(headings)
    except UnknownTable:
        return bool(stage_pairs(headings))
    return True


def _header(raw: RawCells, filled: NDArray[np.bool_]) -> int:
    """Place of the row of headings: the first filled one, or that below titles.

    A title is a row of which one cell is filled; it is passed over where the first row that is none has the
    headings of a table.
    """
    places = np.flatnonzero(filled)
    for place in places[: _MOST_TITLES + 1]:
        if int((raw.cells.iloc[place] != "").sum()) > 1:
            known = place == places[0] or _is_known([text for text in _headings(raw, place) if text])
            return int(place if known else places[0])
    return int(places[0])


def _headings(raw: RawCells, place: int) -> list[str]:
    return _unspaced(raw.cells.iloc[place])


def _unspaced(cells: pd.Series) -> list[str]:
    return [" ".join(text.split()) for text in unmarked(cells)]


def lines_of(cells: pd.DataFrame) -> str:
    """The filled rows of some cells as lines of text, cut where they are too long to be read by anybody."""
    rows = cells.iloc[: 2 * _MOST_TITLES].apply(unmarked).to_numpy(dtype=object)
    return "\n".join(line for row in rows if (line := " ".join(filter(None, row))))[:_LONGEST_TITLE]


def _as_table(raw: RawCells) -> RawTable | None:
    """One table; None for an empty sheet."""
    filled = (raw.cells != "").any(axis=1).to_numpy()
    if not filled.any():
        return None
    header = _header(raw, filled)
    body = raw.cells.iloc[header + 1 :]
    body = body[filled[header + 1 :]]
    headings = _headings(raw, header)
    used = [p for p, heading in enumerate(headings) if heading or (body[p] != "").any()]
    columns = [headings[p] or f"column {column_letter(p)}" for p in used]
    columns, used = _without_empty_twins(columns, used, body)
    twins = [heading for heading, count in Counter(columns).items() if count > 1]
    if twins:
        where = ", ".join(
            column_letter(p) for p, heading in zip(used, columns, strict=True) if heading == twins[0]
        )
        raise UnreadableFile(
            f"{raw.place}: columns {where} are all headed {quoted(twins[0])}; one column for one thing "
            "was expected. "
            "Rename or delete the others."
        )
    rows = _with_merged_labels(raw, body[used]).set_axis(columns, axis=1)
    problems = {row: words for row, words in raw.problems.items() if row in rows.index}
    problems = beyond_headings(raw, body, headings) | problems
    title = lines_of(raw.cells.iloc[:header])
    return RawTable(raw.file, raw.sheet, columns, rows, problems, typed=raw.typed, title=title, words=title)


def _with_merged_labels(raw: RawCells, body: pd.DataFrame) -> pd.DataFrame:
    """The rows with what is merged down a column in each; numbers are not: no value is taken twice."""
    above, last = int(raw.cells.index[0]), int(body.index[-1]) if len(body) else 0
    for top, left, bottom, right in raw.merged:
        text = str(raw.cells.iloc[top - above, left]) if above <= top <= last else ""
        if left != right or top == bottom or left not in body or not text or _is_number(text):
            continue
        below = (body.index > top) & (body.index <= bottom) & (body[left] == "")
        body = body.assign(**{}) if not below.any() else body.copy()
        body.loc[below, left] = text
    return body


def _is_number(text: str) -> bool:
    plain = unmarked(pd.Series([text], dtype="str"))
    return any(bool((parse_values(plain, decimal=mark)["problem"] == "").all()) for mark in ".,")


def _without_empty_twins(
    columns: list[str], used: list[int], body: pd.DataFrame
) -> tuple[list[str], list[int]]:
    """Leave out columns whose heading stands elsewhere too and that hold nothing."""
    count = Counter(columns)
    keep = [
        (heading, p)
        for heading, p in zip(columns, used, strict=True)
        if count[heading] == 1 or (body[p] != "").any()
    ]
    return [heading for heading, _ in keep], [p for _, p in keep]
