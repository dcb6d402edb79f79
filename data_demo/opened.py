"""What was told of engines that lay open, and of what befell them: openings, located defects, events.

Nothing here moves a wear point: the numbers come from streams of their own, and the readings of an opening
are those that the shop took anyway.
"""

from datetime import date, timedelta

import pandas as pd

from data_demo.draws import pick, stream, uniform
from data_demo.traffic import ENGINES

OPENED, CLOSED = (11, 4), (4, 30)
"""First day of an overhaul in its autumn, last day in the next spring."""
LATEST = "Quillon winter 2026-27"
HOW = {
    "crack": ("magnetic_particle", ("fillet", "pedestal flange", "weld", "keyway")),
    "loose": ("hammer", ("fit", "bore")),
    "scored": ("looked_at", ("bearing surface", "outer third", "all round")),
    "worn": ("looked_at", ("bore", "lower half")),
}
"""By the kind of defect: how it was found, and where it may sit."""
KINDS = (("crack", "crack"), ("indication", "crack"), ("loose", "loose"), ("scored", "scored"))
NAMES = ("J.D.", "M.K.", "E.L.")
DEFECTS = [
    "vehicle", "date", "component", "position", "opening", "defect", "place", "method", "size", "unit",
    "verdict", "watch_until", "found_by", "note",
]  # fmt: skip
FOUND_THIS_WINTER = (
    ("2026-11-16", "front spring hanger pin", "driver 2 right", "worn", "bore", "looked_at", "1/8", "renew"),
    ("2026-11-16", "front spring hanger pin", "driver 3 left", "worn", "bore", "looked_at", "5/32", "renew"),
    ("2026-11-17", "front spring hanger pin", "driver 3 right", "nothing found", "", "looked_at", "", ""),
    (
        "2026-11-18",
        "tender truck bolster",
        "tender truck 1",
        "crack",
        "weld of the end plate",
        "dye",
        "2",
        "repair",
    ),
    ("2026-11-18", "tender truck bolster", "tender truck 2", "nothing found", "", "dye", "", ""),
    ("2026-11-19", "cylinder bushing", "left", "ridge", "front end", "looked_at", "1/32", "watch"),
)
"""Day, component, position, defect, place, method, size [in], verdict: the first week of the last opening."""
EVENTS = (
    (
        "Quillon",
        "2016-08-13",
        "hot bearing",
        "driving journal",
        "Q-D3L-JOURNAL",
        "ran hot at mile 31 of the day",
    ),
    ("Hobnail", "2021-04-10", "lubricant", "driving journal", "", "journal oil of another maker, all boxes"),
)
EVENT_COLUMNS = ["vehicle", "date", "event", "component", "point", "note"]


def openings() -> pd.DataFrame:
    """Return the overhauls on record: each winter in which the wheels came out."""
    rows = [
        (name_of(engine.vehicle, winter), engine.vehicle, date(winter, *OPENED), date(winter + 1, *CLOSED),
         "wheels_out", "own shop", "wheels out, boxes and rods gone through")
        for engine in ENGINES
        for winter in engine.overhauls
    ]  # fmt: skip
    columns = ["opening", "vehicle", "since", "until", "depth", "place", "note"]
    return pd.DataFrame(rows, columns=columns)


def name_of(vehicle: str, winter: int) -> str:
    """Return the name of the opening of a winter."""
    return f"{vehicle} winter {winter}-{(winter + 1) % 100:02d}"


def defects(findings: pd.DataFrame, points: pd.DataFrame) -> pd.DataFrame:
    """Return a located defect for each part that a finding of an overhaul counts as defective."""
    places = points.groupby(["vehicle", "component"])["position"].unique()
    rows: list[tuple[object, ...]] = []
    for engine in ENGINES:
        for winter in engine.overhauls:
            within = findings["date"].between(date(winter, *OPENED), date(winter + 1, *CLOSED))
            own = findings[within & (findings["vehicle"] == engine.vehicle) & (findings["defective"] > 0)]
            for found in own.to_dict("records"):
                key = (engine.vehicle, found["component"])
                if key not in places.index:
                    continue
                name = (*key, winter, "located")
                order = stream(*name).permutation(len(places[key]))[: int(found["defective"])]
                opening = name_of(engine.vehicle, winter)
                rows += [_defect(found, str(places[key][at]), opening) for at in sorted(order)]
    return pd.DataFrame(rows, columns=DEFECTS).sort_values("date", kind="stable", ignore_index=True)


def _defect(found: dict, position: str, opening: str) -> tuple[object, ...]:
    note = str(found["note"])
    kind = next((kind for word, kind in KINDS if word in note), "worn")
    method, where = HOW[kind]
    name = (opening, found["component"], position)
    inches = f"{1 + int(11 * uniform(*name, 'size'))}/16" if kind in ("crack", "scored") else ""
    done = note.rpartition(", ")[2] if ", " in note else "trued"
    verdict = "renew" if done == "renewed" else "repair"
    place, who = pick(list(where), *name, "place"), pick(list(NAMES), *name, "who")
    unit = "in" if inches else ""
    about = (found["vehicle"], found["date"], found["component"], position, opening)
    # What a note says was done at once is no longer out.
    return (
        *about,
        kind,
        place,
        method,
        inches,
        unit,
        verdict,
        "",
        who,
        "renewed" if verdict == "renew" else "repaired",
    )


def latest_opening() -> pd.DataFrame:
    """Return the opening of the winter after the record: it goes on."""
    row = {
        "opening": LATEST,
        "vehicle": "Quillon",
        "since": date(2026, 11, 9),
        "until": "",
        "depth": "wheels_out",
        "place": "own shop",
        "note": "",
    }
    return pd.DataFrame([row])


def latest_defects() -> pd.DataFrame:
    """Return the findings of its first week."""
    rows = []
    for day, component, position, defect, place, method, size, verdict in FOUND_THIS_WINTER:
        until = date(2027, 11, 1) if verdict == "watch" else ""
        about = ("Quillon", date.fromisoformat(day), component, position, LATEST, defect, place, method)
        rows.append((*about, size, "in" if size else "", verdict, until, "E.L.", ""))
    return pd.DataFrame(rows, columns=DEFECTS)


def latest_lines() -> pd.DataFrame:
    """Return what was added to its scope, beside the plan's lines and what the findings ask for."""
    row = {
        "opening": LATEST,
        "component": "ash pan hinge",
        "action": "renewed",
        "position": "rear",
        "origin": "added",
        "state": "done",
        "parts": 2,
        "cost": 180,
        "currency": "USD",
        "labor_hours": 5,
        "trade": "fitting",
        "date": date(2026, 11, 9) + timedelta(days=11),
        "note": "it hung by one pin",
    }
    return pd.DataFrame([row])


def events() -> pd.DataFrame:
    """Return what befell the engines."""
    rows = [(vehicle, date.fromisoformat(day), *more) for vehicle, day, *more in EVENTS]
    return pd.DataFrame(rows, columns=EVENT_COLUMNS)


def truth_of_events() -> pd.DataFrame:
    """Return what each event truly did: neither changed how fast anything wears."""
    told = events().drop(columns="note")
    return told.assign(rate_factor=1.0)
