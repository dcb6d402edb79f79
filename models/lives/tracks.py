"""What is measured on one part, over all its places: a track. Who fills each wear point when, and how its
miles are told there.

Every wear point shows the track of the part that is fitted now. The tracks of all other parts, those on the
spares rack and those that nobody named, get a row of their own after the wear points of the store.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.catalogue import feature_of, goes_with
from ingest.names.positions import read_position
from models.lives.record import MileageLogs
from models.lives.stints import ALWAYS, OPEN

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SPELL_COLUMNS = ["row", "track", "part_no", "since", "until", "why", "told"]
UNNAMED = ""
NEW_AT_MILES = 1.0
"""A vehicle whose log begins at no more than this was new then, and so were its parts. [mi]"""


def spells_of(points: pd.DataFrame, stints: pd.DataFrame, marked: dict[str, Floats]) -> pd.DataFrame:
    """Who filled each wear point when, those of which no part is named left out.

    Parameters
    ----------
    points : wear_points.
    stints : as :func:`models.lives.stints.stints_of` gives them.
    marked : days on which something is on record of a wear point. [d]

    Returns
    -------
    ``SPELL_COLUMNS`` in order of wear point and day: row of the wear point, name of the track, its part
    (``UNNAMED`` where none is told), from when until when, why it went, told as in ``stints``.
    """
    named = _named(points, stints)
    rows: list[tuple[object, ...]] = []
    names = points["point"].astype(str).tolist()
    for row, own in named.groupby("row", sort=True):
        days = marked.get(names[int(str(row))], np.empty(0))
        rows += _filled(int(str(row)), own.sort_values("since", kind="stable"), days)
    spells = pd.DataFrame(rows, columns=SPELL_COLUMNS)
    return spells.astype({"row": np.int64, "since": float, "until": float, "told": bool})


def _named(points: pd.DataFrame, stints: pd.DataFrame) -> pd.DataFrame:
    """Wear points at which each stint put a part: ``SPELL_COLUMNS``."""
    by_vehicle = {str(name): rows for name, rows in points.reset_index(drop=True).groupby("vehicle")}
    rows = []
    for stint in stints.to_dict("records"):
        own = by_vehicle.get(str(stint["vehicle"]))
        if own is None or not stint["kind"]:
            continue
        for row, feature in _features(own, str(stint["position"]), str(stint["kind"])):
            track = f"{stint['part_no']}\x1f{feature}"
            rows.append((row, track, *(stint[name] for name in SPELL_COLUMNS[2:])))
    return pd.DataFrame(rows, columns=SPELL_COLUMNS)


def _features(points: pd.DataFrame, position: str, kind: str) -> list[tuple[int, str]]:
    """Row of each wear point that goes with a part fitted at a position, and what it measures on the part."""
    at, found = read_position(position), []
    seen: dict[str, int] = {}
    cells = (points[name].astype(str) for name in ("component", "position", "quantity", "base_unit"))
    for row, component, where, quantity, unit in zip(points.index, *cells, strict=True):
        if goes_with(kind, component, quantity) != "part":
            continue
        place = read_position(where)
        if where != position and (at is None or place is None or not at.covers(place)):
            continue
        side = place.side if place is not None and at is not None and not at.side else ""
        feature = "\x1f".join((*feature_of(component, quantity), unit, side))
        seen[feature] = seen.get(feature, -1) + 1  # front and back hanger pins, in the order of the sheet
        found.append((int(row), f"{feature}\x1f{seen[feature]}"))
    return found


def _filled(row: int, own: pd.DataFrame, days: Floats) -> list[tuple[object, ...]]:
    """The spells of a wear point, with those of parts that nobody named between them."""
    spells: list[tuple[object, ...]] = []
    until = ALWAYS

    def unnamed(since: float, end: float) -> None:
        if end == OPEN or ((days >= since) & (days < end)).any():
            spells.append((row, f"\x1f{row}\x1f{since:.0f}", UNNAMED, since, end, "", False))

    for spell in own.to_dict("records"):
        if spell["since"] > until:
            unnamed(until, spell["since"])
        spells.append(tuple(spell[name] for name in SPELL_COLUMNS))
        until = float(spell["until"])
    if until < OPEN:
        unnamed(until, OPEN)
    return spells


@dataclass(frozen=True)
class Tracks:
    """Tracks and spells in numbers.

    Attributes
    ----------
    spells : as :func:`spells_of` gives them, and ``target`` (row of its track: that of a wear point, or after
        them), ``shift`` (miles to be added to an odometer of its vehicle, so that the track goes on without a
        break to its last place [mi]).
    about : a row a track, by target: row (of the wear point where it is or was last), part_no, began_day,
        began_odometer (NaN: as the log has it), new_then, gone_day, gone_odometer (NaN: it is fitted), worn
        (1, 0, NaN: as told), spare.
    """

    spells: pd.DataFrame
    about: pd.DataFrame


def tracks_of(
    spells: pd.DataFrame,
    vehicle: Ints,
    logs: MileageLogs,
    as_of_odometer: Floats,
    spares: set[str],
    new: dict[str, float],
) -> Tracks:
    """Tracks of the spells.

    Parameters
    ----------
    vehicle : shape (points,). Number of each wear point's vehicle in the logs.
    as_of_odometer : shape (vehicles,). [mi]
    spares : parts on the rack.
    new : day of the fitting at which what a track measures was new. [d]
    """
    spells = spells.assign(target=-1, shift=0.0)
    number, about = len(vehicle), []
    for _, own in spells.sort_values(["track", "since"], kind="stable").groupby("track", sort=False):
        last = own.iloc[-1]
        fitted, spare = last["until"] == OPEN, str(last["part_no"]) in spares
        target = int(last["row"]) if fitted else number
        number += not fitted
        shift = _shifts(own, vehicle, logs, as_of_odometer if spare else None)
        spells.loc[own.index, "target"] = target
        spells.loc[own.index, "shift"] = shift
        about.append(_about(own, target, shift, vehicle, logs, spare=spare, new=new))
    return Tracks(spells, pd.DataFrame(about).sort_values("target", ignore_index=True))


def _odometer(logs: MileageLogs, vehicle: int, day: float) -> float:
    return float(logs.at(np.array([vehicle]), np.array([day]))[0])


def _shifts(own: pd.DataFrame, vehicle: Ints, logs: MileageLogs, now: Floats | None) -> list[float]:
    """Shift of each spell of a track; ``now``: of a part on the rack, which stands still while its vehicle
    runs."""
    spells = own.to_dict("records")
    last = int(vehicle[spells[-1]["row"]])
    shift = 0.0 if now is None else float(now[last]) - _odometer(logs, last, spells[-1]["until"])
    shifts = [shift]
    for before, after in zip(spells[-2::-1], spells[:0:-1], strict=True):
        came = _odometer(logs, int(vehicle[after["row"]]), after["since"])
        shift += came - _odometer(logs, int(vehicle[before["row"]]), before["until"])
        shifts.append(shift)
    return shifts[::-1]


def _about(
    own: pd.DataFrame,
    target: int,
    shift: list[float],
    vehicle: Ints,
    logs: MileageLogs,
    *,
    spare: bool,
    new: dict[str, float],
) -> dict[str, object]:
    """What is kept of a track."""
    first, last = own.iloc[0], own.iloc[-1]
    began, ended = int(vehicle[int(first["row"])]), int(vehicle[int(last["row"])])
    came = float(first["since"])
    with_log = came == ALWAYS or came <= logs.first_day[began]
    day = float(logs.first_day[began]) if with_log else came
    new_then = bool(logs.first[began] <= NEW_AT_MILES) if with_log else new.get(str(first["track"])) == came
    gone = last["until"] < OPEN and not spare
    why = str(last["why"])
    worn = np.nan if not why else float(why == "worn")
    return {
        "target": target,
        "row": int(last["row"]),
        "part_no": str(first["part_no"]),
        # As the log has it, where the part was there when the log began and stayed on its vehicle.
        "began_day": np.nan if with_log and shift[0] == 0.0 else day,
        "began_odometer": np.nan if with_log and shift[0] == 0.0 else _odometer(logs, began, day) + shift[0],
        "new_then": new_then,
        "gone_day": float(last["until"]) if gone else np.nan,
        "gone_odometer": _odometer(logs, ended, float(last["until"])) if gone else np.nan,
        "worn": worn if gone else np.nan,
        "spare": spare,
    }
