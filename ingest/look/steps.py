"""Each reading beside the one before it: steps toward new, and steps far ahead."""

from collections.abc import Iterator

from ingest.look.alone import ask_alone
from ingest.look.history import history
from ingest.look.question import Question, Settled
from ingest.look.renewals import ask_renewals
from ingest.look.sheet import Sheet


def judge_steps(sheet: Sheet) -> Iterator[Question | Settled]:
    """Ask about readings whose step from the one before is no wear."""
    rows = sheet.rows
    if sheet.table != "readings" or rows is None or rows.empty:
        return
    read = history(rows, sheet.known, sheet.beside)
    yield from ask_renewals(read, sheet)
    yield from ask_alone(read, sheet)
