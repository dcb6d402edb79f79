"""What stands behind a figure in its cell and doubts nothing: ``1.148 ok``, or the mark of a footnote.

The figure is read, and what was said becomes part of the row's note, where every judge of notes sees it. What
may say doubt (``?``, ``!``, *est*), and a mark that no line of the sheet explains, stays in the cell: its row
waits.
"""

from collections.abc import Callable

import pandas as pd

from ingest.figures import bound
from ingest.notation.stated import REMARK
from ingest.notation.values import parse_values

_FOOTNOTE = "*†‡§"
_LONGEST = 32  # characters of a cell that is a figure and a mark


def with_marks_behind(rows: pd.DataFrame, says_sound: Callable[[str], bool]) -> pd.DataFrame:
    """Readings with such marks out of their values and in their notes.

    Parameters
    ----------
    rows : text under the names of the columns of readings.
    says_sound : whether a word or mark says that all was found in order.
    """
    if "value" not in rows:
        return rows
    values = rows["value"].str.strip()
    texts = [text for text in values.unique() if text and not text[-1].isdigit() and len(text) <= _LONGEST]
    parted = {text: parts for text in texts if (parts := _parted(text, says_sound))[1]}
    if not parted:
        return rows
    figures = pd.Series([figure for figure, _ in parted.values()], list(parted), dtype="str")
    read = (parse_values(figures)["problem"] == "") | (parse_values(figures, decimal=",")["problem"] == "")
    read &= parse_values(pd.Series(list(parted), list(parted), dtype="str"))["problem"] != ""
    footnotes = _footnotes(rows)
    marks = {text: parted[text][1] for text in figures.index[read]}
    said = {text: mark if says_sound(mark) else footnotes.get(mark, "") for text, mark in marks.items()}
    said = {text: note for text, note in said.items() if note}
    if not said:
        return rows
    told = values.map(lambda text: said.get(text, "")).astype("str")
    before = rows[REMARK].fillna("") if REMARK in rows else pd.Series("", rows.index, dtype="str")
    remarks = (before + "; " + told).where(told != "", before).str.removeprefix("; ")
    return rows.assign(value=rows["value"].mask(told != "", values.map(figures)), **{REMARK: remarks})


def _parted(text: str, says_sound: Callable[[str], bool]) -> tuple[str, str]:
    """Figure, and the mark or word behind it; "" where there is none."""
    figure, _, last = text.rpartition(" ")
    if figure and (says_sound(last) or (last[:-1].isdigit() and last[-1] == ")")):
        return figure.strip(), last
    figure = text.rstrip(_FOOTNOTE)
    if figure == text and says_sound(text[-1]):
        figure = text[:-1]
    return figure.strip(), text[len(figure) :]


def _footnotes(rows: pd.DataFrame) -> dict[str, str]:
    """Mark -> what a line of the sheet that holds nothing else says behind it; not where two lines do."""
    named = [name for name in map(str, rows) if not (":" in name or name.startswith("source_"))]
    cells = rows[named].apply(lambda column: column.fillna("").str.strip())
    alone = cells[(cells != "").sum(axis=1) == 1]
    found: dict[str, set[str]] = {}
    for text in set(map("".join, alone.to_numpy(dtype=object))):
        mark, said = _mark_before(text)
        if mark and said:
            found.setdefault(mark, set()).add(said[: bound("cell", "longest_remark")])
    return {mark: next(iter(said)) for mark, said in found.items() if len(said) == 1}


def _mark_before(text: str) -> tuple[str, str]:
    """The mark that a line begins with, and the line without it."""
    line = text.lstrip(_FOOTNOTE)
    number, bracket, behind = text.partition(")")
    if line == text and bracket and number.isdigit():
        line = behind
    return text[: len(text) - len(line)], line.strip(" :=")
