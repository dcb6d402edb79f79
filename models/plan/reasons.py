"""Why a line is in a scope, in words and as a kind."""

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from models.plan.jobs import DEPTHS

KINDS = ("late", "limit", "asked", "inspection", "with_others")
"""late: over the accepted risk already, no window comes sooner; limit: would be over it by the next window;
asked: the railway wants it now; inspection: a clock falls due; with_others: could wait, but is cheaper with
what is done anyway."""

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


def governing(ended: pd.DataFrame) -> int:
    """Row label of the life that is furthest over its accepted risk by the next window, or nearest below
    it."""
    over = ended["chance_by_next"] - ended["accepted"]
    return int(over.sort_values(ascending=False, kind="stable").index[0])


def reasons(lines: pd.DataFrame, labels: list[str]) -> list[str]:
    """One reason a line.

    Parameters
    ----------
    lines : window, depth, kind, component, parts, matched_set, what (words for the governing wear point),
        chance_by_window, chance_by_next, accepted, waits_until (node up to which it could wait), due.
    labels : label of each window of the vehicle, in order.
    """
    must = lines[lines["kind"] != "with_others"]
    deepest = must["depth"].map(DEPTHS.index).groupby(must["window"]).max()
    return [_reason(line, labels, deepest) for line in lines.to_dict("records")]


def percent(chance: float) -> str:
    """A chance as people read it."""
    if chance < 0.005:
        return "under 1 %"
    return "over 99 %" if chance >= 0.995 else f"{100 * chance:.0f} %"


def label_of(node: int, labels: list[str]) -> str:
    """Label of a node: a window, or the end of the horizon."""
    return labels[node - 1] if 1 <= node <= len(labels) else END


def _reason(line: Mapping[Hashable, Any], labels: list[str], deepest: pd.Series) -> str:
    window, kind = int(line["window"]), str(line["kind"])
    tail = f"; matched set of {line['parts']}" if line["matched_set"] and int(line["parts"]) > 1 else ""
    if kind == "inspection":
        return f"inspection due by {line['due']:%Y-%m-%d}" if pd.notna(line["due"]) else "due by service days"
    accepted = f"{percent(float(str(line['accepted'])))} accepted"
    if kind == "late":
        chance = percent(line["chance_by_window"])
        return (
            f"{chance} that {line['what']} is at its limit by then ({accepted}); no window comes sooner{tail}"
        )
    if kind == "limit":
        chance, before = percent(line["chance_by_next"]), _next(window, labels)
        return f"{chance} that {line['what']} reaches its limit before {before} ({accepted}){tail}"
    until = _could_wait(int(line["waits_until"]), labels)
    if kind == "asked":
        return f"asked for now; {until}{tail}"
    if window not in deepest.index or deepest[window] < DEPTHS.index(str(line["depth"])):
        return f"cheaper now than at another opening; {until}{tail}"
    return f"while {STATE[DEPTHS[int(deepest[window])]]} anyway; {until}{tail}"


def _next(window: int, labels: list[str]) -> str:
    return f"the next window ({labels[window]})" if window < len(labels) else END


def _could_wait(node: int, labels: list[str]) -> str:
    if node > len(labels):
        return "it would last beyond the years planned"
    return f"it could wait until {label_of(node, labels)}"
