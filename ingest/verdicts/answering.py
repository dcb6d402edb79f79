"""Answers to questions about sheets: refused where nobody asks, kept with the rows that they let in."""

from collections.abc import Iterable, Mapping
from datetime import date

import pandas as pd

from ingest.errors import WrongUsage
from ingest.look.question import Question
from ingest.neutral import harmless, quoted
from ingest.schema import TABLES
from ingest.store.store import this_user
from ingest.store.transaction import Transaction


def must_be_asked(
    questions: Iterable[Question], answered: Iterable[tuple[Question, str]], answers: Mapping[str, str]
) -> None:
    """Refuse answers to what nobody asks.

    Raises
    ------
    WrongUsage : the message names the questions that are open, or the answers that are possible.
    """
    asked = {question.id: question for question in questions}
    settled = {question.id for question, _ in answered}
    for name, word in answers.items():
        if name in settled:
            continue
        if name in asked:
            possible = ", ".join(asked[name].answers)
            raise WrongUsage(f"--answer {name}: {quoted(word)} is none of its answers. Possible: {possible}.")
        listed = ", ".join(asked) or "none"
        raise WrongUsage(
            f"--answer {quoted(name)}: no such question is asked about these rows. Open questions: "
            f"{listed}. 'milesleft add FILE --look' shows them."
        )


def keep_answers(
    batch: Transaction,
    answered: Iterable[tuple[Question, str]],
    answers: Mapping[str, str],
    stored: pd.DataFrame,
    *,
    who: str,
    today: date,
) -> None:
    """Keep the answers that were given now, so that each is asked once."""
    before = dict(zip(stored["question"], stored["answer"], strict=True))
    rows = {
        question.id: {
            "sheet_kind": question.sheet_kind or question.table,
            "question": question.id,
            "answer": word,
            "who": who or this_user(),
            "note": question.text,
            "source_file": question.file,
            "source_sheet": question.sheet,
        }
        for question, word in answered
        if question.id in answers and before.get(question.id) != word
    }
    if rows:
        frame = pd.DataFrame(harmless(list(rows.values()))).astype("str")
        frame = frame.assign(date=pd.Timestamp(today).as_unit("us"), source_row=0)
        columns = [column.stored for column in TABLES["answers"].all_columns]
        again = stored.loc[stored["question"].isin(rows), "row_id"]
        batch.replace("answers", again, frame[[*columns, "source_file", "source_sheet", "source_row"]])
