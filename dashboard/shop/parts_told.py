"""Parts with numbers of their own, from the store: where they are, the spares rack with the miles left in it,
and the rows that tell an exchange or the fitting of a spare."""

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from dashboard.services.kept_plans import fitted_in_force
from dashboard.services.plan_material import TABLES as PLAN_TABLES
from dashboard.services.plan_material import rack_of, spares_of_run
from ingest.catalogue import goes_with, kind_of_part
from ingest.catalogue.belongs import position_of_part
from ingest.errors import WrongUsage
from ingest.look.exchange import exchange_rows
from ingest.names.positions import canonical
from ingest.store import Store
from models.distribution import PROBABILITIES
from models.lives.parts_run import FITTED, NEVER, RACK, parts_now, stints_run
from models.rack.fits import unfit

TABLES = ("parts", "fittings", "wear_points", "mileage", "readings", "work")
CAREFUL, HALF = 0.05, 0.5
LEFT = [
    "part_no",
    "vehicle",
    "position",
    "quantity",
    "last_value",
    "unit",
    "last_date",
    "miles_p05",
    "miles_p50",
    "why",
    "planned",
    "apart",
]
"""Of :attr:`Parts.left`."""
NOTHING_MEASURED = "nothing is on record of its wear: measure it"
CAME_OFF = {
    "worn": "came off worn and was not measured since: measure it",
    "accident": "came off after an accident and was not measured since: examine and measure it",
}


@dataclass(frozen=True)
class Parts:
    """Parts on record.

    Attributes
    ----------
    now : a row a part (:func:`models.lives.parts_run.parts_now`).
    stints : where each was (:func:`models.lives.parts_run.stints_run`).
    left : a row a part that is not fitted, ``LEFT``: the miles until the first of its quantities is at its
        limit at the named place, with its last reading; why, where none can be told; planned: where and when
        the plans in force fit it; apart: places where its wheels do not agree with those that stay.
    """

    now: pd.DataFrame
    stints: pd.DataFrame
    left: pd.DataFrame


def parts_on_record(store: Store) -> Parts:
    """Parts as they are told today, with the newest forecast beside those that are not fitted."""
    tables = store.read_all(*TABLES)
    stints = stints_run(tables)
    now = parts_now(tables, stints)
    runs = store.runs("forecast")
    frames: dict[str, pd.DataFrame] = {}
    if not runs.empty:
        run = str(runs["run_id"].iloc[0])
        frames = {
            "distribution": store.read_run(run, "distribution"),
            "forecast": store.read_run(run, "forecast"),
        }
        frames["spares"] = spares_of_run(store, run)
    left, planned = _left(now, frames, stints), fitted_by_plans(store)
    apart = _apart(store, frames) if len(left) and frames else {}
    told = {"planned": planned, "apart": apart}
    columns = {name: [by_part.get(part, "") for part in left["part_no"]] for name, by_part in told.items()}
    return Parts(now, stints, left.assign(**columns))


def _apart(store: Store, frames: dict[str, pd.DataFrame]) -> dict[str, str]:
    """By part, the places that it would fit but for its wheels: *Alder driver 1, Alder driver 2*."""
    rack = rack_of(store.read_all(*PLAN_TABLES), frames["spares"], frames["distribution"], frames["forecast"])
    places = rack[~rack["agrees"].astype(bool)].drop_duplicates(["part_no", "vehicle", "place"])
    words = places["vehicle"] + " " + places["place"]
    return {str(part): ", ".join(own) for part, own in words.groupby(places["part_no"])}


def fitted_by_plans(store: Store) -> dict[str, str]:
    """By part, where and when the plans in force fit it: *Hobnail left, Nov 2027 – Apr 2028*."""
    return {
        str(row["part_no"]): f"{row['vehicle']} {row['position']}, {row['label']}"
        for row in fitted_in_force(store).to_dict("records")
    }


def _left(now: pd.DataFrame, frames: dict[str, pd.DataFrame], stints: pd.DataFrame) -> pd.DataFrame:
    """``LEFT`` of every part that is not fitted."""
    rows, off = [], unfit(stints, frames["spares"]) if frames else {}
    for part in now[now["where"].isin([RACK, NEVER])].to_dict("records"):
        empty = dict.fromkeys(LEFT, np.nan) | {"part_no": part["part_no"], "last_date": pd.NaT}
        empty |= {
            "vehicle": "",
            "position": "",
            "quantity": "",
            "unit": "",
            "why": "no forecast has been made",
        }
        if part["part_no"] in off:
            empty["why"] = CAME_OFF[off[part["part_no"]]]
        elif frames:
            empty |= _of_spare(part["part_no"], frames) or _of_new(part, frames)
        rows.append(empty)
    return pd.DataFrame(rows, columns=LEFT)


def _of_spare(part: str, frames: dict[str, pd.DataFrame]) -> dict[str, object]:
    """What is left in a part that has run, at the place where it ran last; nothing where it has not."""
    own = frames["spares"]
    own = own[own["part_no"] == part]
    if own.empty:
        return {}
    told = own.dropna(subset=["miles_p05"])
    if told.empty:
        return {"why": NOTHING_MEASURED}
    first = told.sort_values("miles_p05", kind="stable").iloc[0]
    return {name: first[name] for name in LEFT[1:-3]} | {
        "position": position_of_part(str(first["position"]), str(first["component"])),
        "quantity": f"{first['component']} {first['quantity']}",
        "why": "",
    }


