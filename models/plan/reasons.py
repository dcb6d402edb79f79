"""Why a line is in a scope, in words and as a kind."""

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from models.frequency import times_in_100
from models.plan.jobs import DEPTHS

KINDS = ("late", "limit", "asked", "inspection", "with_others")
"""late: over the accepted risk already, no window comes sooner; limit: would be over it by the next window;
asked: the railway wants it now; inspection: a clock falls due; with_others: could wait, but is cheaper with
what is done anyway."""

NEEDS = ("must", "should", "while_open")
"""must: the limit, the law or the railway asks for it in this window; should: it pays; while_open: it would
wait for a later window, if this one were not opened anyway."""

STATE = {
    "in_place": "the engine is laid up",
    "rods_down": "the rods are down",
    "wheels_out": "the wheels are out",
}
END = "the end of the years planned"


def kind_of(ended: pd.DataFrame, asked: bool) -> str:
    """Kind of a line from the lives that it ends; an inspection ends none."""
    if len(ended) == 0:
        return "inspection"
    if bool(ended["is_late"].any()):
        return "late"
    if bool((ended["chance_by_next"] > ended["accepted"] + 1e-9).any()):
        return "limit"
    return "asked" if asked else "with_others"


def needs(lines: pd.DataFrame, stop_risk: float | None) -> list[str]:
    """Need of each line.

    Parameters
    ----------
    lines : kind; later_risk and pays as ``plan.moves`` has them.
    stop_risk : accepted chance of a stopped season; a line that by itself adds more, left to the next window,
        must be done.
    """
    most = float("inf") if stop_risk is None else stop_risk
    must = (lines["kind"] != "with_others") | (lines["later_risk"] > most)
    return [
        "must" if needed else "should" if pays else "while_open"
        for needed, pays in zip(must, lines["pays"], strict=True)
    ]


def governing(ended: pd.DataFrame) -> int:
    """Row label of the life that is furthest over its accepted risk by the next window, or nearest below
    it."""
    over = ended["chance_by_next"] - ended["accepted"]
    return int(over.sort_values(ascending=False, kind="stable").index[0])


def reasons(lines: pd.DataFrame, labels: list[str]) -> list[str]:
    """One reason a line.

    Parameters
    ----------
    lines : window, depth, kind, component, parts, matched_set, what (:func:`what_ends` of the
        governing wear point), scrap_of,
        chance_by_window, chance_by_next, accepted, waits_until (node up to which it could wait), due.
    labels : label of each window of the vehicle, in order.
    """
    must = lines[lines["kind"] != "with_others"]
    deepest = must["depth"].map(DEPTHS.index).groupby(must["window"]).max()
    return [_reason(line, labels, deepest) for line in lines.to_dict("records")]


def what_ends(life: Mapping[Hashable, Any]) -> str:
    """What is at its end with a life: the wear point, or a part of the set whose scrap ends it."""
    if life["scrap_of"]:
        return f"one {life['component']} of {life['scrap_of']}"
    return f"{life['quantity']} of {life['component']} {life['position']}".strip()


def label_of(node: int, labels: list[str]) -> str:
    """Label of a node: a window, or the end of the horizon."""
    return labels[node - 1] if 1 <= node <= len(labels) else END


def _reason(line: Mapping[Hashable, Any], labels: list[str], deepest: pd.Series) -> str:
    window, kind = int(line["window"]), str(line["kind"])
    tail = f"; matched set of {line['parts']}" if line["matched_set"] and int(line["parts"]) > 1 else ""
    if kind == "inspection":
        return f"inspection due by {line['due']:%Y-%m-%d}" if pd.notna(line["due"]) else "due by service days"
    accepted = f"{100 * float(str(line['accepted'])):g} accepted"
    if kind == "late":
        chance = times_in_100(line["chance_by_window"])
        ends = "is scrap" if line.get("scrap_of") else "is at its limit"
        return f"{chance} {line['what']} {ends} by then ({accepted}); no window comes sooner{tail}"
    if kind == "limit":
        chance, before = times_in_100(line["chance_by_next"]), _next(window, labels)
        ends = "is scrap" if line.get("scrap_of") else "reaches its limit"
        return f"{chance} {line['what']} {ends} before {before} ({accepted}){tail}"
    later = _left_later(line, labels)
    until = later or _could_wait(int(line["waits_until"]), labels)
    if kind == "asked":
        return f"asked for now; {until}{tail}"
    if later and line["need"] != "while_open":
        return f"{later}{tail}"
    if window not in deepest.index or deepest[window] < DEPTHS.index(str(line["depth"])):
        return f"cheaper now than at another opening; {until}{tail}"
    return f"while {STATE[DEPTHS[int(deepest[window])]]} anyway; {until}{tail}"


def _left_later(line: Mapping[Hashable, Any], labels: list[str]) -> str:
    """What it means to leave a line to the next window; empty where that is not known."""
    cost, risk = float(line["later_cost"]), float(line["later_risk"])
    if pd.isna(cost) or pd.isna(risk) or not line["weighs_stops"]:
        return ""
    said = f"left until {labels[int(line['window'])]} it would cost {abs(cost):,.0f} "
    said += "more" if cost >= 0 else "less"
    if risk >= 0.005:
        said += f" and stop the engine {times_in_100(risk)}"
    return said


def _next(window: int, labels: list[str]) -> str:
    return f"the next window ({labels[window]})" if window < len(labels) else END


def _could_wait(node: int, labels: list[str]) -> str:
    if node > len(labels):
        return "it would last beyond the years planned"
    return f"it could wait until {label_of(node, labels)}"
