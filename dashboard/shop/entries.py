"""Findings and measurements of an opening as people enter them, on a page or at the command line."""

from collections.abc import Hashable, Mapping, Sequence
from typing import Any

import pandas as pd

from dashboard.shop.openings import record, taken
from dashboard.shop.photos import Photo, row_of_photo
from ingest.errors import WrongUsage
from ingest.notation.values import parse_values
from ingest.store import Store
from ingest.verdicts.report import AddReport

Opening = Mapping[Hashable, Any]


def store_finding(
    store: Store, opening: Opening, row: Mapping[str, object], photo: Photo | None = None, *, who: str = ""
) -> AddReport:
    """One part examined: a row of ``defects``, and its picture.

    Parameters
    ----------
    row : component, date, and what was told of position, part_no, defect, place, method, size (with its
        unit), verdict, watch_until, note. The same part, defect and place told again takes the other's place.

    Raises
    ------
    WrongUsage : the size is no length. NotPossible : the row was held back.
    """
    told = {"vehicle": opening["vehicle"], "opening": opening["opening"], "found_by": who, **row}
    told.setdefault("defect", "nothing found")
    told |= _size(str(told.get("size", "")), str(told.get("unit", "")))
    sheets: dict[str, Sequence[Mapping[str, object]]] = {}
    if photo is not None:
        names = ("vehicle", "component", "position", "part_no", "opening", "date")
        about = {name: told.get(name, "") for name in names}
        picture = row_of_photo(photo, about, who)
        told["picture"] = picture["picture"]
        sheets["pictures"] = [picture]
    pictures = () if photo is None else (photo.content,)
    return taken(record(store, {**sheets, "defects": [told]}, who, pictures))


def _size(text: str, unit: str) -> dict[str, str]:
    """Size and unit of what was typed: ``3/4 in``, ``12 mm``."""
    if not text.strip():
        return {"size": "", "unit": ""}
    read = parse_values(pd.Series([text], dtype="str"), unit or "in").iloc[0]
    if read["problem"]:
        raise WrongUsage(f"Size: {read['problem']}. Expected a length such as 3/4 in or 12 mm.")
    return {"size": f"{float(read['value']):.6g}", "unit": str(read["unit"]) or unit or "in"}


def store_left(
    store: Store, opening: Opening, rows: Sequence[Mapping[str, object]], *, who: str = ""
) -> AddReport:
    """Measurements of an opening: rows of ``readings``, each with found_or_left.

    Raises
    ------
    NotPossible : a row was held back.
    """
    told = [{"opening": opening["opening"], "observer": who, **row} for row in rows]
    return taken(record(store, {"readings": told}, who))


def store_line(store: Store, opening: Opening, row: Mapping[str, object], *, who: str = "") -> AddReport:
    """A line of the scope: added, or one of plan or findings told to be done, dropped, ordered, quoted.

    Raises
    ------
    NotPossible : the row was held back.
    """
    told = {"opening": opening["opening"], "who": who, "state": "open", **row}
    return taken(record(store, {"scope_lines": [told]}, who))


def store_event(store: Store, row: Mapping[str, object], *, who: str = "") -> AddReport:
    """What befell a vehicle or a part of it: vehicle, date, event, and component, point, note where told.

    Raises
    ------
    NotPossible : the row was held back.
    """
    return taken(record(store, {"events": [row]}, who))