def _of_new(part: dict[Hashable, Any], frames: dict[str, pd.DataFrame]) -> dict[str, object]:
    """What a part that has run nothing would run where the one fitted now ends first."""
    if part["miles"] != 0:
        return {"why": NOTHING_MEASURED}
    forecast = frames["forecast"].merge(frames["distribution"], on="point")
    kind = kind_of_part(part["component"])[0]
    cells = zip(forecast["component"].astype(str), forecast["quantity"].astype(str), strict=True)
    fits = [goes_with(kind, component, quantity) == "part" for component, quantity in cells]
    own = forecast[fits].dropna(subset=["miles_p05"])
    if own.empty:
        return {"why": "no place is on record that it fits"}
    worst = own.sort_values(["miles_p05", "point"], kind="stable").iloc[0]
    place = position_of_part(str(worst["position"]), kind)
    there = own[(own["vehicle"] == worst["vehicle"])]
    there = there[[position_of_part(str(position), kind) == place for position in there["position"]]]
    new = np.stack(there["new_life"].to_list())
    low, half = (np.nanmin(new[:, np.flatnonzero(p == PROBABILITIES)[0]]) for p in (CAREFUL, HALF))
    return {
        "vehicle": worst["vehicle"],
        "position": place,
        "quantity": "new",
        "miles_p05": low,
        "miles_p50": half,
        "why": "",
    }


def swap_rows(
    store: Store, component: str, places: tuple[tuple[str, str], tuple[str, str]], day: pd.Timestamp
) -> dict[str, pd.DataFrame]:
    """Rows that tell that the parts of two places were exchanged on a day, by table.

    Parameters
    ----------
    component : what was exchanged: wheelset, driving box, ...
    places : vehicle and position of each.

    Raises
    ------
    WrongUsage : the places are one, or nothing that goes with such a part is measured there.
    """
    tables = store.read_all(*TABLES)
    kind = kind_of_part(component)[0]
    one, other = ((vehicle, position_of_part(place, kind)) for vehicle, place in places)
    known = places_of(tables["wear_points"], kind)
    if one == other:
        raise WrongUsage(
            "Both places are the same. Choose the two places between which the parts were exchanged."
        )
    for vehicle, place in (one, other):
        if (vehicle, place) not in known:
            raise WrongUsage(f"'{place}' of {vehicle}: nothing that goes with a {kind} is measured there.")
    return exchange_rows(tables, kind, (one, other), day)


def fitting_rows(
    store: Store, part_no: str, vehicle: str, position: str, day: pd.Timestamp, *, why: str, kept: bool
) -> dict[str, pd.DataFrame]:
    """Rows that tell that a spare was fitted at a place on a day, and where the part went that was there.

    Parameters
    ----------
    why : why that one was taken off, as in the table fittings.
    kept : it lies on the spares rack now.
    """
    tables = store.read_all(*TABLES)
    stints = stints_run(tables, day - pd.Timedelta(days=1))
    kind = dict(zip(tables["parts"]["part_no"], tables["parts"]["component"], strict=True)).get(part_no)
    if kind is None:
        raise WrongUsage(f"There is no part {part_no!r} on record. Add it to the table parts first.")
    kind = kind_of_part(str(kind))[0]
    place = position_of_part(position, kind)
    rows = [
        {
            "part_no": part_no,
            "vehicle": vehicle,
            "position": place,
            "since": f"{day:%Y-%m-%d}",
            "until": "",
            "why": "",
        }
    ]
    at = (stints["vehicle"] == vehicle) & (stints["position"] == place) & (stints["kind"] == kind)
    for old in stints[at & stints["until"].isna()].to_dict("records"):
        since = _first_day(tables, vehicle, day) if pd.isna(old["since"]) else f"{old['since']:%Y-%m-%d}"
        about = {"part_no": old["part_no"], "vehicle": vehicle, "position": place, "since": since}
        rows.append(about | {"until": f"{day:%Y-%m-%d}", "why": why})
        if kept:
            rack = {"part_no": old["part_no"], "vehicle": "", "position": "", "since": f"{day:%Y-%m-%d}"}
            rows.append(rack | {"until": "", "why": ""})
    return {"fittings": pd.DataFrame(rows)}


def places_of(points: pd.DataFrame, kind: str) -> list[tuple[str, str]]:
    """Vehicle and position of every place at which something goes with a part of a kind."""
    cells = (points[name].astype(str) for name in ("vehicle", "component", "position", "quantity"))
    found = [
        (vehicle, position_of_part(position, kind))
        for vehicle, component, position, quantity in zip(*cells, strict=True)
        if goes_with(kind, component, quantity) == "part"
    ]
    return list(dict.fromkeys(found))


def fitted_at(parts: Parts, vehicle: str, component: str, position: str, quantity: str) -> pd.DataFrame:
    """Stints of the part that a wear point shows now, the newest first; none where no part is named."""
    for kind in (
        parts.now.loc[parts.now["where"] == FITTED, "component"]
        .map(lambda name: kind_of_part(name)[0])
        .unique()
    ):
        if goes_with(kind, component, quantity) != "part":
            continue
        place = {canonical(position), position_of_part(position, kind)}
        own = parts.stints[(parts.stints["kind"] == kind) & parts.stints["until"].isna()]
        own = own[(own["vehicle"] == vehicle) & own["position"].isin(place)]
        if len(own):
            rows = parts.stints[parts.stints["part_no"] == own["part_no"].iloc[-1]]
            newest: pd.DataFrame = rows.iloc[::-1].reset_index(drop=True)
            return newest
    return parts.stints.iloc[:0]


def _first_day(tables: dict[str, pd.DataFrame], vehicle: str, day: pd.Timestamp) -> str:
    """First day of a vehicle's record, before a day: the part was there as far as anybody knows."""
    log = tables["mileage"]
    first = log.loc[log["vehicle"] == vehicle, "date"].min()
    return f"{(day - pd.Timedelta(days=1) if pd.isna(first) or first >= day else first):%Y-%m-%d}"
