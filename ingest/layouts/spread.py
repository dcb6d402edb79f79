"""Columns spread out to rows: a column for each quantity, position or date becomes a long table."""

import pandas as pd

from ingest.layouts.both_sides import split_heading
from ingest.layouts.layout import SheetLayout, Spread
from ingest.layouts.text import like
from ingest.sheets.contents import AS_TEXT, HIDDEN_CELL, HIDDEN_COLUMN, HIDDEN_ROW, HIDDEN_SHEET, STRUCK, SUM

_MARKS = "".join((AS_TEXT, STRUCK, HIDDEN_ROW, HIDDEN_COLUMN, HIDDEN_SHEET, SUM, HIDDEN_CELL))


def spread_out(
    rows: pd.DataFrame, values: pd.DataFrame, header: pd.DataFrame, how: SheetLayout
) -> pd.DataFrame:
    """A row for each filled cell of the spread columns, with what its headings say."""
    spread = how.spread
    assert spread is not None
    texts_of = _texts_of_headings(header, spread)
    parts = []
    for place, position in enumerate(values.columns):
        column = values[position]
        filled = (column != "") & ~column.map(lambda text: like(text.rstrip(_MARKS), how.nothing))
        part = rows[filled.to_numpy(dtype=bool)].copy()
        part[spread.into] = column[filled]
        for name, texts in texts_of.items():
            if name not in part:
                part[name] = texts[place]
            elif name != "unit":  # a wheel's number in the row and its side in the heading are one position
                part[name] = (part[name] + " " + texts[place]).str.strip()
        parts.append(part)
    return pd.concat(parts).sort_index(kind="stable") if parts else rows.iloc[:0]


def _texts_of_headings(header: pd.DataFrame, spread: Spread) -> dict[str, list[str]]:
    """Column → what the headings of each spread column say about it; their units as a column."""
    texts_of: dict[str, list[str]] = {}
    units = [""] * header.shape[1]
    for place, (name, (_, texts)) in enumerate(zip(spread.headings, header.iterrows(), strict=False)):
        line = list(texts)
        if place < len(header) - 1:  # a heading over several columns stands over the first of them
            line = list(pd.Series(line, dtype="str").replace("", None).ffill().fillna(""))
        split = [split_heading(text) for text in line]
        units = [unit or own for unit, (_, own) in zip(units, split, strict=True)]
        parts = line if name == "date" else [base for base, _ in split]
        if name:
            before = texts_of.get(name, [""] * len(parts))
            texts_of[name] = [f"{first} {then}".strip() for first, then in zip(before, parts, strict=True)]
    return texts_of | ({"unit": units} if any(units) else {})
