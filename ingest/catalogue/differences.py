"""Limits that compare points, and the law's limit beside each wear point of the store."""

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from ingest.catalogue.choice import Limit, choose, set_unit
from ingest.catalogue.classify import classify
from ingest.catalogue.conditions import (
    CARRYING,
    CARRYING_WHEEL,
    WHEEL,
    Fact,
    holds,
    number_of,
    of_carrying_wheels,
    parse_conditions,
)
from ingest.catalogue.known_facts import fact_words
from ingest.catalogue.tables import cited, known_set, limit_rows, records
from ingest.units import from_base, to_base

CHECK_OF = {
    ("tire|wheel", "diameter", "axle spread", "law"): "same axle diameters",
    ("tire|wheel", "diameter", "set spread", "shop"): "coupled diameters",
    ("wheelset", "back to back", "value", "law"): "back to back",
    ("wheelset", "back to back", "gage less", "law"): "back to back",
    ("wheelset", "back to back", "variation", "law"): "back to back around the axle",
    ("wheelset", "over flanges", "value", "law"): "over flanges",
    ("main rod", "lost motion", "sum", "law"): "main rod lost motion",
    ("side rod", "clearance", "value", "law"): "rod bearing clearance",
    ("axle spacing", "axle centers", "difference", "shop"): "axle spacing, left against right",
}
"""Name of the check that a row of the catalogue (component, quantity, basis, tier) serves."""
BOTH_SIDES = ("back to back", "over flanges")
"""Checks of a wheelset for which the law may tell wheels apart by their size."""
OF_CARRYING = ", carrying wheels"
"""What the name of such a check ends in where its limit is that of carrying wheels."""
COLUMNS = ["check", "bound", "limit", "base_unit", "condemned_when", "tier", "source", "status"]


