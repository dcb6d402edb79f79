"""Which part was fitted where, from when until when: what fittings say, and part numbers told with readings
and work where no fitting does."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.catalogue import kind_of_part
from ingest.catalogue.belongs import position_of_part
from ingest.names.positions import canonical

Floats = NDArray[np.float64]

COLUMNS = ["part_no", "kind", "vehicle", "position", "since", "until", "why", "told"]
ALWAYS, OPEN = -np.inf, np.inf
"""Since before the record; still so."""


def stints_of(tables: dict[str, pd.DataFrame], as_of: pd.Timestamp | None = None) -> pd.DataFrame:
    """Times that parts spent at one place, and on the spares rack.

    Parameters
    ----------
    tables : parts, fittings, wear_points, work; ``told`` (point, date, part_no), the readings that name a
        part. Each may be missing.
    as_of : day up to which the tables are believed; None: all of them.

    Returns
    -------
    ``COLUMNS``, a row a time, in order of part and day: part_no, kind
    (:func:`ingest.catalogue.kind_of_part`), vehicle (empty: on the rack) and canonical position, since and
    until (days since 1970-01-01, ``ALWAYS``, ``OPEN``; the part was there from the first up to before the
    second), why it was taken off, told (by a reading or work, not by a fitting). [d]

    Notes
    -----
    A part is at one place at a time, and a place has one part of a kind: what comes later ends what was
    there. Where a part number is told and no fitting says what is fitted there, the part was there since
    the first such day, the first of its place since ever.
    """
    last = np.inf if as_of is None else _day(as_of)
    kinds = _kinds(tables.get("parts"))
    fitted = _fitted(tables.get("fittings"), kinds)
    told = _told(tables, kinds, fitted)
    every = pd.concat([fitted, told], ignore_index=True)
    every = every[every["since"] <= last].reset_index(drop=True)
    every["until"] = every["until"].where(every["until"] <= last, OPEN)
    for by in (["part_no"], ["vehicle", "position", "kind"]):
        every = _one_at_a_time(every, by)
    return every.sort_values(["part_no", "since"], kind="stable", ignore_index=True)[COLUMNS]


def _kinds(parts: pd.DataFrame | None) -> dict[str, str]:
    """Kind of each part that has a row."""
    if parts is None:
        return {}
    return {
        str(number): kind_of_part(str(component))[0]
        for number, component in zip(parts["part_no"], parts["component"], strict=True)
    }


def _day(date: pd.Timestamp) -> float:
    return float(np.datetime64(date, "D").astype(np.int64))


def _days(dates: pd.Series, empty: float) -> Floats:
    day = dates.to_numpy().astype("datetime64[D]")
    return np.where(np.isnat(day), empty, day.astype(np.int64).astype(float))


def _fitted(fittings: pd.DataFrame | None, kinds: dict[str, str]) -> pd.DataFrame:
    """Stints as the table has them."""
    if fittings is None or fittings.empty:
        return pd.DataFrame({name: pd.Series(dtype=object) for name in COLUMNS}).astype(
            {"since": float, "until": float, "told": bool}
        )
    text = {name: fittings[name].fillna("").astype(str) for name in ("part_no", "vehicle", "position", "why")}
    return pd.DataFrame(
        {
            **text,
            "kind": text["part_no"].map(kinds).astype(object).fillna(""),
            "position": [canonical(position) for position in text["position"]],
            "since": _days(fittings["since"], ALWAYS),
            "until": _days(fittings["until"], OPEN),
            "told": False,
        }
    )[COLUMNS]


def _told(tables: dict[str, pd.DataFrame], kinds: dict[str, str], fitted: pd.DataFrame) -> pd.DataFrame:
    """Stints from part numbers told with readings and work, at places of which no fitting speaks."""
    rows = _rows_told(tables)
    rows["kind"] = rows["part_no"].map(kinds).astype(object).fillna("")
    points = tables["wear_points"].drop_duplicates("point", keep="last").set_index("point")
    rows = rows[rows["point"].isin(points.index) & (rows["kind"] != "")]
    if rows.empty:
        return fitted.iloc[:0]
    about = points.loc[rows["point"], ["vehicle", "position"]].astype(str)
    rows = rows.assign(
        vehicle=about["vehicle"].to_numpy(),
        position=[
            position_of_part(position, kind)
            for position, kind in zip(about["position"], rows["kind"], strict=True)
        ],
    )
    spoken = set(zip(fitted["vehicle"], fitted["position"], fitted["kind"], strict=True))
    place = ["vehicle", "position", "kind"]
    free = [key not in spoken for key in zip(*(rows[name] for name in place), strict=True)]
    rows = rows[free].sort_values([*place, "since", "part_no"], kind="stable", ignore_index=True)
    first = ~rows.duplicated(place)
    again = ~first & (rows["part_no"] == rows["part_no"].shift())
    known = rows.groupby("part_no")["since"].transform("min") == rows["since"]
    rows["since"] = rows["since"].where(~(first & known & ~rows["fitted"]), ALWAYS)
    return rows[~again].assign(until=OPEN, why="", told=True)[COLUMNS]


def _rows_told(tables: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """Part numbers told: point, part_no, since (the day), fitted (work that put it there)."""
    readings, work = tables.get("told", tables.get("readings")), tables.get("work")
    parts = [pd.DataFrame({"point": [], "part_no": [], "since": [], "fitted": []}, dtype=object)]
    for rows, fitted in ((readings, False), (work, True)):
        if rows is None or "part_no" not in rows:
            continue
        named = rows[rows["part_no"].fillna("").astype(str) != ""]
        parts.append(
            pd.DataFrame(
                {
                    "point": named["point"].astype(str).to_numpy(dtype=object),
                    "part_no": named["part_no"].astype(str).to_numpy(dtype=object),
                    "since": _days(named["date"], np.nan),
                    "fitted": (named["action"] == "renewed").to_numpy() if fitted else False,
                }
            )
        )
    every = pd.concat(parts, ignore_index=True)
    return every.assign(since=every["since"].astype(float), fitted=every["fitted"].astype(bool)).dropna()


def _one_at_a_time(stints: pd.DataFrame, by: list[str]) -> pd.DataFrame:
    """Each stint ends where the next of its part, or of its place, begins; those that last no day are left
    out."""
    placed = stints["vehicle"] != "" if "vehicle" in by else pd.Series(True, stints.index)
    some = stints[placed].sort_values([*by, "since"], kind="stable")
    following = some.groupby(by, sort=False)["since"].shift(-1)
    until = stints["until"].copy()
    until.loc[some.index] = np.fmin(some["until"], following.fillna(OPEN))
    ended = stints.assign(until=until)
    return ended[(ended["until"] > ended["since"])].reset_index(drop=True)
