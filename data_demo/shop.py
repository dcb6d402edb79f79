"""What the shop does through 22 seasons: visits with the gauges, renewals at their limit or in the winter,
tire turnings.
"""

from collections.abc import Hashable
from datetime import date, timedelta
from typing import Any

import numpy as np

from data_demo.draws import uniform
from data_demo.service import THICKNESS, Service
from data_demo.traffic import LAST_DAY, SEASONS, day_between

Row = dict[Hashable, Any]

POSTPONED = 0.08  # chance that work that is due waits another year: no casting, no time
SHORT_OF_HANDS = 2025  # since this winter only what is past its limit is renewed
SELDOM = 0.1  # kinds measured less than this often a year are measured at the last overhaul only, if at all
TREAD = ("HOLLOW", "FLANGE", "HEIGHT")
SHEETS = {
    "wheels": (*TREAD, *THICKNESS),
    "boxes": ("JOURNAL", "CROWN", "LINER", "LATERAL", "SHOE", "WEDGE", "BRASS"),
    "springs": ("HANGER-F", "HANGER-B", "EQUALIZER", "BRAKEHANGER", "BOLSTER", "DRAWBARPIN"),
}
"""Which sheet a kind is written on; what is not listed belongs to the motion."""


def sheet_of(code: str) -> str:
    """Return the sheet that a kind is written on."""
    return next((sheet for sheet, codes in SHEETS.items() if code in codes), "motion")


def keep_in_service(service: Service) -> None:
    """Run the shop through all seasons; a season's work is done in the winter after it."""
    for season in SEASONS:
        for sheet in (*SHEETS, "motion"):
            _visits(service, sheet, season)
        if season != LAST_DAY.year:
            _renewals(service, season)
            _turnings(service, season)


def _overhauled(service: Service, season: int) -> bool:
    return season in service.running.engine.overhauls


def _visits(service: Service, sheet: str, season: int) -> None:
    """Measure one sheet's points in summer and in winter; the last winter is cut short by the last day."""
    members = [i for i, row in enumerate(service.rows) if sheet_of(row["code"]) == sheet]
    name = (service.running.engine.vehicle, sheet, season)
    summer = day_between(date(season, 7, 3), date(season, 8, 27), *name, "summer")
    _visit(service, members, summer, season, "summer")
    if season == LAST_DAY.year:
        last = day_between(date(season, 10, 19), LAST_DAY - timedelta(2), *name)
        _visit(service, members, last, season, "last")
    else:
        winter = day_between(date(season, 11, 4), date(season + 1, 2, 28), *name, "winter")
        _visit(service, members, winter, season, "winter")


def _visit(service: Service, members: list[int], day: date, season: int, visit: str) -> None:
    """Measure what is measured at this visit; now and then a position is left out."""
    overhaul = _overhauled(service, season) and visit == "winter"
    last = season == service.running.engine.overhauls[-1]
    for i in members:
        row = service.rows[i]
        yearly = float(row["per_year"])
        kind = (row["vehicle"], row["component"], row["quantity"], season, visit)
        seen_open = overhaul and yearly > (0 if last else SELDOM)
        taken = seen_open or uniform(*kind, "taken") < _chance_of_measuring(row, visit)
        if taken and uniform(row["point"], season, visit, "left out") > 0.05:
            later = int(3 * uniform(*kind, row["axle"], "day"))
            service.read(i, min(day + timedelta(later), LAST_DAY))


def _chance_of_measuring(row: Row, visit: str) -> float:
    """Chance that a kind is measured at a visit outside an overhaul. [1]"""
    yearly = float(row["per_year"])
    if yearly < SELDOM:
        return 0.0
    hidden = row["access"] == "wheels_out" and yearly < 0.5  # seen when the wheels are out, or a hot box
    if hidden or (visit == "last" and row["access"] == "rods_down"):
        return 0.04
    return float({"summer": np.clip(yearly - 0.85, 0, 1), "winter": min(yearly, 1.0), "last": 0.5}[visit])


