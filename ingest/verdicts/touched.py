"""Which of the rows that wait a batch can touch: all others would get the verdict that they have.

Every reason says what would have to change before it falls (``ingest.problems``). A row is judged again
when that is so of all its reasons, or of a question (it then waits under its other reasons alone), and with
it what its judges see beside it: the rows that wait in its sheet, and those at its wear point. A row of which
the batch before has asked something is judged once without the rows of its sheet that were stored.
"""

import json
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from ingest.names.points import by_point
from ingest.problems import ASKED, CELLS, NAMES, POINT, UNTIL, value_at_point

_NAMED_IN = {"vehicle": {"vehicles", "wear_points"}, "part_no": {"parts"}, "opening": {"openings"}}
_NAMING = frozenset({"wear_points", "position_aliases"})
"""Tables by which a name is known: of a column, and of wear points."""
_OF_POINTS = frozenset({"readings", "work"})
_LOG = frozenset({"mileage", "usage"})
_BESIDE = frozenset({"fittings", "parts", "vehicles"})
"""Other tables that judges of sheets look at."""
_EVERYTHING = frozenset({"answers", "layouts"})
"""Tables that say how sheets are read: after a change in them all rows are judged again."""
ONLY_SEEN = "only_seen"
"""Column: rows about which nothing can have changed, but that judges see beside those of other sheets."""
_SHEET = ["table_name", "source_file", "source_sheet"]

Tables = Mapping[str, pd.DataFrame]


@dataclass(frozen=True)
class Changed:
    """What a batch has changed: names of tables, and the wear points and vehicles of their rows, by table.

    A vehicle ``""`` stands for rows that name none, which may speak of all. ``sheets``: table, file and sheet
    of rows that came. ``gone``: wear points of readings that hold no longer; ``read``: wear point and value
    [base unit] of readings that came.
    """

    points: dict[str, set[str]] = field(default_factory=dict)
    vehicles: dict[str, set[str]] = field(default_factory=dict)
    sheets: set[tuple[str, str, str]] = field(default_factory=set)
    gone: set[str] = field(default_factory=set)
    read: set[tuple[str, float]] = field(default_factory=set)

    @property
    def tables(self) -> set[str]:
        """Tables with a change."""
        return set(self.points)

    def of_vehicle(self, vehicle: str, tables: frozenset[str] | set[str]) -> bool:
        """Whether rows of a vehicle changed in some tables; of any where either names none."""
        named = [self.vehicles[table] for table in self.tables & tables]
        return any(not vehicle or "" in some or vehicle in some for some in named)

    def at_point(self, point: str, tables: set[str]) -> bool:
        """Whether rows of a wear point changed in some tables."""
        return any(not point or point in self.points[table] for table in self.tables & tables)

    def may_let_go(self, point: str, value: float) -> bool:
        """Whether a reading of that value may be contradicted no longer, or be stored by now."""
        return self.at_point(point, {"work"}) or point in self.gone or (point, value) in self.read


def changed_between(before: Tables, after: Tables) -> Changed:
    """What differs between the rows of all tables, as ``Store.stored`` gives them (row_id -1: new)."""
    vehicles = by_point(after["wear_points"])["vehicle"]
    out = Changed()
    for table, rows in after.items():
        if table in ("held", "corrected") or rows is before[table]:
            continue
        gone = before[table][~before[table]["row_id"].isin(rows["row_id"])]
        new = rows[~rows["row_id"].isin(before[table]["row_id"])]
        if gone.empty and new.empty:
            continue
        both = pd.concat([gone, new], ignore_index=True)
        names = both["point"] if "point" in both else pd.Series("", both.index, dtype="str")
        of = names.map(vehicles).astype(object).fillna("")
        if "vehicle" in both:
            of = both["vehicle"].astype(object).fillna("").where(lambda s: s != "", of)
        out.points[table], out.vehicles[table] = set(names), set(of)
        if table == "readings":
            out.gone.update(gone["point"])
            out.read.update(zip(new["point"], new["value"].astype("float64"), strict=True))
        if "source_file" in new:
            came = new[["source_file", "source_sheet"]].drop_duplicates().itertuples(index=False, name=None)
            out.sheets.update((table, str(file), str(sheet)) for file, sheet in came)
    return out


def touched(held: pd.DataFrame, before: Tables, after: Tables, *, since: int, today: str) -> pd.DataFrame:
    """The rows that wait and must be judged again.

    Parameters
    ----------
    held : all rows held back, and what became of them by now.
    before, after : rows of every table as they held when the rows that wait were judged last, and now.
    since : number of the batch by which they were judged last.
    today : later dates lie in the future, ``2026-11-29``.

    Returns
    -------
    Rows of `held`, with ``only_seen`` (bool).
    """
    waiting = held[held["outcome"] == ""]
    changed = changed_between(before, after)
    if changed.tables & _EVERYTHING:
        return waiting.assign(**{ONLY_SEEN: False})
    about = _about(waiting, after["wear_points"])
    fresh = (waiting["batch"] >= since).to_numpy()
    ended = held[(held["outcome"] != "") & ((held["settled_in"] >= since) | (held["settled_in"] == 0))]
    sheets = pd.MultiIndex.from_frame(waiting[_SHEET])
    arrived = ~fresh & sheets.isin(changed.sheets | set(sheets[fresh]))
    # Of its sheet a judge sees the lines that were dismissed too: one may say what a color means.
    of_sheet = arrived | sheets.isin(pd.MultiIndex.from_frame(ended[_SHEET]))
    of_place = about["point"].isin(set(_about(ended, after["wear_points"])["point"]) - {""})
    hit = [
        mate or _is_hit(row, changed, today, fresh=bool(new), beside_ended=bool(there))
        for row, new, mate, there in zip(about.to_dict("records"), fresh, of_sheet, of_place, strict=True)
    ]
    said_again = _said_again(about, fresh)
    chosen, beside = _with_neighbours(about, pd.Series(hit, waiting.index, dtype=bool) | said_again)
    return waiting.assign(**{ONLY_SEEN: beside})[chosen | beside]


