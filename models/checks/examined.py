"""What an opening showed: parts examined and found defective, from located defects and from counts.

Two tables speak of it: ``findings`` counts, ``defects`` names each part. Every reader of counts takes them
from :func:`counted`, so that a part that both tables speak of is one part.
"""

from collections.abc import Collection, Hashable
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

COLUMNS = ["vehicle", "date", "component", "examined", "defective", "note"]
RUNS_ON = ("run_on", "watch")
"""Verdicts by which a part stays in service: somebody who may decide has decided."""


def is_sound(defects: pd.DataFrame, nothing: Collection[str]) -> NDArray[np.bool_]:
    """Rows that say that a part was examined and nothing was found.

    Parameters
    ----------
    defects : column defect.
    nothing : words for it (``ingest.catalogue.nothing_found``).
    """
    words = defects["defect"].astype(str).str.strip().str.lower().str.rstrip(".")
    return np.asarray(words.isin(list(nothing)).to_numpy(), dtype=bool)


def examined_in(defects: pd.DataFrame, nothing: Collection[str]) -> pd.DataFrame:
    """Parts examined and found defective in each opening, by component.

    Parameters
    ----------
    defects : opening, vehicle, date, component, position, part_no, defect; rows of no opening are left out. A
        row that names neither position nor number is a part of its own.

    Returns
    -------
    opening, vehicle, component (in lower case), date (the last), examined, defective: several rows of one
    part are one part, defective if any of them says so.
    """
    rows = defects[defects["opening"] != ""]
    part = rows["part_no"].where(rows["part_no"] != "", rows["position"])
    alone = pd.Series([f"row {n}" for n in range(len(rows))], index=rows.index, dtype=object)
    named = pd.DataFrame(
        {
            "opening": rows["opening"],
            "vehicle": rows["vehicle"],
            "component": _plain(rows["component"]),
            "date": rows["date"],
            "part": part.where(part.str.strip() != "", alone).str.strip().str.lower(),
            "bad": ~is_sound(rows, nothing),
        }
    )
    key = ["opening", "vehicle", "component"]
    parts = named.groupby([*key, "part"], sort=True).agg(date=("date", "max"), bad=("bad", "any"))
    counts = parts.groupby(key, sort=True).agg(
        date=("date", "max"), examined=("bad", "size"), defective=("bad", "sum")
    )
    return counts.astype({"examined": float, "defective": float}).reset_index()


def counted(
    findings: pd.DataFrame, defects: pd.DataFrame, openings: pd.DataFrame, nothing: Collection[str]
) -> pd.DataFrame:
    """Tear-downs as counts, located defects included and no part counted twice.

    Parameters
    ----------
    findings : ``COLUMNS``.
    defects : as :func:`examined_in` takes them. openings : opening, vehicle, since, until.

    Returns
    -------
    ``COLUMNS``. Where both tables speak of a component in one opening, the counts and the located parts are
    of the same tear-down: the larger number of each holds.
    """
    located = examined_in(defects, nothing)
    if located.empty:
        return findings
    days = openings.set_index("opening")[["since", "until"]]
    keep, rows = np.ones(len(findings), dtype=bool), []
    component = _plain(findings["component"]).to_numpy()
    for row in located.to_dict("records"):
        same = (findings["vehicle"] == row["vehicle"]).to_numpy() & (component == row["component"])
        same &= _inside(findings["date"], days, str(row["opening"]))
        both = findings[same & keep]
        keep &= ~same
        rows.append(_together(row, both))
    told = pd.DataFrame(rows, columns=COLUMNS)
    kept = findings[keep]
    whole = pd.concat([kept, told], ignore_index=True) if len(kept) else told
    return whole.sort_values(["date", "vehicle", "component"], kind="stable", ignore_index=True)


def as_findings(defects: pd.DataFrame, nothing: Collection[str]) -> pd.DataFrame:
    """Located defects as rows of ``findings``, for the rules that say what a finding condemns.

    A part whose verdict is to run on, or to be watched, is not among them.
    """
    rows = defects[~is_sound(defects, nothing) & ~defects["verdict"].isin(RUNS_ON).to_numpy()]
    note = rows["defect"] + " " + rows["position"] + " " + rows["place"] + " " + rows["note"]
    told = rows[["vehicle", "date", "component"]].assign(examined=1.0, defective=1.0, note=note.str.strip())
    return told[COLUMNS].reset_index(drop=True)


def _inside(dates: pd.Series, days: pd.DataFrame, opening: str) -> NDArray[np.bool_]:
    """Which days lie within an opening; one that is not closed goes on."""
    if opening not in days.index:
        return np.zeros(len(dates), dtype=bool)
    row = days.loc[opening]
    inside = dates >= row["since"]
    if row[["until"]].notna().all():
        inside &= dates <= row["until"]
    return np.asarray(inside.to_numpy(), dtype=np.bool_)


def _together(row: dict[Hashable, Any], both: pd.DataFrame) -> tuple[object, ...]:
    """One tear-down from what was located and the counts of the same opening."""
    examined = max(float(row["examined"]), float(both["examined"].sum()))
    defective = min(max(float(row["defective"]), float(both["defective"].sum())), examined)
    name = both["component"].iloc[0] if len(both) else row["component"]
    note = "; ".join(text for text in both["note"] if text)
    return row["vehicle"], row["date"], name, examined, defective, note


def _plain(names: pd.Series) -> pd.Series:
    return names.astype(str).str.strip().str.lower()
