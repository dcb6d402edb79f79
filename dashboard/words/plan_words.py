"""Words of a plan that its text, its files and its pages share."""

from collections.abc import Hashable, Mapping, Sequence
from typing import Any

import pandas as pd

from models.frequency import times_in, times_in_100

DEPTH_WORDS = {"in_place": "in place", "rods_down": "rods down", "wheels_out": "wheels out"}
"""How deep a window opens the engine, from the least to the most."""

KIND_WORDS = {
    "late": "must",
    "limit": "must",
    "inspection": "must, inspection",
    "asked": "asked for",
    "with_others": "while it is open",
    "pays": "should, it pays",
}
"""Why a line is in the scope, in a word, by ``models.plan.reasons.KINDS``; pays: no kind, but a need."""
PRESSING = ("must", "must, inspection", "asked for", "should, it pays", "while it is open")
"""The same words, what presses most first."""


def why_words(scope: pd.DataFrame) -> pd.Series:
    """Why each line is in the scope, in a word, from its kind and its need (``models.plan.reasons``); plans
    made before there were needs have none."""
    word = scope["kind"].map(KIND_WORDS)
    if "need" not in scope:
        return word
    others = scope["kind"] == "with_others"
    word = word.mask(others & (scope["need"] == "must"), KIND_WORDS["limit"])
    return word.mask(others & (scope["need"] == "should"), KIND_WORDS["pays"])


def stopper_words(row: Mapping[Hashable, Any]) -> str:
    """What stops a vehicle first: a wear point, or a set that is scrap; a row of the frame ``carriers``."""
    # Plans kept before sets were told apart lack the column.
    return f"a scrap tire or rim of {row['scrap_of']}" if row.get("scrap_of") else str(row["point"])


NAMED = 6
"""Wear points that a sentence names; the others are counted."""


def past_words(points: Sequence[str]) -> str:
    """What is past its limit already and so in no chance of stopping later: the wear points of one vehicle in
    the frame ``at_limit`` of a plan; empty where nothing is."""
    if not points:
        return ""
    more = f" and {len(points) - NAMED} more" if len(points) > NAMED else ""
    return (
        f"Past the limit already, so that the engine may not run: {', '.join(points[:NAMED])}{more}. The "
        "chances leave this out."
    )


NO_SOONER = "no window comes sooner"
NO_DIFFERENCE = 0.5
"""Difference of two sums that is none. [money]"""
NO_RISK = 0.005
"""Stopped seasons that are not told. [1]"""
CHANGE_WORDS = {
    "sooner": "sooner",
    "later": "later",
    "added": "added",
    "dropped": "dropped",
    "done": "done",
}
"""What a plan does to a line of the approved one, by ``models.plan.what_if.CHANGE_COLUMNS``."""


def changed_words(changes: pd.DataFrame, approved: str) -> str:
    """How many lines a plan changes in the approved one, in a sentence; empty where none is approved."""
    if not approved:
        return ""
    counts = changes["change"].value_counts()
    said = ", ".join(f"{counts[name]} {word}" for name, word in CHANGE_WORDS.items() if name in counts)
    return f"Changed since the approved plan {approved}: {said or 'nothing'}."


def done_words(table: pd.DataFrame) -> str:
    """How many lines were done when, from ``models.plan.what_if.against_done``."""
    counts = table["verdict"].value_counts()
    return ", ".join(f"{count} {verdict}" for verdict, count in counts.items()) or "nothing to compare"


def moved_words(row: Mapping[Hashable, Any]) -> str:
    """From which window to which a line is moved; a row of the frame ``changes``."""
    return " → ".join(str(place) for place in (row["was"], row["now"]) if place)


CANNOT_WAIT = "it cannot wait until "


