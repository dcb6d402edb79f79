"""Files in, verdicts out: what ``milesleft add`` does. One transaction for everything handed in."""

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path

import pandas as pd

from ingest.errors import UnknownTable, UnreadableFile
from ingest.layouts.apply import read_tables
from ingest.layouts.headings import match, recognise
from ingest.layouts.layout import Layout, load_layout
from ingest.layouts.plain import RawTable
from ingest.names.as_written import restored
from ingest.schema import SOURCE, TABLES
from ingest.sheets.readers import find_files
from ingest.store import Store
from ingest.store.transaction import Transaction
from ingest.verdicts.judge import Judged, judge
from ingest.verdicts.normalise import Normalised, normalise
from ingest.verdicts.report import ACCEPTED, ALREADY_KNOWN, HELD_BACK, AddReport, NotRead, count_files

_TRIES = 3  # times that rows are judged again because somebody else stored something meanwhile


@dataclass
class Sheets:
    """Everything that was read from files, by table."""

    raw: dict[str, list[pd.DataFrame]] = field(default_factory=dict)
    listed: list[tuple[str, str, str, str]] = field(default_factory=list)
    not_read: list[NotRead] = field(default_factory=list)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Rows by table, in the order in which they are taken in; labels 0, 1, ... within a table."""
        return {
            name: pd.concat(self.raw[name], ignore_index=True).fillna("")
            for name in TABLES
            if name in self.raw
        }


@dataclass(frozen=True)
class Decision:
    """Verdicts on all tables of a call, at one version of the store."""

    judged: dict[str, Judged]
    held: pd.DataFrame
    released: pd.DataFrame
    known: dict[str, pd.Index]


def add_files(
    store: Store,
    paths: Iterable[Path | str],
    *,
    who: str = "",
    layout: Layout | Path | None = None,
    today: date | None = None,
) -> AddReport:
    """Read files and folders and store their rows in one batch.

    Parameters
    ----------
    store : it is made if it does not exist.
    paths : files and folders; readings and what they refer to may come in any order.
    who : name for the record; the user of this process if empty.
    layout : a layout or its file, for sheets that are not written like the tables.
    today : day after which dates lie in the future; the present day if None.

    Returns
    -------
    AddReport : a verdict for every row.

    Raises
    ------
    UnreadableFile, UnknownTable : nothing of what was handed in is a table; the message tells of each file.
    StoreBusy, StoreProblem : the store cannot be opened; nothing was stored.
    """
    how = load_layout(layout) if isinstance(layout, Path) else layout
    sheets = read_sheets([Path(path) for path in paths], how)
    if not sheets.raw:
        raise _nothing(sheets.not_read)
    return add_tables(store, sheets, who=who, today=today)


def add_tables(store: Store, sheets: Sheets, *, who: str = "", today: date | None = None) -> AddReport:
    """Judge and store rows that were read already; see :func:`add_files`."""
    raw = sheets.tables()
    today = today or datetime.now(UTC).date()
    about = {"files": sorted({file for file, *_ in sheets.listed})}
    for last in [*[False] * (_TRIES - 1), True]:
        version, known = store.stored()
        decision = decide(raw, known, today)
        with store.transaction("add", who, about) as batch:
            if batch.before != version and last:
                decision = decide(raw, batch.stored(), today)
            if batch.before == version or last:
                write(batch, decision)
                number = batch.batch if batch.changed else None
                return _report(number, raw, decision, sheets)
    raise AssertionError("the last try stores or raises")


def read_sheets(paths: list[Path], layout: Layout | None = None) -> Sheets:
    """Read every sheet of files and folders and tell its table by its headings."""
    sheets = Sheets()
    for path in find_files(paths):
        try:
            tables = read_tables(path, layout)
        except UnreadableFile as error:
            sheets.not_read.append(NotRead(path.name, "", str(error)))
            continue
        for table in tables:
            _take_in(sheets, table)
    return sheets


def _take_in(sheets: Sheets, table: RawTable) -> None:
    sheet = table.sheet or ""
    try:
        found = recognise(table.columns) if table.table is None else match(table.columns, table.table)
    except UnknownTable as error:
        sheets.not_read.append(NotRead(table.file, sheet, str(error)))
        return
    rows = table.rows.rename(columns=found.renames).apply(restored)
    for column, unit in found.units.items():
        rows[f"unit:{column}"] = unit
    rows = rows.assign(source_file=table.file, source_sheet=sheet, source_row=table.rows.index.to_numpy())
    stated = {":order": table.date_order or "", ":decimal": "," if table.decimal == "," else ""}
    rows = rows.assign(**{name: word for name, word in stated.items() if word})
    if table.problems:
        rows[":problem"] = rows["source_row"].map(table.problems).fillna("").astype("str")
    sheets.raw.setdefault(found.table, []).append(rows)
    unused = [name for name in found.unknown if not name.startswith((":", "unit:"))]
    sheets.listed.append((table.file, sheet, found.table, ", ".join(unused)))


def decide(raw: dict[str, pd.DataFrame], known: dict[str, pd.DataFrame], today: date) -> Decision:
    """Judge all rows against the store's rows; rows accepted earlier in the call count as known.

    Pure: the same rows and the same store give the same verdicts.
    """
    known = dict(known)
    judged, held, released, again = {}, [], [], {}
    for table, rows in raw.items():
        points, log, words = _points(known), known["mileage"], known["position_aliases"]
        given = normalise(table, rows, today=today, points=points, log=log, aliases=words)
        verdict = judge(given, known)
        bad, free, repeated = _against_held(given, verdict, known["held"])
        accepted = verdict.accepted[~verdict.accepted.index.isin(repeated)]
        judged[table] = Judged(accepted, verdict.known, verdict.replaced, verdict.problems)
        again[table] = verdict.known.union(repeated)
        held.append(bad)
        released.append(free)
        known[table] = _with(known[table], judged[table])
    return Decision(judged, pd.concat(held, ignore_index=True), pd.concat(released, ignore_index=True), again)


def write(batch: Transaction, decision: Decision) -> None:
    """Store what was decided."""
    for table, judged in decision.judged.items():
        batch.retract(table, judged.replaced)
        batch.insert(table, judged.accepted)
    batch.hold(decision.held)
    batch.settle(decision.released)


def _points(known: dict[str, pd.DataFrame]) -> pd.DataFrame:
    return known["wear_points"].drop_duplicates("point", keep="last")


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
    reasons = verdict.problems.frame()
    bad = verdict.problems.rows()
    text = as_json(given.raw.loc[bad])
    repeated = text.index[text.isin(before["raw"]) | text.duplicated()]
    fresh = bad.difference(repeated).sort_values()
    rows = given.raw.loc[fresh, SOURCE].assign(table_name=given.table, raw=text[fresh])
    rows["reasons"] = _reasons_json(reasons, fresh)
    good = as_json(_like(given.raw.loc[verdict.accepted.index], before))
    settled = before[before["outcome"] != ""]
    waiting = before[(before["outcome"] == "") & before["raw"].isin(good)]
    released = waiting[["held_id"]].assign(
        outcome="released", reason="handed in again, and now it fits", mended=""
    )
    return rows, released, repeated.union(good.index[good.isin(settled["raw"])])


def _like(rows: pd.DataFrame, held: pd.DataFrame) -> pd.DataFrame:
    """The few rows that may equal a held one: the text of a cell that tells most is among the held."""
    if held.empty or rows.empty:
        return rows.iloc[:0]
    keys = [name for name in ("point", "vehicle", "component", "date", "value", "odometer") if name in rows]
    texts = [json.loads(text) for text in held["raw"]]
    for name in keys:
        rows = rows[rows[name].isin({text.get(name, "") for text in texts})]
    return rows


def as_json(raw: pd.DataFrame) -> pd.Series:
    """Raw rows as JSON: heading -> text, cells that are empty left out; the same row gives the same text."""
    names = sorted(name for name in raw.columns if name not in SOURCE)
    records = raw[names].to_dict("records")
    texts = [json.dumps({k: v for k, v in row.items() if v != ""}, ensure_ascii=False) for row in records]
    return pd.Series(texts, index=raw.index, dtype="str")


def _reasons_json(reasons: pd.DataFrame, labels: pd.Index) -> pd.Series:
    """Reasons of each row as a JSON list."""
    listed: dict[int, list[dict[str, object]]] = {label: [] for label in labels}
    columns = ["column", "found", "reason", "firm"]
    part = reasons[reasons["at"].isin(labels)]
    for at, *told in part[["at", *columns]].itertuples(index=False, name=None):
        listed[at].append(dict(zip(columns, told, strict=True)))
    return pd.Series([json.dumps(row) for row in listed.values()], index=labels, dtype="str")


def _reasons_text(reasons: pd.DataFrame) -> pd.Series:
    """Reasons of each row as one text."""
    words: dict[int, list[str]] = {}
    for at, column, reason in reasons[["at", "column", "reason"]].itertuples(index=False, name=None):
        words.setdefault(at, []).append(f"{column}: {reason}")
    return pd.Series({at: "; ".join(row) for at, row in words.items()}, dtype="str")


def _report(batch: int | None, raw: dict[str, pd.DataFrame], decision: Decision, sheets: Sheets) -> AddReport:
    parts = []
    for table, rows in raw.items():
        judged = decision.judged[table]
        part = rows[SOURCE].set_axis(["file", "sheet", "row"], axis=1)
        words = _reasons_text(judged.problems.frame())
        part["table"] = table
        part["verdict"] = ACCEPTED
        part.loc[words.index, "verdict"] = HELD_BACK
        part.loc[decision.known[table], "verdict"] = ALREADY_KNOWN
        part["reasons"] = words.reindex(part.index).fillna("").astype("str")
        parts.append(part)
    verdicts = pd.concat(parts, ignore_index=True)
    listed = pd.DataFrame(sheets.listed, columns=["file", "sheet", "table", "not_used"])
    return AddReport(batch, verdicts, count_files(verdicts, listed), tuple(sheets.not_read))


def _nothing(not_read: list[NotRead]) -> UnreadableFile:
    if not not_read:
        return UnreadableFile(
            "There are no files to read there. Name files (.csv, .xlsx) or a folder of them."
        )
    return UnreadableFile("\n".join(item.reason for item in not_read))
