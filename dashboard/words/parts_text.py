"""Parts with numbers of their own, in lines for people."""

import textwrap
from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from dashboard.words.units_shown import Units
from models.lives.parts_run import FITTED, NEVER, RACK

Row = Mapping[Hashable, Any]
WIDTH = 110
CAUTION = (
    "What a spare would run is forecast from its readings: look at it and measure it before it is fitted."
)
WEIGHED = (
    "A plan weighs every spare at the places that it fits by its limits and readings, a wheelset with its "
    "tires, journals and pins together, where its wheels agree with those that stay; none that came off worn "
    "and was not measured since. What comes off goes to the rack with what is left in it; whether it is "
    "repaired or scrapped is decided when it is examined."
)
APART = "its wheels do not agree with those that stay at"
UNKNOWN_BEFORE = "+: and what it ran before its first fitting on record, which nobody knows."


def parts_text(now: pd.DataFrame, stints: pd.DataFrame, left: pd.DataFrame) -> str:
    """The spares rack, then what is fitted, then where each part was."""
    if now.empty:
        return (
            "No part has a number of its own here. Parts are told in sheets with the tables 'parts' and "
            "'fittings'; without them, wear belongs to its place."
        )
    lines = [*_rack(now, left), *_fitted(now), *_moved(stints)]
    return "\n".join([*lines, "", UNKNOWN_BEFORE, *textwrap.wrap(WEIGHED, WIDTH), CAUTION])


def _rack(now: pd.DataFrame, left: pd.DataFrame) -> list[str]:
    rows = now[now["where"].isin([RACK, NEVER])].merge(left, on="part_no", suffixes=("", "_left"))
    if rows.empty:
        return ["The spares rack is empty."]
    lines = ["Spares rack"]
    lines.append(f"  {'part':<10}{'what':<20}{'run [mi]':>10}  {'1 in 20':>9}{'half':>9}  fitted at")
    for row in rows.to_dict("records"):
        told = f"  {row['part_no']:<10}{row['component'][:19]:<20}{ran_words(row):>10}  "
        if row["why"]:
            lines.append(f"{told}{row['why']}")
            continue
        where = f"{row['vehicle_left']} {row['position_left']}".strip()
        soon, half = (f"{round(row[name], -2):>9,.0f}" for name in ("miles_p05", "miles_p50"))
        lines.append(f"{told}{soon}{half}  {where}{_last(row)}")
        if row["apart"]:
            lines += textwrap.wrap(
                f"{APART}: {row['apart']}", WIDTH, initial_indent=" " * 12, subsequent_indent=" " * 14
            )
        if row["planned"]:
            lines.append(f"{'':<12}the plan fits it: {row['planned']}")
    return lines


def _last(row: Row) -> str:
    """The last reading of the quantity that ends first."""
    if pd.isna(row["last_value"]):
        return ", as a new part"
    return f", {row['quantity']} {row['last_value']:.3g} {row['unit']} on {row['last_date']:%Y-%m-%d}"


def _fitted(now: pd.DataFrame) -> list[str]:
    rows = now[now["where"] == FITTED]
    if rows.empty:
        return []
    lines = ["", "Fitted", f"  {'part':<10}{'what':<20}{'run [mi]':>10}  where"]
    for row in rows.to_dict("records"):
        since = "" if pd.isna(row["since"]) else f", since {row['since']:%Y-%m-%d}"
        where = f"{row['vehicle']} {row['position']}{since}"
        lines.append(f"  {row['part_no']:<10}{row['component'][:19]:<20}{ran_words(row):>10}  {where}")
    return lines


def ran_words(row: Row, units: Units | None = None) -> str:
    """Distance run: *12,528*; with a plus where that before the record is not known. Miles without units."""
    shown = units or Units()
    if pd.isna(row["miles"]):
        return f"{shown.miles(float(row['miles_on_record'])):,.0f}+"
    return f"{shown.miles(float(row['miles'])):,.0f}"


def _moved(stints: pd.DataFrame) -> list[str]:
    """Where parts with more than one place were."""
    many = stints.groupby("part_no")["part_no"].transform("size") > 1
    if not many.any():
        return []
    lines = ["", "Where they were"]
    for part, own in stints[many].groupby("part_no", sort=True):
        lines.append(f"  {part}")
        lines += [f"    {stint_words(row)}" for row in own.to_dict("records")]
    return lines


def stint_words(row: Row, units: Units | None = None) -> str:
    """One time at a place: *Hobnail tender 2, 2005-04-01 to 2021-04-12, 61,200 mi, taken off worn*. Miles
    without units."""
    shown = units or Units()
    place = f"{row['vehicle']} {row['position']}".strip() or "spares rack"
    since: str = "as far back as the record" if pd.isna(row["since"]) else f"{row['since']:%Y-%m-%d}"
    until: str = "now" if pd.isna(row["until"]) else f"{row['until']:%Y-%m-%d}"
    ran = f", {shown.odometer_text(row['miles'])}" if row["vehicle"] and pd.notna(row["miles"]) else ""
    why = {
        "worn": ", taken off worn",
        "age": ", taken off by age",
        "accident": ", taken off after an accident",
    }
    why |= {"while_open": ", taken off because it lay open"}
    return f"{place}, {since} to {until}{ran}{why.get(str(row['why']), '')}"