def why_not(scope: pd.DataFrame, windows: pd.DataFrame) -> pd.DataFrame:
    """Why each line is not done a window later, and not a window sooner.

    Parameters
    ----------
    scope : lines of a plan; plans made before lines were weighed so lack ``later_cost`` and its like.
    windows : of the plan: vehicle, window, label.

    Returns
    -------
    not_later, not_sooner : sentences, by the index of ``scope``; empty where the plan does not say.
    """
    said = {"not_later": [""] * len(scope), "not_sooner": [""] * len(scope)}
    if {"later_cost", "sooner_cost"} <= set(scope):
        labels = {
            (row["vehicle"], int(row["window"])): str(row["label"]) for row in windows.to_dict("records")
        }
        planned = set(zip(scope["vehicle"], scope["job"], scope["window"].astype(int), strict=True))
        lines = scope.to_dict("records")
        said = {
            "not_later": [_not_moved(row, "later", 1, labels, planned) for row in lines],
            "not_sooner": [_not_moved(row, "sooner", -1, labels, planned) for row in lines],
        }
    return pd.DataFrame(said, index=scope.index)


def beside_reason(scope: pd.DataFrame) -> pd.DataFrame:
    """Lines with what :func:`why_not` says of them, without what their reason says already, or what holds of
    all lines of the first window."""
    said = []
    told = zip(scope["reason"].astype(str), scope["kind"], scope["not_later"], strict=True)
    for reason, kind, words in told:
        until = words.removeprefix("in ").split(" it would ")[0]
        again = reason == words or f"left until {until} it would " in reason
        # That it is at its limit by the next window is the reason itself.
        again = again or (kind in ("late", "limit") and words.startswith(CANNOT_WAIT))
        said.append("" if again else words)
    return scope.assign(not_later=said, not_sooner=scope["not_sooner"].replace(NO_SOONER, ""))


def _not_moved(
    row: Mapping[Hashable, Any],
    way: str,
    step: int,
    labels: Mapping[tuple[Any, int], str],
    planned: set[tuple[Any, Any, int]],
) -> str:
    """What it would mean to do a line one window later or sooner, or why it cannot be."""
    window = int(row["window"]) + step
    to = labels.get((row["vehicle"], window))
    if to is None:
        return "no window comes later in the years planned" if step > 0 else NO_SOONER
    if row["kind"] == "inspection" and step > 0:
        return str(row["reason"])
    cost, risk = float(row[f"{way}_cost"]), float(row[f"{way}_risk"])
    if pd.isna(cost):
        if (row["vehicle"], row["job"], window) in planned:
            return f"in {to} it is done anyway"
        return f"{CANNOT_WAIT}{to}" if step > 0 else f"it cannot be had or done by {to}"
    parts = []
    if abs(cost) >= NO_DIFFERENCE:
        parts.append(f"cost {abs(cost):,.0f} {'more' if cost > 0 else 'less'}")
    if abs(risk) >= NO_RISK:
        times = times_in_100(abs(risk))
        parts.append(f"stop the engine {times}{'' if risk > 0 else ' less'}")
    return f"in {to} it would {' and '.join(parts) or 'cost the same'}"


def trips_words(engines: pd.DataFrame) -> list[str]:
    """What the share of the next season's trains is for each engine; from the frame ``trip_engines``."""
    said = []
    for row in engines.to_dict("records"):
        days, miles = f"{row['days']:.0f} days", f"{row['miles']:,.0f} miles"
        words = f"{row['vehicle']}: {days}, {miles}, stopped {times_in(float(row['chance']))}"
        if pd.notna(row["days_before"]):
            before = f"{row['days_before']:.0f} days, {row['miles_before']:,.0f} miles"
            words += f" (as they are given now: {before}, {times_in(float(row['chance_before']))})"
        said.append(words + ".")
    return said


def stops_words(seasons: pd.DataFrame) -> str:
    """How often an engine must be taken out of service with its plan.

    Parameters
    ----------
    seasons : of one vehicle, columns ``RISK_COLUMNS`` of ``models.plan.engine``, one season at least that the
        plan can change.
    """
    ahead = seasons[seasons["season"] > 0]
    worst = ahead.sort_values("with_plan", kind="stable").iloc[-1]
    mean, most = (times_in(float(chance)) for chance in (ahead["with_plan"].mean(), worst["with_plan"]))
    said = (
        f"With this plan it must be taken out of service in a season {mean}, the mean of the seasons "
        f"planned; most often in {worst['label']}, {most}."
    )
    for row in seasons[seasons["season"] == 0].to_dict("records"):
        chance = times_in(float(row["with_plan"]))
        said += f" Before the first window, {row['label']}, {chance}, whatever is planned."
    return said
