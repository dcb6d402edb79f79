"""Many stored rows corrected alike, as one batch: chosen by what they share, shown before they are stored.

A gauge that read high by its certificate, an observer who wrote another unit, a sheet that is off by a year.
What was there before stays readable, and ``undo`` brings it back.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from datetime import UTC, date, datetime

import numpy as np
import pandas as pd

from ingest import units
from ingest.errors import NotPossible, WrongUsage
from ingest.layouts.text import key
from ingest.names.as_written import as_written
from ingest.names.points import by_point
from ingest.neutral import harmless, quoted
from ingest.notation.values import parse_values
from ingest.schema import SOURCE, TABLES
from ingest.store import Store
from ingest.verdicts.judge import Judged, judge
from ingest.verdicts.normalise import normalise
from ingest.verdicts.read_again import let_go
from ingest.verdicts.undo import check_whole, must_tell

CORRECTABLE = ("readings", "work", "mileage")
"""Tables whose rows can be corrected many at once."""
_MEASURED = {"readings": ("value",), "work": ("value_before", "value_after"), "mileage": ()}
_DIGITS = 9
"""Decimals of a corrected value in its unit: far below what any gauge reads, above what arithmetic leaves."""


@dataclass(frozen=True)
class Chosen:
    """Which rows: those that agree with all that is filled. Words are compared without case and marks."""

    table: str = "readings"
    gauge: str = ""
    observer: str = ""
    file: str = ""
    sheet: str = ""
    vehicle: str = ""
    point: str = ""
    since: date | None = None
    until: date | None = None

    def __post_init__(self) -> None:
        _make_harmless(self)


@dataclass(frozen=True)
class Change:
    """What is put right in each of them.

    Attributes
    ----------
    read_high : how much too high they read, with its unit (``4 thou``); -4 thou: too low.
    unit : the unit in which the values were written, where another was taken.
    years, days : how far dates are moved, forward or back.
    cells : column of the table -> text that is put in it.
    """

    read_high: str = ""
    unit: str = ""
    years: int = 0
    days: int = 0
    cells: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        _make_harmless(self)


def _make_harmless(said: Chosen | Change) -> None:
    """What people typed, with hostile characters made visible: it is compared, stored and printed so."""
    for each in fields(said):
        object.__setattr__(said, each.name, harmless(getattr(said, each.name)))


@dataclass(frozen=True)
class Proposed:
    """What a correction would do; nothing was stored.

    Attributes
    ----------
    rows : a row for each that was chosen, in order of date: row_id, point (or vehicle), date, observer,
        gauge, file, sheet, row, before and after (what differs, as text), why_not (empty where it can be),
        doubt.
    changed : how many of them differ afterwards.
    """

    rows: pd.DataFrame
    changed: int

    @property
    def refused(self) -> pd.DataFrame:
        """Rows that cannot be corrected so."""
        return self.rows[self.rows["why_not"] != ""]


def propose(store: Store, chosen: Chosen, change: Change, *, today: date | None = None) -> Proposed:
    """Rows that are chosen, before and after the correction.

    Raises
    ------
    NotPossible : no row is chosen, or nothing would be corrected.
    WrongUsage : no such table or column, an amount without a unit.
    """
    return _worked(store.stored()[1], chosen, change, today)[0]


def correct_many(
    store: Store, chosen: Chosen, change: Change, *, reason: str, who: str = "", today: date | None = None
) -> tuple[int, int]:
    """Correct all rows that are chosen. Returns (batch, rows that differ now).

    Raises
    ------
    As :func:`propose`, and NotPossible where one of the rows cannot be corrected so: then none is.
    """
    must_tell(reason)
    said = {name: word for name, word in {**asdict(chosen), **asdict(change)}.items() if word}
    about: dict[str, object] = {"chosen": said, "reason": reason}
    with store.transaction("correct", who, harmless(about)) as batch:
        before = batch.stored()
        proposed, judged, replaced = _worked(before, chosen, change, today)
        if len(proposed.refused):
            raise NotPossible(_refusal(proposed))
        batch.replace(chosen.table, pd.concat([replaced, judged.replaced]), judged.accepted)
        check_whole(batch, before)
        let_go(batch, before, today=today)
        return batch.batch, proposed.changed


def chosen_rows(known: Mapping[str, pd.DataFrame], chosen: Chosen) -> pd.DataFrame:
    """The stored rows that a choice names; empty if there is none.

    Raises
    ------
    WrongUsage : a table whose rows are not corrected many at once, or a column that it does not have.
    """
    if chosen.table not in CORRECTABLE:
        listed = ", ".join(CORRECTABLE)
        raise WrongUsage(f"Rows of {quoted(chosen.table)} are corrected one by one. Many at once: {listed}.")
    rows = known[chosen.table]
    vehicle = rows["point"].map(by_point(known["wear_points"])["vehicle"]) if "point" in rows else None
    columns = {
        "gauge": rows.get("gauge"),
        "observer": rows.get("observer"),
        "file": rows["source_file"],
        "sheet": rows["source_sheet"],
        "point": rows.get("point"),
        "vehicle": rows["vehicle"] if vehicle is None else vehicle,
    }
    kept = pd.Series(True, rows.index)
    for name, column in columns.items():
        wanted = str(getattr(chosen, name))
        if wanted and column is None:
            raise WrongUsage(f"Rows of {chosen.table} name no {name}. Choose them by something else.")
        if wanted and column is not None:
            texts = column.fillna("").astype("str")
            kept &= texts.map({text: _same(text, wanted) for text in texts.unique()}).astype(bool)
    if chosen.since is not None:
        kept &= rows["date"] >= pd.Timestamp(chosen.since)
    if chosen.until is not None:
        kept &= rows["date"] <= pd.Timestamp(chosen.until)
    return rows[kept].sort_values(["date", "row_id"], kind="stable")


def _same(text: str, wanted: str) -> bool:
    """Whether two words are one: without case and marks, or as they stand where they are marks alone."""
    return key(text) == key(wanted) if key(wanted) else text.strip() == wanted.strip()


def _worked(
    known: Mapping[str, pd.DataFrame], chosen: Chosen, change: Change, today: date | None
) -> tuple[Proposed, Judged, pd.Series]:
    """What the correction would do, the verdict on the corrected rows, and row_id of those they replace."""
    old = chosen_rows(known, chosen)
    if old.empty:
        raise NotPossible(f"No stored row of {chosen.table} is as chosen. Leave out one of the conditions.")
    table = chosen.table
    old = old.set_index("row_id", drop=False).rename_axis(None)
    cells = as_written(table, old)
    corrected, why_not = _corrected(table, cells, old, change)
    differs = (corrected != cells).any(axis=1)
    if not differs.any() and not (why_not != "").any():
        raise NotPossible("The rows would stay as they are. Say what is to be corrected.")
    fresh = corrected[differs & (why_not == "")]
    left = {**known, table: known[table][~known[table]["row_id"].isin(fresh.index)]}
    raw = pd.concat([fresh, old.loc[fresh.index, SOURCE]], axis=1)
    given = normalise(table, raw, left, today=today or datetime.now(UTC).date())
    judged = judge(given, left, accept=True)
    problems = judged.problems.frame()
    why_not = why_not.mask(why_not.index.isin(judged.known), "it would be the same as another stored row")
    said = (problems["column"] + ": " + problems["reason"]).groupby(problems["at"])
    taken = pd.Index(judged.accepted.index)
    words = said.agg("; ".join).reindex(old.index).fillna("").astype("str")
    why_not = why_not.mask((why_not == "") & differs & ~old.index.isin(taken), words)
    rows = _shown(table, old, cells, corrected).assign(
        why_not=why_not, doubt=words.where(old.index.isin(taken), "")
    )
    return Proposed(rows.reset_index(drop=True), int(differs.sum())), judged, old.loc[taken, "row_id"]


def _corrected(
    table: str, cells: pd.DataFrame, old: pd.DataFrame, change: Change
) -> tuple[pd.DataFrame, pd.Series]:
    """The rows as text with the change in them; and why some cannot have it."""
    out, why_not = cells.copy(), pd.Series("", cells.index, dtype="str")
    unknown = [name for name in change.cells if name not in TABLES[table].public]
    if unknown:
        listed = ", ".join(TABLES[table].public)
        raise WrongUsage(f"The table {table} has no column {', '.join(unknown)}. Its columns: {listed}.")
    if (change.read_high or change.unit) and not _MEASURED[table]:
        raise WrongUsage(f"Rows of {table} hold no measured value.")
    if change.unit:
        own = pd.Series(False, out.index)
        for name in _MEASURED[table]:
            own |= parse_values(out[name])["unit"].ne("") & out[name].ne("")
        why_not = why_not.mask(own, "its cell names the unit itself; correct it alone")
        out["unit"] = change.unit
    if change.read_high:
        amount = _amount(change.read_high)
        for name in _MEASURED[table]:
            why_not = why_not.mask((why_not == "") & ~old["unit"].map(units.is_length), "it is no length")
            per = old["unit"].map({unit: units.per_unit(unit) for unit in old["unit"].unique()})
            less = ((old[name] - amount) / per.astype("float64")).round(_DIGITS)
            texts = less.map(lambda number: np.format_float_positional(number, trim="-"))
            out[name] = texts.where(old[name].notna(), out[name]).astype("str")
    if change.years or change.days:
        moved = [_moved(day.date(), change) for day in old["date"]]
        why_not = why_not.mask(pd.Series([not day for day in moved], out.index), "that year has no such day")
        out["date"] = pd.Series(moved, out.index, dtype="str")
    for name, text in change.cells.items():
        out[name] = text
    return out, why_not


def _amount(text: str) -> float:
    """How much too high, from its text. [mm]"""
    text = text.strip()
    sign = -1.0 if text.startswith(("-", "−")) else 1.0
    read = parse_values(pd.Series([text.lstrip("+-− ")], dtype="str")).iloc[0]
    if read["problem"] or not units.is_length(str(read["unit"])):
        raise WrongUsage(
            f"{quoted(text)} is no length with its unit; 4 thou, 0.1 mm or 1/64 in was expected."
        )
    return sign * units.to_base(float(read["value"]), str(read["unit"]))


def _moved(day: date, change: Change) -> str:
    """The day moved; empty where there is no such day."""
    try:
        return (day.replace(year=day.year + change.years) + pd.Timedelta(days=change.days)).isoformat()
    except (ValueError, OverflowError):
        return ""


def _shown(table: str, old: pd.DataFrame, cells: pd.DataFrame, corrected: pd.DataFrame) -> pd.DataFrame:
    """Rows beside what differs in them."""
    names = TABLES[table].public
    texts = {}
    for which, frame in {"before": cells, "after": corrected}.items():
        shown = [name for name in names if (cells[name] != corrected[name]).any()]
        shown += ["unit"] if {"value", "value_after"} & set(shown) and "unit" not in shown else []
        parts = frame[shown].to_numpy(dtype=object) if shown else np.empty((len(frame), 0), dtype=object)
        texts[which] = [_in_words(dict(zip(shown, row, strict=True))) for row in parts]
    who = "point" if "point" in old else "vehicle"
    out = old[["row_id", who, "date"]].copy()
    for name in ("observer", "gauge"):
        out[name] = old.get(name, "")
    places = dict(zip(("file", "sheet", "row"), SOURCE, strict=True))
    return out.assign(**{name: old[column] for name, column in places.items()}, **texts)


def _in_words(cells: dict[str, str]) -> str:
    """``1.375 in``; ``1997-05-03``; ``gauge G7``."""
    unit = cells.pop("unit", "")
    words = [text if name in ("value", "date") else f"{name} {text}" for name, text in cells.items() if text]
    said = ", ".join(words)
    return said if not unit or said.endswith(unit) else f"{said} {unit}".strip()


def _refusal(proposed: Proposed) -> str:
    first = proposed.refused.iloc[0]
    place = f"{first['file']}{', sheet ' + first['sheet'] if first['sheet'] else ''}, row {first['row']}"
    return (
        f"{len(proposed.refused):,} of {len(proposed.rows):,} rows cannot be corrected so; nothing was "
        f"changed. The first: {place}: {first['why_not']}. Choose fewer rows, or correct these one by one."
    )
