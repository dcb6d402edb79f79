"""How every cell of a sheet would be read, beside the text as written; what is asked about it."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from ingest import units
from ingest.look.question import Question
from ingest.schema import SOURCE, TABLES
from ingest.verdicts.decide import Decision
from ingest.verdicts.handed_in import HandedIn, NotRead
from ingest.verdicts.report import ACCEPTED, ALREADY_KNOWN, HELD_BACK, VERDICTS, AddReport, report

ASKED, DOUBTED, LEFT_OUT = "asked about", "held back, can be accepted", "left out"
_BESIDE = {"value": ("unit",), "value_before": ("value_after", "unit"), "value_after": ("unit",)}
_WORST_FIRST = (ASKED, HELD_BACK, DOUBTED, ACCEPTED, LEFT_OUT, ALREADY_KNOWN)


@dataclass(frozen=True)
class LookReport:
    """What a look found; nothing was stored.

    Attributes
    ----------
    rows : a row for each row handed in, worst first: file, sheet, row, table, verdict (that of ``add``),
        state (more exact: *asked about*, *held back*, *held back, can be accepted*, *accepted*, *left out*,
        *already known*), reasons, questions (list of ids), written (dict column -> text of the cell), read
        (dict column -> what it is read as: number, text, day; values in the unit that ``unit`` names).
    questions : what must be answered.
    answered : question and answer of what was answered, now or before.
    counts : the report that ``add`` would give.
    """

    rows: pd.DataFrame
    questions: tuple[Question, ...]
    answered: tuple[tuple[Question, str], ...]
    counts: AddReport

    @property
    def not_read(self) -> tuple[NotRead, ...]:
        """Files and sheets that are none."""
        return self.counts.not_read

    def as_dict(self) -> dict[str, object]:
        """Everything, for JSON."""
        answered = [
            {"id": question.id, "text": question.text, "answer": word} for question, word in self.answered
        ]
        return {
            "stored": False,
            **{verdict.replace(" ", "_"): self.counts.count(verdict) for verdict in VERDICTS},
            "questions": [question.as_dict() for question in self.questions],
            "answered": answered,
            "rows": self.rows.to_dict("records"),
            "files": self.counts.files.to_dict("records"),
            "not_read": [vars(item) for item in self.not_read],
        }


def look_report(handed_in: HandedIn, decision: Decision) -> LookReport:
    """What a look found."""
    counts = report(None, handed_in, decision)
    rows = rows_as_handed_in(handed_in, decision, counts.verdicts)
    rank = rows["state"].map({state: place for place, state in enumerate(_WORST_FIRST)})
    rows = rows.iloc[np.argsort(rank.to_numpy(), kind="stable")].reset_index(drop=True)
    answered = (*handed_in.answered, *decision.answered)
    return LookReport(rows, counts.questions, answered, counts)


def rows_as_handed_in(
    handed_in: HandedIn, decision: Decision, verdicts: pd.DataFrame | None = None
) -> pd.DataFrame:
    """The rows of a :class:`LookReport` as they came; `verdicts` are those of ``report``."""
    verdicts = report(None, handed_in, decision).verdicts if verdicts is None else verdicts
    parts, start = [], 0
    for table in decision.judged:
        size = len(handed_in.rows[table])
        parts.append(_rows(table, verdicts.iloc[start : start + size], decision))
        start += size
    return pd.concat(parts, ignore_index=True)


def _rows(table: str, verdicts: pd.DataFrame, decision: Decision) -> pd.DataFrame:
    """Rows of one table beside what they are read as."""
    given, judged, looked = decision.given[table], decision.judged[table], decision.looked[table]
    labels = given.raw.index
    out = verdicts.set_axis(labels, axis=0).copy()
    problems = judged.problems.frame()
    firm = problems.groupby("at")["firm"].any().reindex(labels)
    state = out["verdict"].mask((out["verdict"] == HELD_BACK) & ~firm.fillna(True).astype(bool), DOUBTED)
    state = state.mask(labels.isin(looked.asked), ASKED).mask(labels.isin(looked.left_out), LEFT_OUT)
    asked = problems[problems["question"] != ""].groupby("at")["question"].agg(list)
    out["state"] = state
    out["questions"] = [asked.get(label, []) for label in labels] if len(asked) else [[] for _ in labels]
    out["written"] = pd.Series(_records(_written(given.raw)), labels, dtype=object)
    read = _read(table, given.rows)
    for question in looked.questions:  # what waits for an answer is read as nothing yet
        unread = [name for name in (question.column, *_BESIDE.get(question.column, ())) if name in read]
        read.loc[question.at, unread] = None
    out["read"] = pd.Series(_records(read), labels, dtype=object)
    return out


def _written(raw: pd.DataFrame) -> pd.DataFrame:
    """The cells as they were written."""
    return raw[[name for name in raw.columns if name not in SOURCE and ":" not in name]]


def _read(table: str, rows: pd.DataFrame) -> pd.DataFrame:
    """What the cells are read as, values in the unit of the row."""
    out = {}
    for column in TABLES[table].columns:
        cells = rows[column.stored]
        if column.kind in ("date", "month"):
            cells = cells.dt.strftime("%Y-%m-%d").astype(object)
        elif column.unit == "base" and "unit" in rows:
            per = {unit: units.per_unit(unit) for unit in rows["unit"].unique()}
            cells = (cells / rows["unit"].map(per).astype("float64")).round(9)
        out[column.name] = cells.astype(object)
    return pd.DataFrame(out, index=rows.index)


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """A dict for each row, of the cells that hold anything."""
    columns = {str(name): frame[name].to_numpy(dtype=object) for name in frame}
    filled = {name: frame[name].notna().to_numpy() & (cells != "") for name, cells in columns.items()}
    columns = {name: cells for name, cells in columns.items() if filled[name].any()}
    return [
        {name: cells[place] for name, cells in columns.items() if filled[name][place]}
        for place in range(len(frame))
    ]
