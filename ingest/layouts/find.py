"""Where the headings of a sheet of unknown make stand, which columns are measurements, where blocks begin."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from ingest.layouts.both_sides import is_pair
from ingest.layouts.headings import known_tables, match
from ingest.notation.dates import SEVERAL_ORDERS, parse_dates
from ingest.notation.values import parse_values

Mask = npt.NDArray[np.bool_]

_ROWS_LOOKED_AT = 400
_ROWS_OF_HEADINGS = 40
_MEASURED_SHARE = 0.5  # a column of measurements may hold remarks with figures in the other half of its cells
_LABEL = re.compile(r"[^\W\d][^:]*:(?:\s.*)?")
BLOCK = re.compile(r"(?P<label>[^\W\d][^\d:]*)(?::\s*)?(?P<date>\d.*)")
"""A line such as ``Inspection: 3.5.1998``; the label with the spaces behind it."""


@dataclass(frozen=True)
class Grid:
    """The first cells of a sheet and what each is, all of shape (rows, columns)."""

    texts: npt.NDArray[np.object_]
    filled: Mask
    figures: Mask
    dates: Mask


def grid_of(cells: pd.DataFrame) -> Grid:
    """The cells of a sheet's first rows, each with whether it is a measurement, a date or neither."""
    texts = cells.iloc[:_ROWS_LOOKED_AT].to_numpy(dtype=object)
    flat = texts.ravel()
    figures, dates = np.logical_or.reduce([_are_values(flat, mark) for mark in ".,"]), are_dates(flat)
    figures |= np.array([is_pair(text) for text in flat], dtype=bool) & ~dates  # 25/12/1998 is no pair
    return Grid(texts, texts != "", figures.reshape(texts.shape), dates.reshape(texts.shape))


def find_header(grid: Grid) -> int | None:
    """The row of headings: it names columns, is wide, and holds no figures; None for a sheet without text.

    A row of labels (``Engine:`` beside a name) is none.
    """
    top = grid.texts[:_ROWS_OF_HEADINGS]
    width = grid.filled[: len(top)].sum(axis=1)
    if not width.any():
        return None
    labels = np.array([sum(bool(_LABEL.fullmatch(text)) for text in row) for row in top])
    figures = grid.figures[: len(top)].sum(axis=1)
    named = np.array([_named(row) for row in top])
    score = 3 * named + width - 6 * labels - 6 * figures
    return int(np.argmax(np.where(width > 0, score, score.min() - 1)))


def find_measured(grid: Grid, header: int) -> tuple[int, ...]:
    """Columns whose cells with figures, below the headings, are mostly measurements."""
    below = slice(header + 1, None)
    with_figure = np.vectorize(lambda text: any(map(str.isdigit, text)), otypes=[bool])(grid.texts[below])
    n_figures = with_figure.sum(axis=0)
    share = grid.figures[below].sum(axis=0) / np.maximum(n_figures, 1)
    return tuple(int(p) for p in np.flatnonzero((n_figures > 0) & (share >= _MEASURED_SHARE)))


def find_dates(grid: Grid, header: Sequence[int]) -> tuple[int, ...]:
    """Columns whose filled cells below the headings are all dates in some order."""
    below = slice(max(header) + 1, None)
    filled, dates = grid.filled[below], grid.dates[below]
    return tuple(int(p) for p in np.flatnonzero(filled.any(axis=0) & (dates | ~filled).all(axis=0)))


def with_other_headings(grid: Grid, header: int, measured: Sequence[int]) -> tuple[int, ...]:
    """The row of headings and the one below or above it, if that too says something of the measurements."""
    over = list(measured)

    def is_heading(row: int) -> bool:
        sound = 0 <= row < len(grid.texts) and not grid.figures[row, over].any()
        return sound and bool(grid.filled[row, over].any())

    if is_heading(header + 1) and not grid.dates[header + 1, over].any():
        return (header, header + 1)
    if is_heading(header - 1) and grid.filled[header - 1, over].sum() > 1:
        labels = [text for text in grid.texts[header - 1, over] if _LABEL.fullmatch(text)]
        return (header,) if labels else (header - 1, header)
    return (header,)


def find_blocks(cells: pd.DataFrame) -> tuple[str, list[int]]:
    """How the lines begin that open a block for a date, and their places; nothing where fewer than two do."""
    alone = ((cells != "").sum(axis=1) == 1).to_numpy(dtype=bool)
    lines = [
        (p, opening) for p, text in enumerate(cells[0]) if alone[p] and (opening := BLOCK.fullmatch(text))
    ]
    begins: dict[str, list[int]] = {}
    for (place, opening), dated in zip(
        lines, are_dates([opening["date"] for _, opening in lines]), strict=True
    ):
        if dated:
            begins.setdefault(opening["label"].rstrip(), []).append(place)
    label, places = max(begins.items(), key=lambda item: len(item[1]), default=("", []))
    return (label, places) if len(places) > 1 else ("", [])


def find_named_blocks(cells: pd.DataFrame) -> tuple[str, list[int]]:
    """As :func:`find_blocks`, for blocks that each begin with an engine: ``Engine: 410``, ``Lok 52 8055``."""
    alone = ((cells != "").sum(axis=1) == 1).to_numpy(dtype=bool)
    begins: dict[str, list[int]] = {}
    for place, text in enumerate(cells[0]):
        label, colon, name = text.partition(":") if ":" in text else text.partition(" ")
        if alone[place] and name.strip() and "vehicle" in match([label.strip()], "readings").renames.values():
            begins.setdefault(f"{label.strip()}{colon.strip()}", []).append(place)
    label, places = max(begins.items(), key=lambda item: len(item[1]), default=("", []))
    return (label, places) if len(places) > 1 else ("", [])


def are_dates(texts: Sequence[str] | npt.NDArray[np.object_]) -> Mask:
    """Which texts are dates in some order."""
    problem = parse_dates(pd.Series(list(texts), dtype="str"))["problem"]
    return ((problem == "") | problem.str.contains(SEVERAL_ORDERS, regex=False)).to_numpy(dtype=bool)


def _are_values(texts: npt.NDArray[np.object_], mark: str) -> Mask:
    problem = parse_values(pd.Series(texts, dtype="str"), decimal=mark)["problem"]
    return (problem == "").to_numpy(dtype=bool)


def _named(row: npt.NDArray[np.object_]) -> int:
    """How many cells of a row are headings of one table."""
    headings = [text for text in row if text and not _LABEL.fullmatch(text)]
    return max(len(match(headings, table).renames) for table in known_tables())