def difference_limits(
    limit_set: str, facts: Mapping[str, Fact] | None = None, own: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Limits of the checks across points, law and own.

    Parameters
    ----------
    limit_set : a name of ``limit_sets``; empty for the railway's own only.
    facts : what is known of the vehicle (gauge, wheel_mm, carrying_wheel_mm, track_gage_in); rows that may
        hold are in the result.
    own : the railway's own, as ``own_limits`` returns them; component ``check``, quantity the name of the
        check: those above, ``tram``, ``crown thickness``, ``bearing clearance``, ``bushing interference``
        [per unit of diameter], ...

    Returns
    -------
    check (of ``BOTH_SIDES`` once more with ``OF_CARRYING``, as the rows hold for carrying wheels), bound
    (min / max), limit (base unit), base_unit, condemned_when, tier (law / shop / own), source, status.
    """
    rows = _of_law(limit_set, facts or {}) if limit_set else []
    carried = _of_law(limit_set, of_carrying_wheels(facts or {}), CARRYING_WHEEL) if limit_set else []
    rows += [[row[0] + OF_CARRYING, *row[1:]] for row in carried if row[0] in BOTH_SIDES]
    if own is not None and not own.empty:
        for row in records(own[own["component"] == "check"]):
            source = f"the railway's own limit{': ' + row['source'] if row['source'] else ''}"
            length = row["unit"] in ("in", "mm")
            base = to_base(float(row["value"]), row["unit"])
            unit = "mm" if length else row["unit"]
            kept = [row["bound"], base, unit, row["condemned_when"], "own", source, "own"]
            rows.append([row["quantity"], *kept])
            if row["quantity"] in BOTH_SIDES:
                rows.append([row["quantity"] + OF_CARRYING, *kept])
    return pd.DataFrame(rows, columns=COLUMNS)


def _of_law(limit_set: str, facts: Mapping[str, Fact], wheel: str = WHEEL) -> list[list[object]]:
    """Rows of ``COLUMNS`` that may hold for these facts; ``wheel``: the fact that states the wheels' size."""
    rows: list[list[object]] = []
    chosen = known_set(limit_set)
    for row in limit_rows():
        check = CHECK_OF.get((row["component"], row["quantity"], row["basis"], row["tier"]))
        if check is None or row["limit_set"] != chosen:
            continue
        conditions = parse_conditions(row["conditions"])
        if holds(conditions, facts) is False:
            continue
        by_wheel = any(each.fact == WHEEL and each.met(facts) is None for each in conditions)
        taken = f" [strictest row taken: {fact_words(wheel)} not stated]" if by_wheel else ""
        figure = row["number"]
        if row["basis"] == "gage less":
            gage = facts.get("track_gage_in")
            if gage is None:
                continue
            figure = number_of("track_gage_in", gage) - figure
        base = to_base(float(figure), row["unit"])
        held = [row["bound"], base, "mm", row["condemned_when"], row["tier"], cited(row) + taken]
        rows.append([check, *held, row["status"]])
    return rows


def ruled_assumptions(
    limit_set: str, facts: Mapping[str, Fact] | None = None
) -> dict[str, tuple[float, str]]:
    """Assumptions of turning that the rules of a vehicle state themselves: value [mm] and source, by name.

    How far the diameters of coupled axles may differ is what one axle may stay behind the others.
    ``limit_set``, ``facts``: as :func:`difference_limits` takes them; empty where the rules say nothing.
    """
    limits = difference_limits(limit_set, facts)
    rows = limits[(limits["check"] == "coupled diameters") & (limits["bound"] == "max")]
    if rows.empty:
        return {}
    strictest = records(rows.sort_values("limit", kind="stable"))[0]
    return {"lag": (float(strictest["limit"]), str(strictest["source"]))}


def law_limits_of(
    wear_points: pd.DataFrame,
    limit_set: str,
    facts: Mapping[str, Fact] | None = None,
    *,
    other_bound: bool = False,
) -> pd.DataFrame:
    """The published limit beside each wear point, to hold the sheet's own limit against.

    Parameters
    ----------
    wear_points : table of the store (values in base unit), classified or not, under one limit set.
    limit_set : a name of ``limit_sets``.
    facts : what is known of the vehicle; the new value of each point is taken as its original dimension.
        Where the wheel's diameter is not stated it is that of its axle, as :func:`_new_wheels` finds it.
    other_bound : the law's bound on the side from which the point wears away (a flange too low), not toward.

    Returns
    -------
    point, bound, law_limit (base unit; NaN where there is none), law_laxest (the laxest that it may be,
    whatever the facts not stated are), law_condemned_when, law_source, law_tier,
    law_unstated (facts on which it depends), law_reason (why there is none), one row a wear point.
    """
    points = wear_points if "measure" in wear_points else classify(wear_points)
    asked = _asked(points, facts or {}, other_bound=other_bound)
    unit = set_unit(limit_set)
    law_of = {question: _law(limit_set, question, facts or {}, unit) for question in dict.fromkeys(asked)}
    columns = zip(*(law_of[question] for question in asked), strict=True) if asked else [()] * len(_LAW)
    values = {name: list(column) for name, column in zip(_LAW, columns, strict=True)}
    return pd.DataFrame({"point": points["point"].tolist(), **values})


@dataclass(frozen=True)
class _Asked:
    """All that a point's law depends on beside the facts of its vehicle: many points ask the same.

    Attributes
    ----------
    original : new value [in]; None where it is not known or no length.
    main : whether it is on the main axle, yes or no; empty where that is not known.
    wheel : diameter of the wheels of its axle when new [mm]; None where that is not known.
    """

    part: str
    measure: str
    group: str
    original: float | None
    main: str
    wheel: float | None
    bound: str


_LAW = (
    "bound", "law_limit", "law_laxest", "law_condemned_when", "law_source", "law_tier", "law_unstated",
    "law_reason",
)  # fmt: skip
_USED = ("vehicle", "part", "measure", "group", "axle", "new_value", "condemning_limit", "base_unit")


def _asked(points: pd.DataFrame, facts: Mapping[str, Fact], *, other_bound: bool) -> list[_Asked]:
    stated = facts.get("main_axle", "")
    wheels, asked = _new_wheels(points, facts), []
    for vehicle, part, measure, group, axle, new, limit, unit in zip(
        *(points[name].tolist() for name in _USED), strict=True
    ):
        main = ""
        if stated != "" and group == "driver" and axle:
            main = "yes" if number_of("main_axle", stated) == axle else "no"
        bound = _bound(float(new), float(limit), measure)
        if other_bound:
            bound = "min" if bound == "max" else "max"
        original = from_base(float(new), "in") if new == new and unit == "mm" else None
        wheel = wheels.get((vehicle, group, axle))
        asked.append(_Asked(part, measure, group, original, main, wheel, bound))
    return asked


def _new_wheels(points: pd.DataFrame, facts: Mapping[str, Fact]) -> dict[tuple[str, str, int], float]:
    """Diameter of the wheels of each axle when new, by vehicle, group and axle: that of the sheet, else a
    driver's stated center with its new tire around it. [mm]"""
    wheels = points["part"].isin(["tire", "wheel"]) & (points["axle"] > 0) & points["new_value"].notna()
    of_axle = points[wheels & (points["base_unit"] == "mm")]
    by = ["vehicle", "group", "axle"]
    known = of_axle[of_axle["measure"] == "diameter"].groupby(by)["new_value"].mean()
    if "center_in" in facts:
        tires = of_axle[(of_axle["measure"] == "thickness") & (of_axle["group"] == "driver")]
        center = to_base(number_of("center_in", facts["center_in"]), "in")
        known = known.combine_first(center + 2.0 * tires.groupby(by)["new_value"].mean())
    return {
        (str(vehicle), str(group), int(axle)): diameter
        for (vehicle, group, axle), diameter in zip(known.index, known.tolist(), strict=True)
    }


def _law(
    limit_set: str, asked: _Asked, facts: Mapping[str, Fact], unit: str
) -> tuple[str, float, float, str, str, str, str, str]:
    """The law's answer, in the order of ``_LAW``."""
    known: dict[str, Fact] = {"tire": "flanged", **facts}
    known.pop("main_axle", None)
    if asked.original is not None:
        known["original_in"] = asked.original
    if asked.main:
        known["main_axle"] = asked.main
    if asked.wheel is not None:
        known.setdefault(CARRYING_WHEEL if asked.group in CARRYING else WHEEL, asked.wheel)
    chosen = choose(limit_set, asked.part, asked.measure, asked.group, known, bound=asked.bound)
    law = chosen.limit
    return (
        asked.bound,
        _in_base(law, unit),
        _in_base(chosen.laxest, unit),
        law.condemned_when if law else "",
        chosen.text if law else "",
        law.tier if law else "",
        ", ".join(map(fact_words, chosen.unstated)),
        chosen.reason,
    )


def _in_base(limit: Limit | None, unit: str) -> float:
    return to_base(limit.value, unit) if limit and limit.unit == unit else float("nan")


def _bound(new: float, limit: float, measure: str) -> str:
    """The side to which a point wears: toward its own limit, or as such a part wears."""
    if new == new and limit == limit and new != limit:
        return "max" if limit > new else "min"
    grows = ("hollow", "clearance", "height", "motion", "play", "wear", "round", "lost")
    return "max" if any(word in measure for word in grows) else "min"
