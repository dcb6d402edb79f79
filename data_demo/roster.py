"""Wear points of the two engines, from the table of kinds: limits that people see, laws that they do not."""

from importlib.resources import files

import pandas as pd

from data_demo.traffic import ENGINES, Engine

_SIDES = ("left", "right")
_MAIN = {"Q": 2, "H": 3}  # driver that the main rod turns
_TENDER_AXLES = {"Q": 6, "H": 4}


def table(name: str) -> pd.DataFrame:
    """Read one of the tables beside this module; empty cells stay empty text in text columns."""
    with (files("data_demo") / name).open(encoding="utf-8") as file:
        return pd.read_csv(file, keep_default_na=False, na_values={"shop": "", "limit": "", "new": ""})


def _axles(engine: Engine) -> dict[str, int]:
    lead, drive, trail = (int(n) // 2 for n in engine.arrangement.split("-"))
    return {
        "engine truck": lead,
        "driver": drive,
        "trailing truck": trail,
        "tender": _TENDER_AXLES[engine.code],
    }


def positions(engine: Engine, group: str) -> list[tuple[str, str]]:
    """Return (position, short code) of every place of a group: *driver 2 left*, *D2L*."""
    axles = _axles(engine)
    if group == "side":
        return [(side, side[0].upper()) for side in _SIDES]
    if group == "drawbar":
        return [("drawbar", "DB")]
    if group == "tender_truck":
        return [("tender truck 1", "TT1"), ("tender truck 2", "TT2")]
    main = _MAIN[engine.code]
    wheels = {
        "driver": range(1, axles["driver"] + 1),
        "main": (main,),
        "coupled": [i for i in range(1, axles["driver"] + 1) if i != main],
        "knuckle": range(2, axles["driver"]),  # behind the pins of the middle drivers
        "equalizer": range(1, axles["driver"]),
        "truck": range(1, axles["engine truck"] + 1),
        "trailing": range(1, axles["trailing truck"] + 1),
        "tender": range(1, axles["tender"] + 1),
    }
    where, _, what = group.partition("_")
    words = {"truck": "engine truck", "trailing": "trailing truck", "tender": "tender"}.get(where, "driver")
    code = {"engine truck": "E", "trailing truck": "R", "tender": "T", "driver": "D"}[words]
    if what == "axle":
        return [(f"{words} {i}", f"{code}{i}") for i in wheels[where]]
    # An equalizer hangs between two drivers; its point is coded by the one in front.
    named = {i: f"{i}-{i + 1}" if where == "equalizer" else str(i) for i in wheels[where]}
    places = [(i, side) for i in named for side in _SIDES]
    return [(f"{words} {named[i]} {side}", f"{code}{i}{side[0].upper()}") for i, side in places]


def roster() -> pd.DataFrame:
    """Return one row a wear point: every column of the kinds, plus point, vehicle, position, axle."""
    kinds = table("kinds.csv")
    rows = []
    for engine in ENGINES:
        for kind in kinds[kinds["classes"].str.contains(engine.code)].to_dict("records"):
            for position, code in positions(engine, str(kind["at"])):
                axle = position.rsplit(" ", 1)[0] if position.endswith(_SIDES) else position
                point = f"{engine.code}-{code}-{kind['code']}"
                matched = f"{engine.vehicle} {kind['set']}" if kind["set"] else ""
                rows.append(
                    {**kind, "point": point, "vehicle": engine.vehicle, "matched": matched}
                    | {"position": position, "axle": axle}
                )
    points = pd.DataFrame(rows).merge(
        table("gauges.csv").drop(columns=["unit", "basis"]), on="gauge", how="left"
    )
    assert points["point"].is_unique
    assert points["sd"].notna().all()
    return points.rename(columns={"spread": "rate_spread"})


def wear_points(points: pd.DataFrame) -> pd.DataFrame:
    """Return the public table of wear points."""
    known_gauge = ~points["gauge"].isin(["rule", "inside micrometer"])
    sd = (points["sd"] ** 2 + points["step"] ** 2 / 12) ** 0.5
    return pd.DataFrame(
        {
            "point": points["point"],
            "vehicle": points["vehicle"],
            "component": points["component"],
            "position": points["position"],
            "quantity": points["quantity"],
            "unit": points["unit"],
            "new_value": points["new"],
            "shop_limit": points["shop"],
            "condemning_limit": points["limit"],
            "condemned_when": points["when"],
            "limit_source": points["limit_source"],
            "gauge_sd": sd.round(4).where(known_gauge),
            "access": points["access"],
            "matched_set": points["matched"],
        }
    )
