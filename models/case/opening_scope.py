"""The scope of an engine that lies open: planned, found, added, dropped and done lines as one list."""

import numpy as np
import pandas as pd

from models.plan.jobs import kind_of_action

COLUMNS = [
    "component", "action", "position", "parts", "origin", "state", "cost", "currency", "labor_hours", "trade",
    "ordered", "date", "who", "note", "point",
]  # fmt: skip
PLANNED, FOUND, ADDED = "planned", "found", "added"
OPEN, DONE, DROPPED = "open", "done", "dropped"
ACTION_OF = {"renew": "renewed", "repair": "repaired"}
"""What a verdict asks for."""


def scope_of_opening(planned: pd.DataFrame, defects: pd.DataFrame, told: pd.DataFrame) -> pd.DataFrame:
    """All lines of an opening, each once.

    Parameters
    ----------
    planned : lines of the plan's window: component, action, position (several with commas), parts, point.
    defects : located defects of the opening: component, position, part_no, place, defect, verdict, date.
    told : rows of ``scope_lines`` of the opening.

    Returns
    -------
    ``COLUMNS``, in the order planned, found, added. A told line is the same as a planned or found one of that
    component, action and position, and says where that stands. A defect to be repaired or renewed is a line
    of its own unless a planned line renews that very part.
    """
    lines = [_from_plan(planned), _from_defects(defects, planned)]
    base = pd.concat([part for part in lines if len(part)] or lines[:1], ignore_index=True)
    own = told.reindex(columns=COLUMNS).assign(key=_key(told))
    base = base.assign(key=_key(base))
    base = base.drop_duplicates("key")
    same = own[own["key"].isin(base["key"])].set_index("key")
    for key, row in same.iterrows():
        at = base.index[base["key"] == key][0]
        for name in ("state", "cost", "currency", "labor_hours", "trade", "ordered", "date", "who", "note"):
            if pd.notna(row[name]) and row[name] != "":
                base.loc[at, name] = row[name]
        if pd.notna(row["parts"]):
            base.loc[at, "parts"] = row["parts"]
    fresh = own[~own["key"].isin(base["key"])]
    fresh = fresh.assign(point="", parts=fresh["parts"].fillna(fresh["position"].map(_count)))
    whole = pd.concat([part for part in (base, fresh) if len(part)] or [base], ignore_index=True)
    rank = whole["origin"].map({PLANNED: 0, FOUND: 1, ADDED: 2})
    order = np.lexsort((np.arange(len(whole)), rank))
    return whole.iloc[order][COLUMNS].reset_index(drop=True)


def done_by_work(scope: pd.DataFrame, work: pd.DataFrame) -> pd.DataFrame:
    """The same lines, those done that the work on record carries out.

    Parameters
    ----------
    scope : as :func:`scope_of_opening` gives it. work : of the opening: component, position, action, date.

    Notes
    -----
    A line is done where work of its kind, or a renewal, is on record at each of its positions, unless it was
    found or told to be open on a later day.
    """
    on: dict[tuple[str, str], list[tuple[str, pd.Timestamp]]] = {}
    for row in work.to_dict("records"):
        place = (_plain(row["component"]), _plain(row["position"]))
        on.setdefault(place, []).append((kind_of_action(row["action"]), row["date"]))
    done = []
    for row in scope.to_dict("records"):
        wanted = {kind_of_action(row["action"]), "renewed"}
        places = [(_plain(row["component"]), _plain(place)) for place in str(row["position"]).split(",")]
        days = [[day for kind, day in on.get(place, []) if kind in wanted] for place in places]
        last = max((max(each) for each in days), default=None) if all(days) else None
        later = last is not None and pd.notna(row["date"]) and row["date"] > last
        done.append(row["state"] == OPEN and last is not None and not later)
    return scope.assign(state=scope["state"].mask(np.array(done, dtype=bool), DONE))


def _from_plan(planned: pd.DataFrame) -> pd.DataFrame:
    return _lines(
        planned[["component", "action", "position", "parts", "point"]].assign(origin=PLANNED, note="")
    )


def _from_defects(defects: pd.DataFrame, planned: pd.DataFrame) -> pd.DataFrame:
    """One line for each part that must be repaired or renewed; the heavier verdict of several counts."""
    rows = defects[defects["verdict"].isin(list(ACTION_OF))]
    where = rows["position"].where(rows["position"] != "", rows["part_no"])
    note = (rows["defect"] + ", " + rows["place"]).str.removesuffix(", ")
    rows = rows.assign(position=where, note=note, action=rows["verdict"].map(ACTION_OF))
    # "renewed" comes before "repaired": the heavier verdict is the one that is kept.
    rows = rows.sort_values(["action", "date"], kind="stable").drop_duplicates(["component", "position"])
    rows = rows.sort_values("date", kind="stable")
    renews = [kind_of_action(action) == "renewed" for action in planned["action"]]
    renewed = planned[np.array(renews, dtype=bool)]
    in_plan = {
        (_plain(name), place.strip().lower())
        for name, places in zip(renewed["component"], renewed["position"], strict=True)
        for place in str(places).split(",")
    }
    own = [
        (_plain(name), str(place).strip().lower()) not in in_plan
        for name, place in zip(rows["component"], rows["position"], strict=True)
    ]
    chosen = rows[np.array(own, dtype=bool)]
    return _lines(chosen[["component", "action", "position", "date", "note"]].assign(parts=1.0, origin=FOUND))


def _lines(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows as open lines with all columns."""
    out = rows.reindex(columns=COLUMNS)
    texts = ["currency", "trade", "who"]
    out[texts] = ""
    out["point"] = out["point"].astype(object).fillna("")
    out["state"] = OPEN
    out["date"], out["ordered"] = (pd.to_datetime(out[name]) for name in ("date", "ordered"))
    return out.astype({"cost": float, "labor_hours": float, "parts": float, "note": object})


def _key(rows: pd.DataFrame) -> pd.Series:
    parts = (rows[name].astype(str).str.strip().str.lower() for name in ("component", "action", "position"))
    component, action, position = parts
    return component + "|" + action + "|" + position


def _count(positions: object) -> float:
    return float(max(len([place for place in str(positions).split(",") if place.strip()]), 1))


def _plain(name: object) -> str:
    return str(name).strip().lower()
