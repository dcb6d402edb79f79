"""From a wheel arrangement to the wear points of the whole running gear, with limits where texts give them.

What is measured on which part is data: ``catalogue/running_gear.csv``. This module counts axles, names
positions and asks the catalogue. It invents no dimension: what the texts leave open stays empty, and says
who has to set it.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import pandas as pd

from ingest.catalogue import Chosen, choose, holds, parse_conditions, set_unit, table_of
from ingest.catalogue.choice import has_both_bounds
from ingest.catalogue.conditions import Fact, number_of
from ingest.catalogue.tables import records
from ingest.errors import WrongUsage
from ingest.names.arrangement import Arrangement
from ingest.schema import TABLES

SIDES = ("left", "right")
CHECKED = "no limit of its own: measured for the checks across points"
OTHER_BOUND = "the other bound is held by the checks"
_CODES = {"engine truck": "E", "driver": "D", "trailing truck": "R", "tender": "T"}


@dataclass(frozen=True)
class Vehicle:
    """What is known of a vehicle before anything is measured.

    Attributes
    ----------
    name : as in the table of vehicles.
    arrangement : None for a tender that is a vehicle of its own.
    tender : axles of each truck of the tender, (2, 2); empty without a tender.
    limit_set : a name of ``limit_sets``; empty where only the railway's own limits hold.
    facts : as ``ingest.catalogue.choose`` takes them, but for those of single points (main_axle is the number
        of the main axle within its group of drivers here).
    solid : axle groups whose wheels have no tires.
    roller : axle groups that run in roller bearings.
    plain : numbers of the drivers whose tires have no flange.
    valve_gear : walschaerts, baker, stephenson, or other (its pins are then left out).
    inside : inside cylinders: 0, 1 (middle) or 2.
    fixed_tender : the tender's axles stand in its frame, without trucks.
    """

    name: str
    arrangement: Arrangement | None
    tender: tuple[int, ...] = ()
    limit_set: str = ""
    facts: Mapping[str, Fact] = field(default_factory=dict)
    solid: tuple[str, ...] = ("engine truck", "trailing truck", "tender")
    roller: tuple[str, ...] = ()
    plain: tuple[int, ...] = ()
    valve_gear: str = "walschaerts"
    inside: int = 0
    fixed_tender: bool = False


@dataclass(frozen=True)
class Place:
    """One position: its words, its short code, its axle, its side, and the group that is turned together."""

    words: str
    code: str
    group: str
    axle: int = 0
    side: str = ""
    matched: str = ""
    local_axle: int = 0


def axle_counts(vehicle: Vehicle) -> dict[str, int]:
    """Axles of each group, counted through from the front over all engine units."""
    units = vehicle.arrangement.units if vehicle.arrangement else ()
    return {
        "engine truck": sum(unit.leading for unit in units),
        "driver": sum(sum(unit.driving) for unit in units),
        "trailing truck": sum(unit.trailing for unit in units),
        "tender": sum(vehicle.tender),
    }


def wear_points(vehicle: Vehicle, own: pd.DataFrame | None = None) -> pd.DataFrame:
    """Wear points of the whole running gear, as the sheet that people edit and load.

    Parameters
    ----------
    vehicle : what is known.
    own : the railway's own figures, as ``ingest.catalogue.own_limits`` returns them. Tier condemning and shop
        are limits; the strictest of law and own holds. Components are named as in the sheet or as in the
        catalogue.

    Returns
    -------
    The public columns of table wear_points, figures in the unit of the row, one row a wear point; positions
    are *driver 2 left*, *driver 2* (axle), *driver 1-2 left* (between two axles), *left* (side of the
    engine). Where no figure can be given, ``limit_source`` says why and who has to set it.

    Raises
    ------
    WrongUsage : the arrangement or the facts name an axle that there is not, or the limit set is not known.
    """
    _check(vehicle)
    rows = []
    for template in records(table_of("running_gear")):
        own_figures, conditions = _named(own, template), parse_conditions(str(template["conditions"]))
        for place in _places(vehicle, str(template["place"]), str(template["groups"])):
            if holds(conditions, _facts(vehicle, place)):
                rows.append(_row(vehicle, template, place, own_figures))
    return pd.DataFrame(rows, columns=list(TABLES["wear_points"].public))


def _check(vehicle: Vehicle) -> None:
    counts = axle_counts(vehicle)
    if not any(counts.values()):
        raise WrongUsage(f"vehicle {vehicle.name!r} has no axle. State --arrangement, --tender, or both.")
    main = vehicle.facts.get("main_axle", "")
    longest = max((count for _, count in _driving_groups(vehicle)), default=0)
    if main != "" and not 1 <= number_of("main_axle", main) <= longest:
        raise WrongUsage(
            f"main axle {main}: expected the number of a driver, 1 to {longest}, from the front."
        )
    wrong = [number for number in vehicle.plain if not 1 <= number <= counts["driver"]]
    if wrong:
        raise WrongUsage(
            f"plain tires on driver {wrong[0]}: expected 1 to {counts['driver']}, from the front."
        )


def _driving_groups(vehicle: Vehicle) -> list[tuple[int, int]]:
    """First driver and number of drivers of each coupled group, drivers counted through from the front."""
    groups = []
    first = 1
    for unit in vehicle.arrangement.units if vehicle.arrangement else ():
        for group in unit.groups:
            if group.driven:
                groups += (
                    [(first + k, 1) for k in range(group.count)] if group.single else [(first, group.count)]
                )
                first += group.count
    return groups


def _places(vehicle: Vehicle, kind: str, group: str) -> Iterator[Place]:
    count = axle_counts(vehicle).get(group, 0)
    if kind == "axle":
        yield from (_axle(vehicle, group, number) for number in range(1, count + 1))
    elif kind == "wheel":
        yield from (p for n in range(1, count + 1) for p in _both_sides(_axle(vehicle, group, n)))
    elif kind in ("coupled", "knuckle", "gap"):
        for first, size in _driving_groups(vehicle):
            yield from (p for place in _along_rods(vehicle, kind, (first, size)) for p in _both_sides(place))
    elif kind == "side":
        yield from _cylinders(vehicle)
    elif kind == "truck":
        yield from _trucks(vehicle, group, count)
    elif kind == "drawbar" and vehicle.arrangement and vehicle.tender:
        yield Place("drawbar", "DB", group)


def _axle(vehicle: Vehicle, group: str, number: int) -> Place:
    matched, local = f"{vehicle.name} {group} {number}", number
    if group == "driver":
        groups = _driving_groups(vehicle)
        place = next(k for k, (first, size) in enumerate(groups) if first <= number < first + size)
        matched = f"{vehicle.name} drivers" + (f" {place + 1}" if len(groups) > 1 else "")
        local = number - groups[place][0] + 1
    return Place(f"{group} {number}", f"{_CODES[group]}{number}", group, number, "", matched, local)


def _both_sides(place: Place) -> list[Place]:
    return [
        replace(place, words=f"{place.words} {side}", code=f"{place.code}{side[0].upper()}", side=side)
        for side in SIDES
    ]


def _along_rods(vehicle: Vehicle, kind: str, coupled: tuple[int, int]) -> Iterator[Place]:
    first, size = coupled
    last = first + size - 1
    if kind == "coupled" and size > 1:
        yield from (_axle(vehicle, "driver", number) for number in range(first, last + 1))
    if kind == "knuckle":  # rods of more than two axles are jointed beside the pins between the end axles
        yield from (_axle(vehicle, "driver", number) for number in range(first + 1, last))
    if kind == "gap":
        for number in range(first, last):
            yield Place(f"driver {number}-{number + 1}", f"D{number}-{number + 1}", "driver", number)


def _cylinders(vehicle: Vehicle) -> Iterator[Place]:
    engines = len(_engines(vehicle))
    inside = {0: (), 1: ("inside",), 2: ("inside left", "inside right")}[vehicle.inside]
    for engine in range(1, engines + 1):
        for side in (*SIDES, *inside):
            words = f"engine {engine} {side}" if engines > 1 else side
            code = (f"U{engine}" if engines > 1 else "") + "".join(word[0].upper() for word in side.split())
            yield Place(words, code, "", 0, side)


def _engines(vehicle: Vehicle) -> Sequence[tuple[int, int]]:
    """Groups of drivers with cylinders of their own: one for each coupled group."""
    return _driving_groups(vehicle)


def _trucks(vehicle: Vehicle, group: str, count: int) -> Iterator[Place]:
    if group == "tender":
        trucks = () if vehicle.fixed_tender else vehicle.tender
        yield from (Place(f"tender truck {n}", f"TT{n}", group, n) for n in range(1, len(trucks) + 1))
    elif count:
        units = vehicle.arrangement.units if vehicle.arrangement else ()
        with_truck = [u for u in units if (u.leading if group == "engine truck" else u.trailing)]
        for number in range(1, len(with_truck) + 1):
            words = group if len(with_truck) == 1 else f"{group} unit {number}"
            yield Place(words, _CODES[group] + (f"U{number}" if len(with_truck) > 1 else ""), group)


def _facts(vehicle: Vehicle, place: Place) -> dict[str, Fact]:
    """Facts of one place: those of the vehicle, and what the place itself decides."""
    facts: dict[str, Fact] = dict(vehicle.facts)
    main = facts.pop("main_axle", "")
    if main != "" and place.group == "driver" and place.local_axle:
        facts["main_axle"] = "yes" if number_of("main_axle", main) == place.local_axle else "no"
    facts["wheel"] = "wheel" if place.group in vehicle.solid else "tire"
    facts["bearing"] = "roller" if place.group in vehicle.roller else "plain"
    facts["tire"] = "plain" if place.group == "driver" and place.axle in vehicle.plain else "flanged"
    facts["valve_gear"] = vehicle.valve_gear
    facts["gear"] = "inside" if place.side.startswith("inside") else "outside"
    facts["frame"] = "fixed" if vehicle.fixed_tender else "truck"
    facts.setdefault("valves", "piston")
    if place.group == "tender":
        truck = "front" if place.axle == 1 else "rear"
        facts.setdefault("truck_end", truck if len(vehicle.tender) > 1 else "rear")
    return facts


def _row(
    vehicle: Vehicle, template: Mapping[str, str], place: Place, own: pd.DataFrame | None
) -> dict[str, object]:
    facts = _facts(vehicle, place)
    new = _own_new(own, place.group)
    new = float(template["new"]) if new is None and template["new"] else new
    if new is not None:
        facts["original_in"] = new
    what = (vehicle.limit_set, template["part"], template["measure"], place.group, facts)
    bound = template["bound"]
    condemning = choose(*what, bound=bound, own=own) if bound else Chosen(None, reason=CHECKED)
    shop = choose(*what, bound=bound, own=own, tier="shop") if bound else condemning
    other = has_both_bounds(*what[:3]) and bool(bound)
    set_name = place.matched if template["set"] == "unit" else f"{vehicle.name} {place.group} {place.axle}"
    return {
        "point": f"{vehicle.name}-{place.code}-{template['code']}",
        "vehicle": vehicle.name,
        "component": template["component"],
        "position": place.words,
        "quantity": template["quantity"],
        "unit": condemning.limit.unit if condemning.limit else set_unit(vehicle.limit_set),
        "new_value": new,
        "shop_limit": shop.limit.value if shop.limit else None,
        "condemning_limit": condemning.limit.value if condemning.limit else None,
        "condemned_when": condemning.limit.condemned_when if condemning.limit else "at",
        "limit_source": condemning.text + (f"; {OTHER_BOUND}" if other else ""),
        "gauge_sd": None,
        "access": template["access"],
        "matched_set": set_name if template["set"] else "",
    }


def _named(own: pd.DataFrame | None, template: Mapping[str, str]) -> pd.DataFrame | None:
    """Own figures that speak of this row, by the sheet's own words or by the catalogue's."""
    if own is None or own.empty:
        return None
    sheet = (own["component"] == template["component"]) & (own["quantity"] == template["quantity"])
    catalogue = (own["component"] == template["part"]) & (own["quantity"] == template["measure"])
    named = own[sheet | catalogue]
    if named.empty:
        return None
    return named.assign(component=template["part"], quantity=template["measure"])


def _own_new(own: pd.DataFrame | None, group: str) -> float | None:
    if own is None:
        return None
    new = own[(own["tier"] == "new") & own["group"].isin(["", group])]
    # A row for the group takes precedence over a row for all groups.
    return None if new.empty else float(new.sort_values("group", kind="stable")["value"].iloc[-1])
