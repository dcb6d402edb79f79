"""Openings of engines: begun, found again, closed. Everything goes in as rows of sheets do."""

import tempfile
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pandas as pd

from ingest.errors import NotPossible, WrongUsage
from ingest.neutral import quoted
from ingest.schema import TABLES
from ingest.store import Store
from ingest.verdicts.add import add_rows
from ingest.verdicts.handed_in import read_files
from ingest.verdicts.report import ACCEPTED, HELD_BACK, AddReport
from models.checks.opened import of_opening

Row = Mapping[str, object]


def openings_of(store: Store, version: int | None = None) -> pd.DataFrame:
    """All openings, the last first: the columns of the table, ``defects`` (parts examined) and ``measured``
    (wear points read in its days or for it)."""
    tables = store.read_all("openings", "defects", "readings", "wear_points", version=version)
    openings = tables["openings"].sort_values(["since", "opening"], ascending=[False, True], kind="stable")
    examined = tables["defects"].groupby("opening").size().reindex(openings["opening"]).fillna(0)
    points = tables["wear_points"]
    own = {vehicle: set(rows["point"]) for vehicle, rows in points.groupby("vehicle")}
    measured = [
        of_opening(tables["readings"], own.get(row["vehicle"], set()), row)["point"].nunique()
        for row in openings.to_dict("records")
    ]
    return openings.assign(defects=examined.to_numpy(int), measured=measured).reset_index(drop=True)


def find_opening(openings: pd.DataFrame, wanted: str) -> dict[Hashable, Any]:
    """The opening of that name; where the name is a vehicle's, its last one.

    Raises
    ------
    WrongUsage : there is no such opening.
    """
    found = openings[openings["opening"] == wanted]
    if found.empty:
        found = openings[openings["vehicle"] == wanted].sort_values("since", kind="stable").tail(1)
    if found.empty:
        known = ", ".join(openings["opening"].head(20)) or "none yet; begin one: `milesleft opening begin`"
        raise WrongUsage(f"Opening {quoted(wanted)}: the store holds none of this name. It holds: {known}.")
    return dict(found.to_dict("records")[0])


def begin(
    store: Store,
    vehicle: str,
    since: date,
    *,
    name: str = "",
    depth: str = "",
    place: str = "",
    plan_line: str = "",
    note: str = "",
    who: str = "",
) -> str:
    """Open an engine; the name of the opening, made of vehicle and month where none is given.

    Raises
    ------
    NotPossible : the vehicle lies open already, or the row was held back.
    """
    held = openings_of(store)
    still = held[(held["vehicle"] == vehicle) & held["until"].isna()]
    if len(still):
        raise NotPossible(
            f"{vehicle} lies open since {still['since'].iloc[0]:%Y-%m-%d} ({still['opening'].iloc[0]}). "
            "Close that opening first."
        )
    chosen = name.strip() or f"{vehicle} {since:%Y-%m}"
    if chosen in set(held["opening"]):
        raise NotPossible(f"An opening is called {quoted(chosen)} already. Give this one another name.")
    row = {
        "opening": chosen,
        "vehicle": vehicle,
        "since": since,
        "depth": depth,
        "place": place,
        "plan_line": plan_line,
        "note": note,
    }
    taken(record(store, {"openings": [row]}, who))
    return chosen


def close(store: Store, opening: Mapping[Hashable, Any], until: date, *, who: str = "") -> None:
    """The last day of an opening.

    Raises
    ------
    NotPossible : the day lies before the first, or the row was held back.
    """
    names = TABLES["openings"].public
    row = {str(name): _written(opening[name]) for name in names} | {"until": until}
    taken(record(store, {"openings": [row]}, who))


def record(
    store: Store, sheets: Mapping[str, Sequence[Row]], who: str = "", pictures: Sequence[bytes] = ()
) -> AddReport:
    """Rows of tables into the store as one batch, judged as those of any file.

    Parameters
    ----------
    sheets : table -> rows, column -> what was typed; a date may be one.
    pictures : content of those that the rows name, stored with them or not at all.
    """
    moment = datetime.now(UTC)
    with tempfile.TemporaryDirectory(prefix="milesleft-") as folder:
        paths = []
        for table, rows in sheets.items():
            if not rows:
                continue
            frame = pd.DataFrame([dict(row) for row in rows])
            frame = frame[[name for name in TABLES[table].public if name in frame]]
            path = Path(folder) / f"opening-{moment:%Y%m%d-%H%M%S}-{table}.csv"
            frame.map(_written).to_csv(path, index=False)
            paths.append(path)
        return add_rows(store, replace(read_files(paths), pictures=tuple(pictures)), who=who)


def taken(report: AddReport) -> AddReport:
    """The report, where everything was taken.

    Raises
    ------
    NotPossible : a row was held back; it waits with the others and the message says why.
    """
    if report.count(HELD_BACK):
        reasons = "; ".join(dict.fromkeys(str(text) for text in report.held_back["reasons"]))
        raise NotPossible(f"Held back: {reasons}. It waits under the rows held back.")
    return report


def stored(report: AddReport) -> bool:
    """Whether anything new was stored."""
    return report.count(ACCEPTED) > 0


def _written(value: object) -> str:
    """A cell as a sheet has it."""
    if value is None or (not isinstance(value, str) and bool(pd.isna(value))):  # type: ignore[call-overload]
        return ""
    return f"{value:%Y-%m-%d}" if isinstance(value, date) else str(value)
