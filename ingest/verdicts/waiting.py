"""Rows that will not do beside those that wait already: which are new, wait no longer, or are settled.

A row is the same as a held one when its cells are: what was stated about its sheet (a layout, an answer)
makes no other row of it.
"""

import json

import pandas as pd

from ingest.problems import POINT, at_point
from ingest.schema import SOURCE
from ingest.verdicts.judge import Judged
from ingest.verdicts.normalise import Normalised

HELD_AGAIN = "held again"
"""What became of a row whose question was answered while another is open: it waits under that one."""
_IDENTITY = ":problem"


def against_held(
    given: Normalised, verdict: Judged, held: pd.DataFrame, left_out: pd.Index
) -> tuple[pd.DataFrame, pd.DataFrame, pd.Index]:
    """Rows to hold back, held rows that no longer wait, and rows whose fate was decided before.

    Parameters
    ----------
    held : all rows held back so far, and what became of them.
    left_out : labels of rows that are no entries of the table, as somebody answered.

    Returns
    -------
    To hold: as ``Transaction.hold`` takes them; ``outcome`` filled for those that are left out. No longer
    waiting: as ``Transaction.settle`` takes them. Labels of the rows that were decided on before.
    """
    before = held[(held["table_name"] == given.table) & (held["outcome"] != HELD_AGAIN)]
    before = before.assign(raw=_identities(before["raw"]))
    waiting, settled = before[before["outcome"] == ""], before[before["outcome"] != ""]
    problems = verdict.problems.frame()
    bad = verdict.problems.rows().difference(left_out)
    text, out = _as_json(given.raw.loc[bad]), _as_json(given.raw.loc[left_out])
    repeated = text.index[text.isin(before["raw"]) | text.duplicated()]
    moved = _moved(text[repeated], problems, waiting)
    fresh = bad.difference(repeated).union(moved.index).sort_values()
    rows = _rows(given, fresh, _reasons(_with_values(problems, given), fresh))
    gone = _rows(given, out.index[~out.isin(before["raw"])], "[]").assign(outcome="dismissed")
    good = _as_json(_like(given.raw.loc[verdict.accepted.index.union(verdict.known)], before))
    accepted = good[good.index.isin(verdict.accepted.index)]
    released = pd.concat(
        [
            _settled(waiting[waiting["raw"].isin(good)], "released", "handed in again, and now it fits"),
            _settled(waiting[waiting["raw"].isin(out)], "dismissed", "left out: no entry of the table"),
            _settled(waiting[waiting["held_id"].isin(moved)], HELD_AGAIN, "it waits for another answer"),
        ]
    )
    decided = repeated.difference(moved.index).union(accepted.index[accepted.isin(settled["raw"])])
    decided = decided.union(out.index[out.isin(settled["raw"])])
    return pd.concat([rows.assign(outcome=""), gone]), released, decided


def left_out_before(given: Normalised, labels: pd.Index, held: pd.DataFrame) -> pd.Index:
    """Of some rows, those that somebody has left out or dismissed before, by what their cells say."""
    gone = held[(held["table_name"] == given.table) & (held["outcome"] == "dismissed")]
    if gone.empty or not len(labels):
        return labels[:0]
    text = _as_json(given.raw.loc[labels])
    return text.index[text.isin(_identities(gone["raw"]))]


def _moved(text: pd.Series, problems: pd.DataFrame, waiting: pd.DataFrame) -> pd.Series:
    """held_id of rows that wait for an answer which is no longer asked for, by the label of the row."""
    if text.empty or waiting.empty:
        return pd.Series([], dtype="int64")
    asked = problems[problems["question"] != ""].groupby("at")["question"].agg(frozenset)
    near = waiting[waiting["raw"].isin(text)]
    before = {
        raw: (held_id, frozenset(reason.get("question", "") for reason in json.loads(reasons)) - {""})
        for raw, held_id, reasons in zip(near["raw"], near["held_id"], near["reasons"], strict=True)
    }
    moved = {
        label: before[raw][0]
        for label, raw in text.drop_duplicates().items()
        if raw in before and before[raw][1] and before[raw][1] != asked.get(label, frozenset())
    }
    return pd.Series(moved, dtype="int64")


def _rows(given: Normalised, labels: pd.Index, reasons: pd.Series | str) -> pd.DataFrame:
    """Rows as they are held."""
    rows = given.raw.loc[labels, SOURCE].assign(table_name=given.table)
    return rows.assign(raw=_as_json(given.raw.loc[labels], whole=True), reasons=reasons)


def _settled(rows: pd.DataFrame, outcome: str, reason: str) -> pd.DataFrame:
    return rows[["held_id"]].assign(outcome=outcome, reason=reason, mended="")


def _like(rows: pd.DataFrame, held: pd.DataFrame) -> pd.DataFrame:
    """The few rows that may equal a held one: the texts of their main cells are among those of held rows."""
    if held.empty or rows.empty:
        return rows.iloc[:0]
    columns = [
        name for name in ("point", "vehicle", "component", "date", "value", "odometer") if name in rows
    ]
    texts = [json.loads(text) for text in held["raw"]]
    for name in columns:
        rows = rows[rows[name].isin({text.get(name, "") for text in texts})]
    return rows


def _as_json(raw: pd.DataFrame, *, whole: bool = False) -> pd.Series:
    """Raw rows as JSON: heading -> text, cells that are empty left out; the same row gives the same text.

    With `whole`, what was stated about the sheet stands beside the cells.
    """
    names = sorted(name for name in raw.columns if name not in SOURCE and (whole or _is_cell(name)))
    records = raw[names].to_dict("records")
    texts = [json.dumps({k: v for k, v in row.items() if v != ""}, ensure_ascii=False) for row in records]
    return pd.Series(texts, index=raw.index, dtype="str")


def _identities(raw: pd.Series) -> pd.Series:
    """Held rows as JSON without what was stated about their sheets."""
    stated = raw.str.contains('":', regex=False)
    cells = [
        json.dumps({k: v for k, v in json.loads(text).items() if _is_cell(k)}, ensure_ascii=False)
        for text in raw[stated]
    ]
    return raw.mask(stated, pd.Series(cells, raw.index[stated], dtype="str").reindex(raw.index))


def _is_cell(name: str) -> bool:
    """Whether a column is a cell of the sheet, or why it cannot be believed."""
    return not name.startswith(":") or name == _IDENTITY


def _with_values(problems: pd.DataFrame, given: Normalised) -> pd.DataFrame:
    """Reasons of readings that wait for something at their wear point, with the value that was read."""
    if given.table != "readings" or problems.empty:
        return problems
    values = given.rows["value"].reindex(problems["at"]).to_numpy()
    waits = [
        at_point(value) if what == POINT and value == value else what  # NaN is none
        for what, value in zip(problems["waits"], values, strict=True)
    ]
    return problems.assign(waits=waits)


def _reasons(reasons: pd.DataFrame, labels: pd.Index) -> pd.Series:
    """Reasons of each row as a JSON list."""
    listed: dict[int, list[dict[str, object]]] = {label: [] for label in labels}
    part = reasons[reasons["at"].isin(labels)]
    records = part[["column", "found", "reason", "firm", "question", "waits"]].to_dict("records")
    for label, reason in zip(part["at"], records, strict=True):
        said = {str(k): value for k, value in reason.items() if value or k not in ("question", "waits")}
        listed[label].append(said)
    return pd.Series([json.dumps(row) for row in listed.values()], index=labels, dtype="str")
