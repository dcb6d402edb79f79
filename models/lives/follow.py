"""Tables in which every wear point shows the part that is fitted now, wherever it was before.

Readings and work of a part that came from elsewhere are put at the place where it is now, with the odometer
that goes on there without a break. Those of parts that went get rows of their own, after the wear points of
the store. Where nobody named a part, or no part moved, the tables stay as they are.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.lives.moved_rows import SHOP_MARKS, Moving
from models.lives.record import SAME_DAY, as_of_of_vehicles, mileage_logs
from models.lives.stints import stints_of
from models.lives.tracks import Tracks, spells_of, tracks_of

Floats = NDArray[np.float64]
Tables = dict[str, pd.DataFrame]

TRACKS = "tracks"
"""Table that :func:`follow_parts` adds."""


def follow_parts(tables: Tables, as_of: pd.Timestamp | None = None) -> Tables:
    """The tables with every wear point's readings and work those of the part fitted now.

    Parameters
    ----------
    tables : wear_points, mileage, readings, work; parts, fittings and ``told`` (point, date, part_no,
        found_or_left, row_id of readings) where there are any.
    as_of : day up to which the tables are believed; None: all of them.

    Returns
    -------
    The same tables where no part moved. Else ``wear_points`` with a row after the others for each track whose
    part is fitted nowhere; ``readings`` (as many, in the same order) with point, odometer and ``moved``;
    ``work`` with point and odometer; ``tracks`` (:class:`models.lives.tracks.Tracks`); ``shop_marks`` (point,
    day, odometer, value: measured when parts were exchanged).
    """
    if TRACKS in tables:
        return tables
    stints = stints_of(tables, as_of)
    if stints.empty:
        return tables
    points = tables["wear_points"].reset_index(drop=True)
    spells = spells_of(points, stints, _marked(tables, points, stints))
    if spells.empty:  # all that is told lies on the rack and was never fitted
        return tables
    vehicles = pd.Index(pd.unique(points["vehicle"]))
    vehicle = vehicles.get_indexer(pd.Index(points["vehicle"])).astype(np.int64)
    logs = mileage_logs(tables["mileage"], vehicles)
    now = as_of_of_vehicles(tables, vehicles, vehicle, as_of)[1]
    tracks = tracks_of(spells, vehicle, logs, now, spares_of(stints), _new(tables, stints, spells))
    if _as_they_are(tracks):
        return tables
    return _moved(Moving(tables, points, logs, vehicle, tracks))


def own_points(tables: Tables) -> int:
    """How many wear points of the store there are among those of followed tables: the first ones."""
    if TRACKS not in tables:
        return len(tables["wear_points"])
    return int(len(tables["wear_points"]) - (tables[TRACKS]["target"] != tables[TRACKS]["row"]).sum())


def of_fitted(tables: Tables, as_of: pd.Timestamp | None = None) -> Tables:
    """The tables as those see them who ask what is fitted now: the store's wear points, each with the
    readings and the work of its present part alone, and nothing left of where parts were."""
    followed = follow_parts(tables, as_of)
    tables = {name: table for name, table in tables.items() if name not in ("parts", "fittings", "told")}
    if TRACKS not in followed:
        return tables
    points = followed["wear_points"].iloc[: own_points(followed)]
    kept = {
        name: followed[name][followed[name]["point"].isin(points["point"])].reset_index(drop=True)
        for name in ("readings", "work")
        if name in followed
    }
    return tables | kept | {"wear_points": tables["wear_points"]}


def spares_of(stints: pd.DataFrame) -> set[str]:
    """Parts that lie on the spares rack: that is the last that is told of them."""
    last = stints.drop_duplicates("part_no", keep="last")
    return set(last.loc[(last["vehicle"] == "") & np.isinf(last["until"]), "part_no"])


def _as_they_are(tracks: Tracks) -> bool:
    about, spells = tracks.about, tracks.spells
    here = (spells["target"] == spells["row"]).all() and (spells["shift"] == 0.0).all()
    return bool(here and about["began_odometer"].isna().all())


def _marked(tables: Tables, points: pd.DataFrame, stints: pd.DataFrame) -> dict[str, Floats]:
    """Days of readings and work of each wear point of vehicles to which parts were fitted."""
    some = points.loc[points["vehicle"].isin(stints["vehicle"]), "point"]
    rows = [
        tables[name].loc[tables[name]["point"].isin(some), ["point", "date"]] for name in ("readings", "work")
    ]
    every = pd.concat(rows, ignore_index=True).dropna()
    day = every["date"].to_numpy().astype("datetime64[D]").astype(np.int64).astype(float)
    return {str(point): day[index] for point, index in every.groupby("point", sort=False).indices.items()}


def _new(tables: Tables, stints: pd.DataFrame, spells: pd.DataFrame) -> dict[str, float]:
    """Day of the fitting at which what a track measures was new: the part had run nothing before its first
    one, or the work of that day renewed it."""
    parts, work = tables.get("parts"), tables["work"]
    unused = set() if parts is None else set(parts.loc[parts["miles_before"] == 0.0, "part_no"].astype(str))
    first_day = stints[stints["vehicle"] != ""].groupby("part_no")["since"].min().to_dict()
    renewed = work[work["action"] == "renewed"]
    day = renewed["date"].to_numpy().astype("datetime64[D]").astype(np.int64).astype(float)
    done = set(zip(renewed["point"].astype(str), day.tolist(), strict=True))
    names = tables["wear_points"]["point"].astype(str).to_numpy()
    new = {}
    first = spells[np.isfinite(spells["since"])].sort_values("since", kind="stable").drop_duplicates("track")
    for spell in first.to_dict("records"):
        part, since = str(spell["part_no"]), float(spell["since"])
        if (names[spell["row"]], since) in done or (part in unused and first_day[part] == since):
            new[str(spell["track"])] = since
    return new


def _moved(moving: Moving) -> Tables:
    """The tables with what moved at its place; see :func:`follow_parts`."""
    about, own = moving.tracks.about, moving.points
    apart = about[about["target"] >= len(own)]
    name = own["point"].astype(str).to_numpy(dtype=object)
    rows = own.iloc[apart["row"]].copy()
    rows["point"] = [f"{name[row]}\x1f{number}" for number, row in enumerate(apart["row"])]
    points = pd.concat([own, rows], ignore_index=True)
    names = points["point"].to_numpy()
    readings = moving.readings(names)
    work, marks = moving.work(names)
    measured = set(zip(marks["point"], marks["day"], strict=True))
    ends = zip(names[about["target"]], about["gone_day"] - SAME_DAY, strict=True)
    unmeasured = np.array([end not in measured for end in ends], dtype=bool)
    about = about.assign(gone_odometer=about["gone_odometer"].where(unmeasured))
    made = {"wear_points": points, "readings": readings, "work": work, TRACKS: about, SHOP_MARKS: marks}
    return moving.given | made
