"""What a workbook says of its cells, as columns beside them."""

from collections.abc import Collection
from functools import reduce

import numpy as np
import pandas as pd

from ingest.notation.stated import AS_TEXT, MARKED, REMARK, TYPED
from ingest.schema import PARTS
from ingest.sheets import contents, remarks

_OF_A_CELL = {
    contents.STRUCK: "struck out",
    contents.HIDDEN_COLUMN: "hidden column",
    contents.HIDDEN_CELL: "hidden cell",
    contents.SUM: "sum of the rows above",
}
_OF_A_ROW = {contents.HIDDEN_ROW: "hidden row", contents.HIDDEN_SHEET: "hidden sheet"}


def told_by_file(marks: pd.DataFrame | None, index: pd.Index, used: Collection[str]) -> pd.DataFrame:
    """What a file that tells numbers from texts says of each row, as columns of its own.

    Parameters
    ----------
    marks : characters of ``ingest.sheets.contents.MARKS`` by column; None where nothing is marked.
    index : of the rows.
    used : columns of the table; what is said of others is passed over.
    """
    told = pd.DataFrame({TYPED: "1"}, index=index)
    texts = pd.Series("", index, dtype="str")
    said = dict.fromkeys((*_OF_A_ROW.values(), *_OF_A_CELL.values()), texts)
    marks = pd.DataFrame() if marks is None else marks
    for name in marks:
        if name not in used and name not in PARTS:
            continue
        here = marks[name].set_axis(index)
        texts = _with_name(texts, here, contents.AS_TEXT, str(name))
        for mark, words in _OF_A_ROW.items():
            said[words] = said[words].mask(here.str.contains(mark, regex=False), words)
        for mark, words in _OF_A_CELL.items():
            said[words] = _with_name(said[words], here, mark, str(name))
    if "note" in used and (comments := _comments(marks, index, used)).any():
        told[REMARK] = comments
    if (texts != "").any():
        told[AS_TEXT] = texts
    named = [
        (words + ": " + names).where(names != "", "") if words in _OF_A_CELL.values() else names
        for words, names in said.items()
        if (names != "").any()
    ]
    if named:
        told[MARKED] = reduce(lambda before, then: before + "; " + then, named).str.strip("; ")
    return told


def _comments(marks: pd.DataFrame, index: pd.Index, used: Collection[str]) -> pd.Series:
    """What comments on the cells of each row say; "" where there is none."""
    said = pd.Series("", index, dtype="str")
    for name in marks:
        here = marks[name].set_axis(index)
        at = here.str.contains(contents.REMARK, regex=False).to_numpy(dtype=bool)
        if at.any() and (name in used or name in PARTS):
            said[at] = (said[at] + "; " + here[at].map(remarks.told)).str.removeprefix("; ")
    return said


def _with_name(names: pd.Series, marks: pd.Series, mark: str, name: str) -> pd.Series:
    """Names of columns, and one more where its cell has the mark."""
    here = np.asarray(marks.str.contains(mark, regex=False), dtype=bool)
    return names.mask(here, (names + " " + name).str.strip())
