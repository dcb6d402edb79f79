"""Layouts that are kept under a name: which of them is for a sheet, by its headings."""

from collections.abc import Sequence

import pandas as pd

from ingest.errors import UnreadableFile
from ingest.layouts.blocks import find_blocks
from ingest.layouts.find import are_dates
from ingest.layouts.layout import Layout, SheetLayout, parse_layout
from ingest.layouts.text import key, like
from ingest.notation.values import parse_values
from ingest.sheets.cells import RawCells


def sheet_kind(sheets: Sequence[RawCells], layout: Layout) -> str:
    """What the headings of sheets of one make share, whatever days and figures stand among them.

    Empty where the layout reads none of the sheets.
    """
    for sheet in sheets:
        how = next((how for how in layout.tables if like(sheet.sheet or "", (how.sheet,))), None)
        words = _words(sheet, how) if how is not None else []
        if words:
            return "|".join(words)
    return ""


def kept_for(sheets: Sequence[RawCells], kept: pd.DataFrame) -> list[str]:
    """Names of the kept layouts that were made for sheets of this make, the newest first.

    Parameters
    ----------
    sheets : cells of one file.
    kept : rows of the table ``layouts``.
    """
    names = []
    newest = kept.sort_values("row_id", ascending=False) if "row_id" in kept else kept
    for row in newest.to_dict("records"):
        try:
            fits = row["sheet_kind"] and sheet_kind(sheets, parse_layout(row["content"])) == row["sheet_kind"]
        except UnreadableFile:
            continue
        if fits:
            names.append(str(row["layout"]))
    return names


def _words(sheet: RawCells, how: SheetLayout) -> list[str]:
    """Headings of the first block that are words, in one spelling."""
    try:
        block = next(find_blocks(sheet, how), None)
    except UnreadableFile:
        return []
    if block is None:
        return []
    texts = sorted({text for text in block.heads.to_numpy(dtype=object).ravel() if text})
    figures = (parse_values(pd.Series(texts, dtype="str"))["problem"] == "").to_numpy(dtype=bool)
    words = [
        key(t) for t, day, figure in zip(texts, are_dates(texts), figures, strict=True) if not day | figure
    ]
    return sorted({word for word in words if word})