def _about(waiting: pd.DataFrame, points: pd.DataFrame) -> pd.DataFrame:
    """What the rows that wait speak of: table, file, sheet; point and vehicle (empty: not known), bare (its
    point lacks new value or limit), waits (set of pairs: column of a reason, and what it waits for)."""
    known = by_point(points)
    bare = known[["new_value", "condemning_limit"]].isna().any(axis=1)
    cells = [json.loads(raw) for raw in waiting["raw"]]
    out = waiting[_SHEET].copy()
    named = pd.Series([row.get("point", "").strip() for row in cells], waiting.index, dtype="str")
    out["point"] = named.where(named.isin(known.index), "")
    vehicle = pd.Series([row.get("vehicle", "").strip() for row in cells], waiting.index, dtype="str")
    of = named.map(known["vehicle"]).astype(object).fillna("")
    out["vehicle"] = vehicle.where((named == "") & vehicle.isin(known["vehicle"]), of)
    out["bare"] = named.map(bare).astype(object).fillna(True)
    # Where new value or limit lack, a reading of any value may change what a cell is taken for.
    by_value = (out["point"] != "") & ~out["bare"].astype(bool)
    waits = [
        {
            (reason["column"], _waits_for(reason, by_value=bool(told)), bool(reason.get("question")))
            for reason in json.loads(text)
        }
        for text, told in zip(waiting["reasons"], by_value, strict=True)
    ]
    out["waits"] = pd.Series(waits, waiting.index, dtype=object)
    return out


def _waits_for(reason: Mapping[str, str], *, by_value: bool) -> str:
    """What a reason waits for; of the wear point alone, unless its rows are told apart by their values."""
    what = reason.get("waits", "")
    if by_value:
        return what
    return "" if what == ASKED else what if value_at_point(what) is None else POINT


def _is_hit(
    row: Mapping[Hashable, Any], changed: Changed, today: str, *, fresh: bool, beside_ended: bool
) -> bool:
    """Whether all reasons of a row may have fallen, or a question. `beside_ended`: some there do not wait."""
    may_fall = {
        asked: [
            (beside_ended and value_at_point(what) is None)
            or _may_fall(column, what, row, changed, today, fresh=fresh)
            for column, what, is_question in row["waits"]
            if is_question == asked
        ]
        for asked in (True, False)
    }
    return any(may_fall[True]) or all(may_fall[True] + may_fall[False])


def _may_fall(
    column: str, what: str, row: Mapping[Hashable, object], changed: Changed, today: str, *, fresh: bool
) -> bool:
    """Whether a reason of a row may have fallen; `fresh`: it was held back by the batch before."""
    table, point, vehicle = str(row["table_name"]), str(row["point"]), str(row["vehicle"])
    if what == CELLS:
        return False
    if what.startswith(UNTIL):
        return what.removeprefix(UNTIL) <= today
    if what == NAMES:
        return bool(changed.tables & _NAMED_IN.get(column, _NAMING))
    value = value_at_point(what)
    if changed.tables & _NAMING or changed.of_vehicle(vehicle, _LOG):
        return True
    if value is not None:
        return changed.may_let_go(point, value)
    if fresh and what != POINT:
        return True
    if table not in _OF_POINTS:
        return table in changed.tables or (what != POINT and bool(changed.tables))
    if what in (POINT, ASKED):
        return changed.at_point(point, {table, "work"})
    of_family = bool(row["bare"]) and "readings" in changed.tables
    return of_family or changed.of_vehicle(vehicle, _OF_POINTS | _BESIDE)


def _said_again(about: pd.DataFrame, fresh: npt.NDArray[np.bool_]) -> pd.Series:
    """Rows of one wear point and value of which one has just come: one may say all that the other does."""
    values = [
        {value for _, what, _ in row if (value := value_at_point(what)) is not None} for row in about["waits"]
    ]
    said = pd.Series(
        [
            (point, *sorted(each)) if each else None
            for point, each in zip(about["point"], values, strict=True)
        ],
        about.index,
        dtype=object,
    )
    return said.notna() & said.isin(said[fresh].dropna().tolist()) & said.duplicated(keep=False)


def _with_neighbours(about: pd.DataFrame, hit: pd.Series) -> tuple[pd.Series, pd.Series]:
    """The rows that are touched with all that their judges see beside them, and rows that are only seen.

    Only seen are those of which nothing was asked, and that wait for something at their wear point.
    """
    waits = [{what for _, what, _ in row} for row in about["waits"]]
    seen = pd.Series([not {CELLS, NAMES} & row for row in waits], about.index, dtype=bool)
    settled = pd.Series(
        [all(value_at_point(what) is not None for what in row) for row in waits], about.index, dtype=bool
    )
    sheet = about.groupby(_SHEET, sort=False).ngroup()
    place = about["point"].where(about["table_name"].isin(_OF_POINTS), about["vehicle"])
    place = about["table_name"] + ": " + place.astype("str")
    whole = about["table_name"].isin(about.loc[hit & ~about["table_name"].isin(_OF_POINTS), "table_name"])
    chosen = hit | whole
    while True:
        chosen = sheet.isin(sheet[chosen])
        beside = seen & place.isin(place[chosen & seen])
        more = chosen | (beside & ~settled)
        if more.equals(chosen):
            return chosen, beside & ~chosen
        chosen = more
