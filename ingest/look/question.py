"""A question about a sheet, its possible answers, and what each of them makes of the rows."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import pandas as pd

from ingest.look.sheet import Sheet

_SHOWN = 200
"""Row numbers that a question lists; it says how many there are in all."""


def _nobody() -> pd.Index:
    return pd.Index([], dtype="int64")


def _no_rows() -> pd.Series:
    return pd.Series([], dtype="int64")


@dataclass(frozen=True)
class Settled:
    """What a judge, or an answer, makes of rows of a sheet. Rows are named by their labels.

    Attributes
    ----------
    stated : column that begins with ``:`` -> what it states, by row label; see ``ingest.notation.stated``.
    left_out : rows that are no entries of the table (sums, struck out); they are kept as dismissed.
    stand : rows that are right as they stand: doubts about them are answered.
    replaced : row_id of the stored row of the same table that a row takes the place of, by row label.
    more : table -> further rows as text that come with it, columns as in a sheet (a renewal told in a note).
    """

    stated: Mapping[str, pd.Series] = field(default_factory=dict)
    left_out: pd.Index = field(default_factory=_nobody)
    stand: pd.Index = field(default_factory=_nobody)
    replaced: pd.Series = field(default_factory=_no_rows)
    more: Mapping[str, pd.DataFrame] = field(default_factory=dict)


@dataclass(frozen=True)
class Answer:
    """One possible answer: what it means in words, how the shown cells read by it, what it does.

    ``reads`` has one text for each of the question's ``shown``.
    """

    means: str
    settles: Settled
    reads: tuple[str, ...] = ()


@dataclass(frozen=True)
class Question:
    """What a sheet does not decide by itself.

    Attributes
    ----------
    kind : what it is about, one word, such as ``dates``.
    column : of the table.
    text : the question, one or two sentences that end with a question mark.
    at : labels of the rows that wait for the answer.
    shown : label and text as written of a few cells, those that differ most between the answers.
    answers : word to be given -> answer; two at least.
    of_kind : whether the answer speaks of all sheets of the kind; otherwise of these rows alone.
    key : what else two questions of one kind and column must share to be the same, such as the notation.
    needed : False where the sheet gives no reason to ask: it is not asked, but an answer that was given to it
        before holds.
    whole : the rows themselves are in question: nothing else is asked about them meanwhile.
    id, file, sheet, table, rows : filled in by :func:`posed`; ``rows`` as a spreadsheet counts them.
    elsewhere : file, sheet and rows of other sheets that ask the same.
    """

    kind: str
    column: str
    text: str
    at: pd.Index
    shown: tuple[tuple[int, str], ...]
    answers: Mapping[str, Answer]
    of_kind: bool = False
    key: str = ""
    needed: bool = True
    whole: bool = False
    id: str = ""
    file: str = ""
    sheet: str = ""
    table: str = ""
    sheet_kind: str = ""
    rows: tuple[int, ...] = ()
    shown_rows: tuple[int, ...] = ()
    elsewhere: tuple[tuple[str, str, tuple[int, ...]], ...] = ()

    def as_dict(self) -> dict[str, object]:
        """For JSON: id, kind, about (file, sheet, table, column, rows), text, readings, answers, means.

        ``readings`` has a row for each shown cell and answer: row, written, answer, reads.
        """
        about = {"file": self.file, "sheet": self.sheet, "table": self.table, "column": self.column}
        readings = [
            {"row": row, "written": written, "answer": word, "reads": answer.reads[place]}
            for place, (row, (_, written)) in enumerate(zip(self.shown_rows, self.shown, strict=True))
            for word, answer in self.answers.items()
            if place < len(answer.reads)
        ]
        elsewhere = [
            {"file": file, "sheet": sheet, "rows": list(rows[:_SHOWN]), "n_rows": len(rows)}
            for file, sheet, rows in self.elsewhere
        ]
        return {
            "id": self.id,
            "kind": self.kind,
            "about": {**about, "rows": list(self.rows[:_SHOWN]), "n_rows": len(self.rows)},
            "elsewhere": elsewhere,
            "text": self.text,
            "readings": readings,
            "answers": list(self.answers),
            "means": {word: answer.means for word, answer in self.answers.items()},
            "asked_once_for_this_kind_of_sheet": self.of_kind,
        }

    @property
    def reason(self) -> str:
        """Why its rows wait: the same text for all of them."""
        return f"question {self.id}: {self.text} Answers: {', '.join(self.answers)}"


def posed(question: Question, sheet: Sheet) -> Question:
    """The question with its id and its place.

    The id is made of what the question is about: the kind of sheet, or the cells of its rows. So it is the
    same whenever the same sheet is looked at, whatever its file is called.
    """
    number = sheet.raw["source_row"]
    if question.of_kind:
        said = [sheet.kind]
    else:
        names = sorted(name for name in map(str, sheet.raw) if not name.startswith((":", "source_")))
        records = sheet.raw.loc[question.at, names].to_dict("records")
        said = [json.dumps({k: v for k, v in row.items() if v != ""}, sort_keys=True) for row in records]
    mark = mark_of([sheet.table, question.kind, question.column, question.key, *sorted(said)])
    return replace(
        question,
        id=f"{question.kind}-{mark}",
        file=sheet.file,
        sheet=sheet.sheet,
        table=sheet.table,
        sheet_kind=sheet.kind,
        rows=tuple(int(row) for row in number.loc[question.at]),
        shown_rows=tuple(int(number.loc[label]) for label, _ in question.shown),
    )


def together(question: Question, other: Question) -> Question:
    """One question where two sheets ask the same."""
    place = (other.file, other.sheet, other.rows)
    return replace(question, at=question.at.union(other.at), elsewhere=(*question.elsewhere, place))


def mark_of(texts: list[str]) -> str:
    """A short mark that is the same for the same texts, and for no others that anybody meets."""
    return hashlib.sha256("\x1f".join(texts).encode()).hexdigest()[:10]
