"""The railway's own words in the cells of a table, replaced by those of the tables."""

from collections.abc import Mapping, Sequence

import pandas as pd

from ingest.layouts.text import key


def in_known_words(
    rows: pd.DataFrame, headings: Sequence[str], words: Mapping[str, Mapping[str, str]]
) -> pd.DataFrame:
    """Rows with the words replaced that a layout explains.

    Parameters
    ----------
    rows : text, a row for each row of the table.
    headings : of each column, without its unit.
    words : heading of a column → word as written → what it means.
    """
    for column, meanings in words.items():
        for p in [p for p, heading in enumerate(headings) if key(heading) == key(column)]:
            rows = rows.assign(**{rows.columns[p]: _translated(rows.iloc[:, p], meanings)})
    return rows


def _translated(column: pd.Series, words: Mapping[str, str]) -> pd.Series:
    """The whole text where it is one of the words, otherwise each word of it that is."""
    meant = {key(word): meaning for word, meaning in words.items()}

    def translated(text: str) -> str:
        parts = (meant.get(key(part), part) for part in text.split())
        return meant.get(key(text)) or " ".join(filter(None, parts))

    return column.map({text: translated(text) for text in column.unique()}).astype("str")
