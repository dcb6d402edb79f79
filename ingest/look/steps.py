"""Each reading beside the one before it: steps toward new, and steps far ahead."""

from collections.abc import Iterator

import pandas as pd

from ingest.look.history import history, is_spike, outruns_its_kind
from ingest.look.question import Answer, Question, Settled
from ingest.look.renewals import ask_renewals
from ingest.look.sheet import Sheet


def judge_steps(sheet: Sheet) -> Iterator[Question | Settled]:
    """Ask about readings whose step from the one before is no wear."""
    rows = sheet.rows
    if sheet.table != "readings" or rows is None or rows.empty:
        return
    read = history(rows, sheet.known, sheet.beside)
    yield from ask_renewals(read, sheet)
    yield from _ask_alone(read, sheet)


def _ask_alone(read: pd.DataFrame, sheet: Sheet) -> Iterator[Question | Settled]:
    """Ask about readings that stand far beyond the one before and that no later one bears out, or, where the
    point has too few to tell, far beyond what the parts of its kind wear.

    Parameters
    ----------
    read : as ``ingest.look.history.history`` returns it for the sheet's readings.
    """
    rows = sheet.rows
    assert rows is not None
    spike = is_spike(read)
    for kind, odd in (("value", spike), ("pace", outruns_its_kind(read, sheet.known, sheet.beside) & ~spike)):
        for _, row in read[read["new"] & odd].iterrows():
            before = read.iloc[int(row["before"])]
            written, unit = rows.loc[row["at"], ["value_text", "unit"]]
            yield _question(kind, row, before, f"{written} {unit}")


def _question(kind: str, row: pd.Series, before: pd.Series, written: str) -> Question:
    at = pd.Index([row["at"]], dtype="int64")
    than = {
        "value": "more than its kind wears in that time, and no later reading bears it out",
        "pace": "far more than any other part of its kind on the vehicle wears in that time",
    }
    text = (
        f"{row['point']} on {row['date']:%Y-%m-%d}: {written} is far more worn than on "
        f"{before['date']:%Y-%m-%d}, {than[kind]}. Is it right?"
    )
    means = {
        "right": "it was measured so; it is taken as it stands",
        "wrong": "a slip; it is not taken",
    }
    answers = {
        "right": Answer(means["right"], Settled(stand=at), (written,)),
        "wrong": Answer(means["wrong"], Settled(left_out=at), ("not taken",)),
    }
    return Question(kind, "value", text, at, ((int(row["at"]), written),), answers)