def _due(service: Service, i: int, season: int) -> bool:
    """Return whether the shop renews point i this winter."""
    row = service.rows[i]
    overhaul = _overhauled(service, season)
    bar, buried = float(row["renew_at"]), row["access"] == "wheels_out"
    if overhaul and row["code"] != "JOURNAL":  # an axle is trued as long as it lasts
        bar = 0.50 if buried else 0.65
    elif season >= SHORT_OF_HANDS:
        bar = 1.0
    elif buried and not overhaul:
        bar = max(bar, 0.92)
    return bool(service.seen[i] >= bar) and uniform(row["point"], season, "postponed") >= POSTPONED


def _work_day(service: Service, season: int, *name: object) -> date:
    first, last = date(season + 1, 3, 3), date(season + 1, 4, 20)
    return day_between(first, last, service.running.engine.vehicle, season, *name)


def _renewals(service: Service, season: int) -> None:
    """Renew what is due, and true journals and pins while the machine is open."""
    overhaul = _overhauled(service, season)
    for i, row in enumerate(service.rows):
        if row["code"] in TREAD + THICKNESS:
            continue
        day = _work_day(service, season, row["component"], row["axle"])
        trued = overhaul and row["code"] in ("JOURNAL", "CRANKPIN")
        if _due(service, i, season):
            service.renew(i, day, "")
        elif trued and uniform(row["point"], season, "trued") < 0.45:
            service.cut(i, day, 0.012 + 0.03 * uniform(row["point"], season, "depth"), "trued")


def _turnings(service: Service, season: int) -> None:
    """Turn the wheels of a matched set when the worst of them calls for it."""
    sets: dict[str, list[int]] = {}
    for i, row in enumerate(service.rows):
        if row["matched"]:
            sets.setdefault(str(row["matched"]), []).append(i)
    for matched, members in sorted(sets.items()):
        worst = max(service.seen[i] for i in members if service.rows[i]["code"] in TREAD)
        late = uniform(matched, season, "lathe") < POSTPONED
        if worst >= (0.45 if _overhauled(service, season) else 0.86) and not late:
            _turn(service, members, _work_day(service, season, matched, "lathe"))


def _turn(service: Service, members: list[int], day: date) -> None:
    """Turn all wheels of a set to the smallest of them, or fit new tires where too little is left."""
    index = service.running.index(day)
    thick = [i for i in members if service.rows[i]["code"] in THICKNESS]
    left = min(
        service.value(i, service.wear(i, index)) - _metal_off(service, i, members, index) for i in thick
    )
    new, limit = service.law.new[thick[0]], float(service.rows[thick[0]]["limit"])
    if left - limit < 0.15 * (new - limit):
        for i in members:
            service.renew(i, day, "new tires" if service.rows[i]["code"] != "RIM" else "new wheels")
        return
    note = "turned, set to one diameter"
    # A worn flange is not always brought back to full: a thinner one saves tread.
    thin = uniform(service.rows[thick[0]]["matched"], day, "thin") < 0.3
    for i in thick:
        service.cut(i, day, service.value(i, service.wear(i, index)) - left, note)
    for i in members:
        if service.rows[i]["code"] == "FLANGE" and thin:
            service.renew(i, day, note + ", thin flange", after=float(service.law.new[i]) - 0.0625)
        elif i not in thick:
            service.renew(i, day, note)


def _metal_off(service: Service, i: int, members: list[int], index: int) -> float:
    """Return what turning takes from the lowest point of the tread of a wheel. [unit of point i]

    A clean-up cut, and 0.8 of what the flange has lost: metal for a full flange can only come from
    deeper in the tire (the factor is invented; it depends on the flange angle).
    """
    rows, position = service.rows, service.rows[i]["position"]
    flange = [j for j in members if rows[j]["code"] == "FLANGE" and rows[j]["position"] == position]
    lost = max(service.wear(flange[0], index), 0.0)
    return float((25.4 if rows[i]["unit"] == "mm" else 1.0) * (0.05 + 0.8 * lost))
