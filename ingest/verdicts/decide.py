"""All rows of one call against the store: what is stored, held back, known already, and no longer waits."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

import pandas as pd

from ingest.schema import SOURCE
from ingest.store.transaction import Transaction
from ingest.verdicts.judge import Judged, judge
from ingest.verdicts.normalise import Normalised, normalise


@dataclass(frozen=True)
class Decision:
    """Verdicts on all tables of a call, at one version of the store.

    Attributes
    ----------
    judged : table -> verdicts on its rows.
    held : rows to hold back, as ``Transaction.hold`` takes them.
    released : held rows that have become good, as ``Transaction.settle`` takes them.
    """

    judged: dict[str, Judged]
    held: pd.DataFrame
    released: pd.DataFrame

    def write(self, batch: Transaction) -> None:
        """Store what was decided."""
        for table, judged in self.judged.items():
            batch.replace(table, judged.replaced, judged.accepted)
        batch.hold(self.held)
        batch.settle(self.released)


def decide(raw: Mapping[str, pd.DataFrame], known: Mapping[str, pd.DataFrame], today: date) -> Decision:
    """Judge all rows against the store's rows; rows accepted earlier in the call count as known.

    Pure: the same rows and the same store give the same verdicts.

    Parameters
    ----------
    raw : table -> rows of text, as in :class:`ingest.verdicts.handed_in.HandedIn`.
    known : rows of every table that hold, and ``held``, as ``Store.stored`` gives them.
    today : later dates lie in the future.
    """
    known = dict(known)
    judged, held, released = {}, [], []
    for table, rows in raw.items():
        given = normalise(table, rows, known, today=today)
        verdict = judge(given, known)
        bad, free, repeated = _against_held(given, verdict, known["held"])
        accepted = verdict.accepted[~verdict.accepted.index.isin(repeated)]
        judged[table] = replace(verdict, accepted=accepted, known=verdict.known.union(repeated))
        held.append(bad)
        released.append(free)
        known[table] = _with(known[table], judged[table])
    return Decision(judged, pd.concat(held, ignore_index=True), pd.concat(released, ignore_index=True))


def _with(stored: pd.DataFrame, judged: Judged) -> pd.DataFrame:
    """The table as it will be: replaced rows gone, accepted ones added."""
    kept = stored[~stored["row_id"].isin(judged.replaced)] if len(judged.replaced) else stored
    if judged.accepted.empty:
        return kept
    new = judged.accepted.assign(row_id=-1)
    return pd.concat([kept, new[kept.columns]], ignore_index=True) if len(kept) else new[kept.columns]


def _against_held(
    given: Normalised, verdict: Judged, held: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame, pd.Index]:
    """Rows to hold back, held rows that have become good, and rows whose fate was decided before."""
    before = held[held["table_name"] == given.table]
    bad = verdict.problems.rows()
    text = _as_json(given.raw.loc[bad])
    repeated = text.index[text.isin(before["raw"]) | text.duplicated()]
    fresh = bad.difference(repeated).sort_values()
    rows = given.raw.loc[fresh, SOURCE].assign(table_name=given.table, raw=text[fresh])
    rows["reasons"] = _reasons(verdict.problems.frame(), fresh)
    good = _as_json(_like(given.raw.loc[verdict.accepted.index], before))
    settled = before[before["outcome"] != ""]
    waiting = before[(before["outcome"] == "") & before["raw"].isin(good)]
    released = waiting[["held_id"]].assign(
        outcome="released", reason="handed in again, and now it fits", mended=""
    )
    return rows, released, repeated.union(good.index[good.isin(settled["raw"])])


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


def _as_json(raw: pd.DataFrame) -> pd.Series:
    """Raw rows as JSON: heading -> text, cells that are empty left out; the same row gives the same text."""
    names = sorted(name for name in raw.columns if name not in SOURCE)
    records = raw[names].to_dict("records")
    texts = [json.dumps({k: v for k, v in row.items() if v != ""}, ensure_ascii=False) for row in records]
    return pd.Series(texts, index=raw.index, dtype="str")


def _reasons(reasons: pd.DataFrame, labels: pd.Index) -> pd.Series:
    """Reasons of each row as a JSON list."""
    listed: dict[int, list[dict[str, object]]] = {label: [] for label in labels}
    part = reasons[reasons["at"].isin(labels)]
    records = part[["column", "found", "reason", "firm"]].to_dict("records")
    for label, reason in zip(part["at"], records, strict=True):
        listed[label].append({str(name): value for name, value in reason.items()})
    return pd.Series([json.dumps(row) for row in listed.values()], index=labels, dtype="str")
