"""Tables of several engines below each other, each under a line that names its engine in its own words.

``Engine: 410`` above each is found by the label (``find_named_blocks``). Here the lines are known by the
names on record: *Bramwick*, and further down *Quillon*. What is not cut into blocks, and yet speaks of
several engines, is about none of them as a whole.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from ingest.layouts.blocks import unmerged
from ingest.layouts.find import are_dates
from ingest.layouts.pointed import Pointed
from ingest.layouts.titles import named_in
from ingest.sheets.cells import RawCells

_ABOVE = 4
"""Lines above headings that stand again in which their engine is looked for."""


def with_engines(sheet: RawCells, pointed: Pointed, vehicles: Sequence[str]) -> Pointed:
    """The proposal with a block for each line that names an engine, where all have the same headings.

    Parameters
    ----------
    vehicles : names on record. A day that stands alone in the same line of every block is that of its rows.
    """
    if not pointed.header or _told(pointed) or (pointed.cells and not (pointed.starts and _dated(pointed))):
        return pointed
    cells = unmerged(sheet)
    first = int(cells[0].str.startswith(pointed.starts.rstrip("*")).to_numpy(dtype=bool).argmax())
    lines = {place: named_in(text, vehicles) for place, text in _lone(cells).items()}
    lines = {place: name for place, name in lines.items() if name and cells.iloc[place, 0]}
    starts, header = sorted(lines), [first + row - 1 for row in pointed.header]
    if len(starts) < 2 or starts[0] >= min(header) or starts[1] <= max(header):
        return pointed
    offsets = [row - starts[0] for row in header]
    texts = [str(cells.iloc[place, 0]) for place in starts]
    heads = [tuple(_lines(cells, [at + offset for offset in offsets])) for at in starts]
    again = len(_repeats(cells, header[-1])) + 1
    if len({*heads}) > 1 or again > len(starts) or any("*" in text for text in texts):
        return pointed
    day = _day_line(cells, starts, min(offsets))
    needs_day = "date" not in {*pointed.columns.values(), *pointed.tells, *pointed.fixed}
    words = {text: lines[place] for place, text in zip(starts, texts, strict=True) if text != lines[place]}
    return replace(
        pointed,
        header=tuple(offset + 1 for offset in offsets),
        starts="",
        engines=tuple(dict.fromkeys(texts)),
        cells={"vehicle": "A1"} | ({"date": f"A{day + 1}"} if day and needs_day else {}),
        words={**pointed.words, **({"vehicle": words} if words else {})},
    )


def is_about_several(sheet: RawCells, pointed: Pointed, vehicles: Sequence[str]) -> bool:
    """Whether a sheet whose rows do not say their engine names more than one, or begins anew below.

    To read all of it as about one engine would put readings of the others on its record.
    """
    if "vehicle" in pointed.cells or _told(pointed):
        return False
    cells = unmerged(sheet)
    known = {name.casefold(): name for name in vehicles}
    texts = {str(text).strip().casefold() for text in cells.to_numpy(dtype=object).ravel()}
    lone = _lone(cells)
    named = {known[text] for text in texts & set(known)}
    named |= {named_in(text, vehicles) for text in lone.values()} - {""}
    if len(named) > 1:
        return True
    if not pointed.header or pointed.starts:
        return False
    # Headings that stand again under a line of which nobody knows what it names.
    above = {
        lone[place]
        for again in _repeats(cells, max(pointed.header) - 1)
        for place in range(max(again - _ABOVE, max(pointed.header)), again)
        if place in lone
    }
    return any(named_in(text, vehicles) not in named for text in above - _days([*above]))


def _told(pointed: Pointed) -> bool:
    """Whether each row says by itself which wear point or engine it is about."""
    return bool({"vehicle", "point"} & {*pointed.columns.values(), *pointed.tells})


def _dated(pointed: Pointed) -> bool:
    """Whether its blocks begin with a day or an engine, and nothing else is told by one cell."""
    if set(pointed.cells) == {"vehicle"}:
        return "date" not in {*pointed.columns.values(), *pointed.tells, *pointed.fixed}
    return set(pointed.cells) == {"date"}


def _lone(cells: pd.DataFrame) -> dict[int, str]:
    """Place of each line of which one cell is filled -> its text."""
    filled = (cells != "").to_numpy(dtype=bool)
    places = map(int, np.flatnonzero(filled.sum(axis=1) == 1))
    return {place: str(cells.iloc[place, int(filled[place].argmax())]) for place in places}


def _lines(cells: pd.DataFrame, places: Sequence[int]) -> list[tuple[str, ...]]:
    """Lines of headings, days in them as one: blocks may hold other days."""
    lines = [[str(text) for text in cells.iloc[place]] if place < len(cells) else [] for place in places]
    days = _days([text for line in lines for text in line])
    return [tuple("day" if text in days else text for text in line) for line in lines]


def _repeats(cells: pd.DataFrame, header: int) -> list[int]:
    """Places below of lines that say what the row of headings says, but for days."""
    like = (cells.iloc[header + 1 :] == cells.iloc[header]).any(axis=1).to_numpy(dtype=bool)
    places = [int(place) + header + 1 for place in np.flatnonzero(like)]
    first, *lines = _lines(cells, [header, *places])
    return [place for place, line in zip(places, lines, strict=True) if line == first]


def _day_line(cells: pd.DataFrame, starts: Sequence[int], before: int) -> int:
    """How far below the first line of every block a day stands alone, 0 for none."""
    lone = _lone(cells)
    days = _days([lone.get(start + offset, "") for offset in range(1, before) for start in starts])
    for offset in range(1, before):
        if all(lone.get(start + offset) in days and cells.iloc[start + offset, 0] for start in starts):
            return offset
    return 0


def _days(texts: Sequence[str]) -> set[str]:
    """Those that say a day, alone or behind a label; asked about all at once, for one costs as much."""
    filled = [text for text in dict.fromkeys(texts) if text]
    dated = are_dates([text.partition(":")[2].strip() or text for text in filled])
    return {text for text, is_day in zip(filled, dated, strict=True) if is_day}
