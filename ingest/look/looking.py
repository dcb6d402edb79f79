"""All sheets of a table before their judges: what is settled, what is asked, what was answered."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np
import pandas as pd

from ingest.look.question import Question, Settled, posed, together
from ingest.look.sheet import Sheet, sheets_of
from ingest.notation.stated import WITHOUT
from ingest.problems import ASKED, Problems

_BY_HISTORY = {"several", "value"}
"""Kinds of questions that nothing but the history of the wear point takes back, where nobody answers them."""

Judge = Callable[[Sheet], Iterable[Question | Settled]]
"""Pure: a sheet in, what it settles and what must be asked out."""


@dataclass(frozen=True)
class Looked:
    """What came of a look at the rows of one table.

    Attributes
    ----------
    raw : the rows with what is stated about them by now.
    questions : those that nobody has answered.
    answered : those that somebody has, with the answer.
    settled : what judges and answers make of the rows, beside what they state.
    """

    raw: pd.DataFrame
    questions: tuple[Question, ...] = ()
    answered: tuple[tuple[Question, str], ...] = ()
    settled: tuple[Settled, ...] = ()
    restated: bool = field(default=False, compare=False)

    @property
    def asked(self) -> pd.Index:
        """Labels of the rows that wait for an answer."""
        return _joined([question.at for question in self.questions])

    @property
    def left_out(self) -> pd.Index:
        """Labels of the rows that are no entries of the table."""
        return _joined([settled.left_out for settled in self.settled])

    @property
    def stand(self) -> pd.Index:
        """Labels of the rows that are right as they stand."""
        return _joined([settled.stand for settled in self.settled])

    @property
    def replaced(self) -> pd.Series:
        """row_id of the stored row that a row takes the place of, by the row's label."""
        parts = [settled.replaced for settled in self.settled if len(settled.replaced)]
        return pd.concat(parts) if parts else pd.Series([], dtype="int64")

    def entries(self) -> pd.DataFrame:
        """The rows of which nobody doubts that they are entries of the table."""
        doubted = [self.left_out, *(question.at for question in self.questions if question.whole)]
        out = _joined(doubted)
        return self.raw[~self.raw.index.isin(out)] if len(out) else self.raw

    def without(self, known: pd.Index) -> "Looked":
        """The look without questions about some rows."""
        left = [replace(question, at=question.at.difference(known)) for question in self.questions]
        return replace(self, questions=tuple(question for question in left if len(question.at)))

    def then(self, later: "Looked") -> "Looked":
        """Both looks, the later one at the rows of this one."""
        return Looked(
            later.raw,
            self.questions + later.questions,
            self.answered + later.answered,
            self.settled + later.settled,
            restated=self.restated or later.restated,
        )


def look(
    judges: Iterable[Judge],
    table: str,
    raw: pd.DataFrame,
    known: Mapping[str, pd.DataFrame],
    *,
    today: date,
    answers: Mapping[str, str],
    rows: pd.DataFrame | None = None,
    repeated: pd.DataFrame | None = None,
    unasked: pd.Index | None = None,
) -> Looked:
    """Let every judge look at every sheet of a table, one after the other.

    Parameters
    ----------
    judges : each sees what the ones before have settled.
    table, raw, known, today, rows, repeated : as in :class:`ingest.look.sheet.Sheet`, of all sheets together.
    answers : id of a question -> answer, of all that was answered so far. One that the question does not
        offer (the sheet says otherwise by now) is none.
    unasked : labels of the rows of whole sheets that no judge looks at; other sheets' judges see them beside.
    """
    looked = Looked(raw)
    own, again = (some if some is None else _without(some, unasked) for some in (rows, repeated))
    sheets, seen = list[Sheet](), None
    for judge in judges:
        if seen is not looked:  # what a judge found may be seen by the next
            entries, seen = _without(looked.entries(), unasked), looked
            sheets = list(sheets_of(table, entries, known, today, own, again, rows))
        for sheet in sheets:
            for found in judge(sheet):
                looked = _taken(looked, found, sheet, answers)
    return looked


def _without(rows: pd.DataFrame, labels: pd.Index | None) -> pd.DataFrame:
    return rows if labels is None else rows[~rows.index.isin(labels)]


def _taken(looked: Looked, found: Question | Settled, sheet: Sheet, answers: Mapping[str, str]) -> Looked:
    """The look with one more thing that a judge found."""
    if isinstance(found, Settled):
        return looked.then(_with(looked.raw, found))
    question = posed(found, sheet)
    word = answers.get(question.id, "")
    if word not in question.answers:
        if not question.needed:
            return looked
        same = [before for before in looked.questions if before.id == question.id]
        if not same:
            return looked.then(Looked(looked.raw, questions=(question,)))
        asked = (together(each, question) if each.id == question.id else each for each in looked.questions)
        return replace(looked, questions=tuple(asked))
    effect = _with(looked.raw, question.answers[word].settles)
    return looked.then(Looked(effect.raw, (), ((question, word),), effect.settled, restated=effect.restated))


def _with(raw: pd.DataFrame, settled: Settled) -> Looked:
    """The rows with what is stated about them."""
    for column, texts in settled.stated.items():
        before = raw[column].fillna("") if column in raw else pd.Series("", raw.index, dtype="str")
        if column == WITHOUT:  # one more column whose cells do not count, beside those before
            both = before.reindex(texts.index).fillna("") + " " + texts
            texts = both.map({names: " ".join(dict.fromkeys(names.split())) for names in both.unique()})
        before = before.mask(before.index.isin(texts.index), texts.reindex(raw.index).fillna(""))
        raw = raw.assign(**{column: before.astype("str")})
    return Looked(raw, settled=(settled,), restated=bool(settled.stated))


def _joined(labels: list[pd.Index]) -> pd.Index:
    """All labels, each once."""
    filled = [part.to_numpy() for part in labels if len(part)]
    return pd.Index(np.unique(np.concatenate(filled)) if filled else [], dtype="int64")


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
