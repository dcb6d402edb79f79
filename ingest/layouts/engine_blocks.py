"""Tables of several engines below each other, each under a line that names its engine in its own words.

``Engine: 410`` above each is found by the label (``find_named_blocks``). Here the lines are known by the
names on record: *Bramwick*, and further down *Quillon 1.5.2005*, or the name in the cell beside a label. What
is not cut into blocks, and yet speaks of several engines, is about none of them as a whole.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from ingest.layouts.blocks import unmerged
from ingest.layouts.clues import of_another_day
from ingest.layouts.find import are_dates
from ingest.layouts.headings import match
from ingest.layouts.pointed import Pointed, proposed
from ingest.layouts.rows import cell_text, without_label
from ingest.layouts.text import key
from ingest.layouts.titles import days_in, named_in
from ingest.sheets.cells import RawCells
from ingest.sheets.contents import column_letter

_ABOVE = 4
"""Lines above headings that stand again in which their engine is looked for."""
_LONGEST_LABEL = 40
"""Characters of a label, and of a line that names an engine in the first of several cells (no source)."""
_MOST_BESIDE = 8
"""Cells of a line that names an engine, and columns in which its day is looked for (no source)."""
_MOST_LINES = 300
"""Lines of several cells that may name an engine; of more each is a row of a table (no source)."""


@dataclass(frozen=True)
class _Line:
    """A line that names an engine: in which column, how that cell says it, and the engine meant."""

    column: int
    written: str
    engine: str


@dataclass(frozen=True)
class _Day:
    """Where a day stands in every block, the cell of the first (``A1``), and cell as written -> day in it."""

    cell: str
    days: Mapping[str, str]


def with_engines(sheet: RawCells, pointed: Pointed, vehicles: Sequence[str]) -> Pointed:
    """The proposal with a block for each line that names an engine, where all have the same headings.

    Parameters
    ----------
    vehicles : names on record. The one day that stands above the headings of every block, in the line of the
        engine or below it, is that of its rows.
    """
    cells, lines = unmerged(sheet), _lines_of_engines(sheet.cells, vehicles)
    starts = sorted(lines)
    if len(starts) < 2:
        return pointed
    if (cells.iloc[starts] != "").sum(axis=1).max() > 1:
        found = _below_lines(sheet, cells, starts)
        if found is None:
            return pointed
        begun, header = found
    else:
        if not pointed.header or _told(pointed):
            return pointed
        if pointed.cells and not (pointed.starts and _dated(pointed)):
            return pointed
        first = int(cells[0].str.startswith(pointed.starts.rstrip("*")).to_numpy(dtype=bool).argmax())
        begun, header = replace(pointed, cells={}), [first + row - 1 for row in pointed.header]
    if starts[0] >= min(header) or starts[1] <= max(header):
        return pointed
    offsets = [row - starts[0] for row in header]
    if not _are_alike(sheet.cells, cells, starts, offsets) or len({lines[at].column for at in starts}) > 1:
        return pointed
    needs_day = "date" not in {*begun.columns.values(), *begun.tells, *begun.fixed, *begun.cells}
    day = _day_above(sheet.cells, starts, min(offsets), lines) if needs_day else None
    said = {"vehicle": [(line.written, line.engine) for line in lines.values()]}
    said |= {"date": list(day.days.items())} if day else {}
    words = {column: _words(pairs) for column, pairs in said.items()}
    if None in words.values():
        return pointed
    made = replace(
        begun,
        header=tuple(offset + 1 for offset in offsets),
        starts="",
        engines=tuple(dict.fromkeys(str(cells.iloc[place, 0]) for place in starts)),
        cells={**begun.cells, "vehicle": f"{column_letter(lines[starts[0]].column)}1"}
        | ({"date": day.cell} if day else {}),
        words={**begun.words, **{column: known for column, known in words.items() if known}},
    )
    return pointed if _begins_anew(sheet, made) else made


def is_about_several(sheet: RawCells, pointed: Pointed, vehicles: Sequence[str]) -> bool:
    """Whether a sheet whose rows do not say their engine names more than one, or begins anew below.

    To read all of it as about one engine would put readings of the others on its record.
    """
    cut = "vehicle" in pointed.cells and bool(pointed.starts or pointed.engines)
    if not cut and _labels_differ(sheet.cells):
        return True
    if _told(pointed):
        return False
    if _begins_anew(sheet, pointed):
        return True
    lone = _lone(sheet.cells)
    named = {named_in(text, vehicles) for text in lone.values()} - {""}
    cells = unmerged(sheet)
    if "vehicle" in pointed.cells:
        named |= {named_in(cell_text(cells, pointed.cells["vehicle"]), vehicles)} - {""}
        return not cut and len(named) > 1
    known = {name.casefold(): name for name in vehicles}
    texts = {str(text).strip().casefold() for text in cells.to_numpy(dtype=object).ravel()}
    named |= {known[text] for text in texts & set(known)}
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


def _lines_of_engines(cells: pd.DataFrame, vehicles: Sequence[str]) -> dict[int, _Line]:
    """Place of each line that names an engine -> where: alone, beside its label, or beside days alone."""
    names = [name.casefold() for name in vehicles]
    filled = (cells != "").sum(axis=1).to_numpy()
    labels = _labels(cells[0])
    places = [
        place
        for place, text in enumerate(map(str, cells[0]))
        if filled[place] == 1
        or (1 < filled[place] <= _MOST_BESIDE and len(text) <= _LONGEST_LABEL and text in labels)
        or (1 < filled[place] <= _MOST_BESIDE and any(name in text.casefold() for name in names))
    ]
    if int((filled[places] > 1).sum()) > _MOST_LINES:
        places = [place for place in places if filled[place] == 1]
    rows = {place: list(map(str, cells.iloc[place])) for place in places if cells.iloc[place, 0]}
    column = {place: int(labels.get(row[0], "") == "vehicle" and len(row) > 1) for place, row in rows.items()}
    column = {
        place: 0 if filled[place] == 1 or rows[place][0].partition(":")[2].strip() else at
        for place, at in column.items()
    }
    in_cell = {place: without_label(row[column[place]]) for place, row in rows.items()}
    days = days_in([text for text in in_cell.values() if any(name in text.casefold() for name in names)])
    lines = {}
    for place, row in rows.items():
        written = in_cell[place]
        said = days.get(written, set())
        rest = " ".join(written.split())
        for day in said:
            rest = rest.replace(day, " ")
        engine = named_in(rest, vehicles) if written in days else ""
        others = [text for p, text in enumerate(row) if p > column[place] and text]
        if not engine or any(named_in(text, vehicles) for text in others):
            continue
        alone = filled[place] == 1 or column[place] == 1
        if alone or all(text in labels or len(found) == 1 for text, found in days_in(others).items()):
            lines[place] = _Line(column[place], written, engine)
    return lines


def _labels(texts: pd.Series) -> dict[str, str]:
    """Texts that are labels of an engine or a day, with or without a colon -> vehicle or date."""
    out = {}
    for text in map(str, texts.unique()):
        label = text.partition(":")[0].strip()
        if label and len(label) <= _LONGEST_LABEL and not any(map(str.isdigit, label)):
            column = next(iter(match([label], "readings").renames.values()), "")
            if column in ("vehicle", "date"):
                out[text] = column
    return out


def _labelled(cells: pd.DataFrame) -> list[int]:
    """Places of lines that begin with a label of an engine."""
    labels = {text for text, column in _labels(cells[0]).items() if column == "vehicle"}
    return [int(place) for place in np.flatnonzero(cells[0].isin(labels).to_numpy(dtype=bool))]


def _labels_differ(cells: pd.DataFrame) -> bool:
    """Whether one label of an engine stands in several lines, with other texts beside it."""
    beside: dict[str, set[str]] = {}
    for place in _labelled(cells):
        label, _, text = str(cells.iloc[place, 0]).partition(":")
        text = text.strip() or (str(cells.iloc[place, 1]) if cells.shape[1] > 1 else "")
        beside.setdefault(key(label), set()).update({key(text)} - {""})
    return any(len(texts) > 1 for texts in beside.values())


def _below_lines(
    sheet: RawCells, cells: pd.DataFrame, starts: Sequence[int]
) -> tuple[Pointed, list[int]] | None:
    """What the first block shows by itself below its line, and the places of its headings."""
    above, labels = starts[0] + 1, _labels(cells[0])
    while above < starts[1] and _says_day(list(map(str, cells.iloc[above])), labels):
        above += 1
    block = replace(sheet, cells=cells.iloc[above : starts[1]], merged=(), problems={}, marks={})
    own = proposed(block, several=False) if block.cells.size else None
    if own is None or not own.header or _told(own) or own.starts or "vehicle" in own.cells:
        return None
    header = [above + row - 1 for row in own.header]
    bodies = [cells.iloc[above : starts[1]]]
    bodies += [
        cells.iloc[start + max(header) - starts[0] + 1 : end]
        for start, end in zip(starts[1:], [*starts[2:], len(cells)], strict=True)
    ]
    own = proposed(replace(block, cells=pd.concat(bodies)), several=False) or own
    if [above + row - 1 for row in own.header] != header or _told(own) or "vehicle" in own.cells:
        return None
    own = replace(own, sheet=sheet.sheet or "", dates="", decimal="", cells={})
    return own, header


def _says_day(row: Sequence[str], labels: Mapping[str, str]) -> bool:
    """Whether a line is a label of a day and a day beside or behind it, and no more."""
    texts = [text for text in row if text]
    if not texts or labels.get(row[0]) != "date" or len(texts) > 2:
        return False
    return len(texts) == 1 + (":" not in row[0].rstrip(": ")) and len(days_in(texts[-1:])[texts[-1]]) == 1


def _are_alike(raw: pd.DataFrame, cells: pd.DataFrame, starts: Sequence[int], offsets: Sequence[int]) -> bool:
    """Whether each block has the headings of the first, none begins between, and lines are found again."""
    heads = {tuple(_lines(cells, [at + offset for offset in offsets])) for at in starts}
    again = len(_repeats(cells, starts[0] + offsets[-1])) + 1
    texts = {str(raw.iloc[place, 0]).casefold() for place in starts}
    found = int(raw[0].str.casefold().isin(texts).sum())
    zones = {start + row for start in starts for row in range(offsets[-1])}
    filled = (raw != "").sum(axis=1).to_numpy()
    # A line with a day that rows follow at once, and that names no engine known: whose rows are they?
    others = [
        text
        for place, text in _lone(raw).items()
        if place > starts[0] and place not in zones and (filled[place + 1 : place + 2] > 1).any()
    ]
    return (
        len(heads) == 1
        and not any(days_in(others).values())
        and again <= len(starts)
        and found == len(starts)
        and set(_labelled(raw)) <= set(starts)
        and not any("*" in text for text in texts)
    )


def _begins_anew(sheet: RawCells, pointed: Pointed) -> bool:
    """Whether other headings stand below a line by itself: words alone, where measurements should be."""
    if not pointed.header:
        return False
    raw = sheet.cells
    begins = [text.rstrip("*").casefold() for text in (pointed.starts, *pointed.engines) if text]
    first = raw[0].str.casefold()
    starts = [place for place, text in enumerate(first) if any(text.startswith(begin) for begin in begins)]
    headings = {start + row - 1 for start in (starts or [0]) for row in pointed.header}
    measured = [*pointed.spread, *(p for p, column in pointed.columns.items() if column == "value")]
    grid = raw.to_numpy(dtype=object)
    filled = (grid != "").sum(axis=1)
    labels = _labels(raw[0])
    line = filled == 1
    line |= raw[0].isin(labels).to_numpy(dtype=bool)
    above = False
    for place in range(min(headings), len(grid)):
        row = grid[place]
        if place in headings or not filled[place]:
            continue
        if above and filled[place] > 1 and not line[place] and place > max(pointed.header) - 1:
            said = [row[p] for p in measured if p < len(row) and row[p] and row[p] not in pointed.nothing]
            words = "".join(row)
            if said and not any(map(str.isdigit, words)) and any(map(str.isalpha, "".join(said))):
                return True
        above = bool(line[place])
    return False


def _day_above(
    cells: pd.DataFrame, starts: Sequence[int], before: int, lines: Mapping[int, _Line]
) -> _Day | None:
    """The one place above the headings at which every block says a day; None where there is none, or more.

    A day behind a word of another day (*next due*), or beside a label that is none of a day, does not count.
    """
    width = min(cells.shape[1], _MOST_BESIDE)
    grids = [cells.iloc[start : start + before, :width].to_numpy(dtype=object) for start in starts]
    texts = {(row, p): [grid[row, p] for grid in grids] for row in range(before) for p in range(width)}
    texts = {at: said for at, said in texts.items() if all(any(map(str.isdigit, text)) for text in said)}
    days = days_in([text for said in texts.values() for text in said])
    labels = _labels(pd.Series([grid[row, p - 1] for row, p in texts if p for grid in grids], dtype="str"))
    found = []
    for (row, p), said in texts.items():
        if any(len(days[text]) != 1 or of_another_day(text) for text in said):
            continue
        beside = {grid[row, p - 1] for grid in grids if p} - {""}
        engine = row == 0 and p - 1 == lines[starts[0]].column
        if beside and not engine and any(labels.get(text) != "date" for text in beside):
            continue
        told = {without_label(text): next(iter(days[text])) for text in said}
        found.append(_Day(f"{column_letter(p)}{row + 1}", told))
    return found[0] if len(found) == 1 else None


def _words(pairs: Sequence[tuple[str, str]]) -> dict[str, str] | None:
    """Text of a cell -> what it means, where it says more than that; None where texts that count as one
    differ in it."""
    meant: dict[str, str] = {}
    if any(meant.setdefault(key(written), means) != means for written, means in pairs):
        return None
    return {written: means for written, means in pairs if written != means}


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


def _days(texts: Sequence[str]) -> set[str]:
    """Those that say a day, alone or behind a label; asked about all at once, for one costs as much."""
    filled = [text for text in dict.fromkeys(texts) if text]
    dated = are_dates([text.partition(":")[2].strip() or text for text in filled])
    return {text for text, is_day in zip(filled, dated, strict=True) if is_day}
