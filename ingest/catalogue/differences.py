"""Limits that compare points, and the law's limit beside each wear point of the store."""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from ingest.catalogue.choice import Limit, choose, set_unit
from ingest.catalogue.classify import classify
from ingest.catalogue.conditions import Fact, holds, number_of, parse_conditions
from ingest.catalogue.tables import cited, limits, records
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
COLUMNS = ["check", "bound", "limit", "base_unit", "condemned_when", "tier", "source", "status"]


def difference_limits(
    limit_set: str, facts: Mapping[str, Fact] | None = None, own: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Limits of the checks across points, law and own.

    Parameters
    ----------
    limit_set : a name of ``limit_sets``; empty for the railway's own only.
    facts : what is known of the vehicle (gauge, wheel_mm, track_gage_in); rows that may hold are in the
        result.
    own : the railway's own, as ``own_limits`` returns them; component ``check``, quantity the name of the
        check: those above, ``tram``, ``crown thickness``, ``bearing clearance``, ``bushing interference``
        [per unit of diameter], ...

    Returns
    -------
    check, bound (min / max), limit (base unit), base_unit, condemned_when, tier (law / shop / own), source,
    status.
    """
    rows = []
    if limit_set:
        for row in records(limits(limit_set)):
            check = CHECK_OF.get((row["component"], row["quantity"], row["basis"], row["tier"]))
            if check is None or holds(parse_conditions(row["conditions"]), facts or {}) is False:
                continue
            figure = row["number"]
            if row["basis"] == "gage less":
                gage = (facts or {}).get("track_gage_in")
                if gage is None:
                    continue
                figure = number_of("track_gage_in", gage) - figure
            source = cited(row)
            base = to_base(float(figure), row["unit"])
            rows.append(
                [check, row["bound"], base, "mm", row["condemned_when"], row["tier"], source, row["status"]]
            )
    if own is not None and not own.empty:
        for row in records(own[own["component"] == "check"]):
            source = f"the railway's own limit{': ' + row['source'] if row['source'] else ''}"
            length = row["unit"] in ("in", "mm")
            base = to_base(float(row["value"]), row["unit"])
            unit = "mm" if length else row["unit"]
            rows.append(
                [row["quantity"], row["bound"], base, unit, row["condemned_when"], "own", source, "own"]
            )
    return pd.DataFrame(rows, columns=COLUMNS)


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
    wear_points : table of the store (values in base unit), of vehicles under one limit set.
    limit_set : a name of ``limit_sets``.
    facts : what is known of the vehicle; the new value of each point is taken as its original dimension.
    other_bound : the law's bound on the side from which the point wears away (a flange too low), not toward.

    Returns
    -------
    point, bound, law_limit (base unit; NaN where there is none), law_laxest (the laxest that it may be, the
    facts not stated being what they may), law_condemned_when, law_source, law_tier,
    law_unstated (facts on which it hangs), law_reason (why there is none), one row a wear point.
    """
    unit = set_unit(limit_set)
    rows = []
    for row in records(classify(wear_points)):
        mine: dict[str, Fact] = {"tire": "flanged", **(facts or {})}
        if row["new_value"] == row["new_value"] and row["base_unit"] == "mm":
            mine["original_in"] = from_base(float(row["new_value"]), "in")
        main = mine.pop("main_axle", "")
        if main != "" and row["group"] == "driver" and row["axle"]:
            mine["main_axle"] = "yes" if number_of("main_axle", main) == row["axle"] else "no"
        bound = _bound(row)
        if other_bound:
            bound = "min" if bound == "max" else "max"
        chosen = choose(limit_set, row["part"], row["measure"], row["group"], mine, bound=bound)
        law = chosen.limit
        rows.append(
            {
                "point": row["point"],
                "bound": bound,
                "law_limit": _in_base(law, unit),
                "law_laxest": _in_base(chosen.laxest, unit),
                "law_condemned_when": law.condemned_when if law else "",
                "law_source": chosen.text if law else "",
                "law_tier": law.tier if law else "",
                "law_unstated": ", ".join(chosen.unstated),
                "law_reason": chosen.reason,
            }
        )
    return pd.DataFrame(rows)


def _in_base(limit: Limit | None, unit: str) -> float:
    return to_base(limit.value, unit) if limit and limit.unit == unit else float("nan")


def _bound(row: Mapping[str, Any]) -> str:
    """The side to which the point wears: toward its own limit, or as such a part wears."""
    new, limit = float(row["new_value"]), float(row["condemning_limit"])
    if new == new and limit == limit and new != limit:
        return "max" if limit > new else "min"
    grows = ("hollow", "clearance", "height", "motion", "play", "wear", "round", "lost")
    return "max" if any(word in str(row["measure"]) for word in grows) else "min"
