"""A look at sheets as lines of text: how each row would be read, worst first, and what is asked."""

from collections.abc import Iterable, Mapping
from typing import Any

import pandas as pd

from dashboard.words.columns import in_columns
from ingest.look.question import Question
from ingest.verdicts.look_report import ASKED, LookReport

_ROWS = 40  # printed; --json gives all
_LISTED = 6  # row numbers of a question


def look_lines(report: LookReport) -> list[str]:
    """Each row as it was written and as it would be read, and the questions."""
    texts = [["sheet", "row", "as written", "read as", "verdict"]]
    for row in report.rows.head(_ROWS).to_dict("records"):
        place = str(row["sheet"] or row["file"])
        texts.append([place, str(row["row"]), _cells(row["written"]), _cells(row["read"]), _verdict(row)])
    lines = ["", *in_columns(texts, left=(0, 2, 3, 4))] if len(report.rows) else []
    if len(report.rows) > _ROWS:
        lines.append(f"and {len(report.rows) - _ROWS:,} more rows, none of them worse (--json lists all)")
    answered = [f"  {question.id} = {word}: {question.text}" for question, word in report.answered]
    if answered:
        lines += ["\nAnswered:", *dict.fromkeys(answered)]
    return lines + question_lines(report.questions)


def look_table(report: LookReport, most: int) -> pd.DataFrame:
    """The worst rows, each cell as it was written beside what it is read as, for a table.

    Returns
    -------
    Frame: state, row, point (or vehicle), then value, date and odometer as written (``written_value``, ...)
    and as read (``value``, ...) with the unit, rest (what else is read), why, place (file and sheet); columns
    without anything left out.
    """
    rows = []
    for row in report.rows.head(most).to_dict("records"):
        read, written = dict(row["read"]), row["written"]
        cells = {"state": str(row["state"]), "row": str(row["row"])}
        cells["point"] = str(read.pop("point", "") or read.pop("vehicle", ""))
        for name in ("value", "unit", "date", "odometer"):
            if name != "unit":
                cells[f"written_{name}"] = str(written.get(name, ""))
            cells[name] = _shown(read.pop(name, ""))
        place = f"{row['file']}{', sheet ' + row['sheet'] if row['sheet'] else ''}"
        rows.append({**cells, "rest": _cells(read), "why": str(row["reasons"]), "place": place})
    out = pd.DataFrame(rows, dtype="str")
    return out.loc[:, (out != "").any(axis=0)]


def asked_words(report: LookReport) -> str:
    """``6 rows wait for an answer``, rows as the look counts them: each reading of a line by itself; empty
    where none does."""
    count = int((report.rows["state"] == ASKED).sum())
    return f"{count:,} row{' waits' if count == 1 else 's wait'} for an answer" if count else ""


def question_place(question: Question) -> str:
    """Where a question arises: file, sheet, column, rows."""
    sheet = f", sheet {question.sheet}" if question.sheet else ""
    column = f", column {question.column}" if question.column else ""
    return f"{question.file}{sheet}{column}, {_rows(question.rows)}"


def question_lines(questions: Iterable[Question]) -> list[str]:
    """Questions that wait for an answer, each with its readings and how it is answered."""
    lines: list[str] = []
    for question in questions:
        where = _where(question.file, question.sheet, question.rows)
        of = f"column {question.column} of " if question.column else ""
        lines.append(f"\nQuestion {question.id} ({of}{where})")
        lines += [f"  and {_where(*place)}" for place in question.elsewhere]
        lines.append(f"  {question.text}")
        for place_, (row, (_, written)) in enumerate(zip(question.shown_rows, question.shown, strict=True)):
            reads = [
                f"{word}: {answer.reads[place_]}"
                for word, answer in question.answers.items()
                if place_ < len(answer.reads)
            ]
            lines.append(f"  row {row}: {written}" + (f" ({'; '.join(reads)})" if reads else ""))
        for word, answer in question.answers.items():
            lines.append(f"  --answer {question.id}={word}   {answer.means}")
    if lines:
        lines.append("\nUntil they are answered, the rows of these questions wait.")
    return lines


def _cells(cells: dict[str, Any]) -> str:
    return ", ".join(f"{name} {_shown(value)}" for name, value in cells.items())


def _shown(value: object) -> str:
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _verdict(row: Mapping[Any, Any]) -> str:
    if row["questions"]:
        return f"{row['state']}: {', '.join(row['questions'])}"
    return f"{row['state']}: {row['reasons']}" if row["reasons"] else str(row["state"])


def _where(file: str, sheet: str, rows: tuple[int, ...]) -> str:
    return f"{file}{', sheet ' + sheet if sheet else ''}, {_rows(rows)}"


def _rows(rows: tuple[int, ...]) -> str:
    """Rows of a sheet by number, each once: one may hold several readings."""
    rows = tuple(dict.fromkeys(rows))
    more = f" and {len(rows) - _LISTED:,} more" if len(rows) > _LISTED else ""
    return f"row{'s' if len(rows) > 1 else ''} {', '.join(map(str, rows[:_LISTED]))}{more}"
