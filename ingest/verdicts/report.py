"""What became of the rows handed in."""

from dataclasses import dataclass

import pandas as pd

from ingest.look.question import Question
from ingest.schema import SOURCE
from ingest.verdicts.decide import Decision
from ingest.verdicts.handed_in import HandedIn, NotRead

ACCEPTED, HELD_BACK, ALREADY_KNOWN = "accepted", "held back", "already known"
LEFT_OUT = "row: no entry of the table; it is kept as dismissed"
VERDICTS = (ACCEPTED, HELD_BACK, ALREADY_KNOWN)


@dataclass(frozen=True)
class AddReport:
    """Verdicts of one ``add``.

    Attributes
    ----------
    batch : number of the batch stored; None where nothing changed.
    verdicts : one row for each row handed in: file, sheet, row (number in the file), table, verdict, reasons
        (``column: reason; column: reason``, empty unless held back).
    files : a row for each sheet read: file, sheet, table, rows, accepted, held_back, already_known,
        not_used (headings that are no column of the table). The three counts add up to ``rows``.
    not_read : files and sheets that were not taken.
    questions : what must be answered before the rows that it names can be stored.
    no_longer_wait : rows held back by earlier calls that this one settled.
    """

    batch: int | None
    verdicts: pd.DataFrame
    files: pd.DataFrame
    not_read: tuple[NotRead, ...]
    questions: tuple[Question, ...] = ()
    no_longer_wait: int = 0

    def count(self, verdict: str) -> int:
        """Rows with a verdict, over all files."""
        return int((self.verdicts["verdict"] == verdict).sum())

    @property
    def held_back(self) -> pd.DataFrame:
        """Verdicts of the rows held back."""
        return self.verdicts[self.verdicts["verdict"] == HELD_BACK]

    def as_dict(self) -> dict[str, object]:
        """Everything but the verdicts of rows that need no attention, for JSON."""
        columns = ["file", "sheet", "row", "table", "reasons"]
        return {
            "batch": self.batch,
            "rows": len(self.verdicts),
            **{verdict.replace(" ", "_"): self.count(verdict) for verdict in VERDICTS},
            "no_longer_wait": self.no_longer_wait,
            "files": self.files.to_dict("records"),
            "held_back_rows": self.held_back[columns].to_dict("records"),
            "not_read": [vars(item) for item in self.not_read],
            "questions": [question.as_dict() for question in self.questions],
        }


def report(batch: int | None, handed_in: HandedIn, decision: Decision) -> AddReport:
    """What became of the rows, by the decision that was stored as `batch`."""
    parts = []
    for table, judged in decision.judged.items():
        part = handed_in.rows[table][SOURCE].set_axis(["file", "sheet", "row"], axis=1)
        words = _reasons(judged.problems.frame())
        left_out = decision.looked[table].left_out
        part["table"] = table
        part["verdict"] = ACCEPTED
        part.loc[words.index.union(left_out), "verdict"] = HELD_BACK
        part.loc[judged.known, "verdict"] = ALREADY_KNOWN
        words = words.reindex(part.index).mask(part.index.isin(left_out.difference(judged.known)), LEFT_OUT)
        part["reasons"] = words.fillna("").astype("str")
        parts.append(part)
    verdicts = pd.concat(parts, ignore_index=True)
    files = _count_files(verdicts, handed_in.sheets)
    return AddReport(batch, verdicts, files, handed_in.not_read, (*handed_in.questions, *decision.questions))


def _reasons(reasons: pd.DataFrame) -> pd.Series:
    """Reasons of each row as one text."""
    words: dict[int, list[str]] = {}
    for label, column, reason in reasons[["at", "column", "reason"]].itertuples(index=False, name=None):
        words.setdefault(label, []).append(f"{column}: {reason}")
    return pd.Series({label: "; ".join(row) for label, row in words.items()}, dtype="str")


def _count_files(verdicts: pd.DataFrame, sheets: pd.DataFrame) -> pd.DataFrame:
    """Counts of verdicts by sheet, in the order of ``sheets`` (``handed_in.SHEETS``)."""
    keys = ["file", "sheet", "table"]
    counts = verdicts.pivot_table(
        index=keys, columns="verdict", values="row", aggfunc="count", fill_value=0, observed=True
    )
    counts = counts.reindex(columns=list(VERDICTS), fill_value=0).reset_index()
    counts.columns = [str(name).replace(" ", "_") for name in counts.columns]
    files = sheets.merge(counts, on=keys, how="left")
    names = [verdict.replace(" ", "_") for verdict in VERDICTS]
    files[names] = files[names].fillna(0).astype("int64")
    files["rows"] = files[names].sum(axis=1)
    return files[[*keys, "rows", *names, "not_used"]]
