"""Rows that wait for an answer: held back together, under one reason a question."""

from collections.abc import Mapping

import pandas as pd

from ingest.look.question import Question
from ingest.problems import ASKED, Problems

_BY_HISTORY = {"several", "value"}
"""Kinds of questions that nothing but the history of the wear point takes back, where nobody answers them."""


def hold_asked(questions: tuple[Question, ...], raw: pd.DataFrame, problems: Problems) -> None:
    """Put the question in place of what else was said of its column, and of all doubts about its rows."""
    for question in questions:
        found = raw[question.column] if question.column in raw else pd.Series("", raw.index, dtype="str")
        problems.drop(question.at, column=question.column, doubts=True)
        with problems.waiting_for(ASKED if question.kind in _BY_HISTORY else ""):
            problems.add(question.at, question.column, found[question.at], question.reason, question.id)


def answers_of(stored: pd.DataFrame, given: Mapping[str, str]) -> dict[str, str]:
    """Id of a question -> answer: those that are stored, and those given now, which come first.

    Parameters
    ----------
    stored : rows of the table ``answers``.
    """
    return dict(zip(stored["question"], stored["answer"], strict=True)) | dict(given)
