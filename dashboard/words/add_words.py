"""How what became of added files is worded: quiet about what was known, one line for all of it."""

from collections.abc import Sequence

import pandas as pd

from ingest.verdicts.layout_advice import Advice


def known_already(files: pd.DataFrame) -> pd.Series:
    """Which sheets brought nothing new: their files hold only rows that are stored or held back already.

    Parameters
    ----------
    files : ``AddReport.files``, a row for each sheet.
    """
    new = files["accepted"] + files["held_back"]
    return files["rows"].gt(0) & new.groupby(files["file"]).transform("sum").eq(0)


def known_words(files: pd.DataFrame) -> str:
    """``2 files known already (40 rows), 1 new.``; empty where none was known."""
    known = known_already(files)
    if not known.any():
        return ""
    n_known, n_new = files.loc[known, "file"].nunique(), files.loc[~known, "file"].nunique()
    rows = int(files.loc[known, "rows"].sum())
    what = "file" if n_known == 1 else "files"
    return f"{n_known:,} {what} known already ({rows:,} row{'s' * (rows != 1)}), {n_new:,} new."


def waited_words(count: int) -> str:
    """``12 rows that were held back before no longer wait.``"""
    one = count == 1
    return f"{count:,} row{'' if one else 's'} held back before no longer wait{'s' if one else ''}."


def also_words(count: int) -> str:
    """A further sentence where rows wait no longer; empty where all do."""
    return f" {waited_words(count)}" if count else ""


def would_fit_words(count: int, how: str) -> str:
    """A further sentence where rows wait that would fit by now; `how` they are stored."""
    one = count == 1
    return f" {count:,} row{'' if one else 's'} held back would fit now: {how}." if count else ""


def advice_words(advice: Sequence[Advice]) -> list[str]:
    """Which layout would solve the rows of a file, and how it is used."""
    return [_kept(item) if item.layout else _made(item) for item in advice]


def _kept(item: Advice) -> str:
    return (
        f"The layout '{item.layout}', which is kept here, would read {item.rows:,} rows of {item.file}: "
        f"add it with --layout '{item.layout}'."
    )


def _made(item: Advice) -> str:
    return (
        f"A layout made from {item.file} would read {item.rows:,} of its rows. 'milesleft layout "
        f"{item.file} --out layout.toml' writes it; look at it, then add the file with --layout layout.toml."
    )
