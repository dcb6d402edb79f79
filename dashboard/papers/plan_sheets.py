"""The sheets of a plan's workbook: what stands in which column, in what form."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from dashboard.papers.plan_assumptions import plan_assumptions
from dashboard.papers.plan_sets import plan_sets
from dashboard.services.planning import PlanResult
from dashboard.words.cautions import INVENTED, PLAN_CAUTION
from dashboard.words.plan_words import DEPTH_WORDS

Column = tuple[str, str, float]
"""Heading, kind (text, number, money, chance, date), width in characters."""


@dataclass(frozen=True)
class Sheet:
    """One sheet: its columns and rows of values in their order."""

    name: str
    columns: Sequence[Column]
    rows: Sequence[Sequence[Any]]


def sheets_of(result: PlanResult) -> list[Sheet]:
    """All sheets of the plan; the scope comes first, with empty columns for a contractor's figures."""
    plan = result.plan
    scope = plan.scope.assign(
        depth=plan.scope["depth"].map(DEPTH_WORDS), quoted=None, quoted_hours=None, remarks=None
    )
    windows = plan.windows.assign(depth=plan.windows["depth"].map(DEPTH_WORDS).fillna("not opened"))
    return [
        _sheet("Scope", scope, SCOPE),
        _sheet("Dimensions", plan.points, POINTS),
        _sheet("Windows", windows, WINDOWS),
        _sheet("Amounts", result.amounts, AMOUNTS),
        _sheet("Amounts by line", result.lines, LINES),
        _sheet("Tires and rims", plan_sets(result.turnings, plan.scope), SETS),
        _sheet("Risk of waiting", plan.risk, RISK),
        _sheet("Stopped by", plan.carriers, CARRIERS),
        _sheet("Over the risk", plan.late, LATE),
        _sheet("Look at too", plan.not_planned, MISSING),
        _sheet("Assumptions", plan_assumptions(result.about), ASSUMPTIONS),
        Sheet("About", [("what", "text", 24), ("value", "text", 90)], _about(result)),
    ]


def caution_of(result: PlanResult) -> str:
    """What stands on every page of a plan; the demo's says too that the railway is invented."""
    return f"{INVENTED} {PLAN_CAUTION}" if result.about.get("invented") else PLAN_CAUTION


def _sheet(name: str, frame: pd.DataFrame, columns: Mapping[str, Column]) -> Sheet:
    shown = frame.reindex(columns=list(columns)).replace([np.inf, -np.inf], np.nan).astype(object)
    rows = shown.where(shown.notna(), None).to_numpy().tolist()
    return Sheet(name, list(columns.values()), rows)


def _about(result: PlanResult) -> list[list[str]]:
    rows: list[list[str]] = [["caution", caution_of(result)]]
    for name, value in result.about.items():
        if isinstance(value, dict):
            rows += [[f"{name}: {key}", str(item)] for key, item in value.items()]
        else:
            rows.append([name, ", ".join(map(str, value)) if isinstance(value, list) else str(value)])
    totals = result.plan.totals
    rows += [[f"{row.vehicle}: {row.what}", f"{row.amount:,.4g}"] for row in totals.itertuples()]
    return rows


VEHICLE: dict[str, Column] = {"vehicle": ("vehicle", "text", 12)}
WINDOW: dict[str, Column] = {**VEHICLE, "label": ("window", "text", 20)}
CHANCES: dict[str, Column] = {
    "chance_by_window": ("chance at its limit by the window", "chance", 12),
    "chance_by_next": ("by the next window", "chance", 12),
}
SCOPE: dict[str, Column] = {
    **WINDOW,
    "opens": ("opens", "date", 12),
    "depth": ("opened to", "text", 12),
    "component": ("component", "text", 22),
    "action": ("work", "text", 12),
    "position": ("positions", "text", 36),
    "parts": ("parts", "number", 7),
    "labor_hours": ("hours", "number", 8),
    "days_out": ("days", "number", 7),
    "cost": ("price today", "money", 12),
    "currency": ("currency", "text", 9),
    "reason": ("why", "text", 60),
    **CHANCES,
    "unused_miles": ("unused miles", "money", 12),
    "quoted": ("quoted price", "money", 12),
    "quoted_hours": ("quoted hours", "number", 12),
    "remarks": ("remarks", "text", 30),
}
POINTS: dict[str, Column] = {
    **WINDOW,
    "point": ("wear point", "text", 22),
    "component": ("component", "text", 22),
    "position": ("position", "text", 18),
    "quantity": ("quantity", "text", 18),
    "unit": ("unit", "text", 8),
    "last_value": ("last reading", "number", 11),
    "last_date": ("read on", "date", 12),
    "p10": ("at the window, 10 %", "number", 11),
    "p50": ("50 %", "number", 11),
    "p90": ("90 %", "number", 11),
    "new_value": ("new", "number", 9),
    "shop_limit": ("shop limit", "number", 9),
    "condemning_limit": ("condemning limit", "number", 11),
    **CHANCES,
    "accepted": ("accepted", "chance", 10),
    "unused_miles": ("unused miles", "money", 12),
    "cheapest_age": ("cheapest per mile to renew at miles", "money", 12),
    "life": ("renewals before", "number", 10),
}
WINDOWS: dict[str, Column] = {
    **WINDOW,
    "opens": ("opens", "date", 12),
    "closes": ("closes", "date", 12),
    "days": ("days", "number", 7),
    "source": ("found", "text", 10),
    "depth": ("opened to", "text", 12),
    "lines": ("lines", "number", 7),
    "cost": ("jobs, price today", "money", 14),
    "opening_cost": ("opening", "money", 12),
    "labor_hours": ("hours", "number", 9),
    "days_needed": ("days needed", "number", 9),
    "lost_days": ("days lost", "number", 9),
}
AMOUNTS: dict[str, Column] = {
    **WINDOW,
    "opens": ("opens", "date", 12),
    "planned_today": ("planned, price today", "money", 14),
    "p10": ("enough 1 time in 10", "money", 14),
    "p50": ("enough 5 times in 10", "money", 12),
    "p80": ("enough 8 times in 10", "money", 12),
    "p90": ("enough 9 times in 10", "money", 12),
    "mean": ("mean", "money", 12),
    "hours_planned": ("hours planned", "money", 10),
    "hours_p50": ("hours, 5 times in 10", "money", 10),
    "hours_p80": ("hours, 8 times in 10", "money", 10),
}
LINES: dict[str, Column] = {
    **WINDOW,
    "kind": ("kind", "text", 10),
    "component": ("component", "text", 24),
    "action": ("work", "text", 14),
    "parts": ("parts, mean", "number", 10),
    "mean": ("mean", "money", 12),
    "at50": ("part of the amount enough 5 times in 10", "money", 14),
    "at80": ("part of the amount enough 8 times in 10", "money", 14),
}
SETS: dict[str, Column] = {
    **VEHICLE,
    "matched_set": ("set", "text", 20),
    "positions": ("positions", "text", 40),
    "policy": ("turned", "text", 16),
    "done": ("in this plan", "text", 40),
    "turnings_p50": ("turnings left, middle", "number", 10),
    "turnings_p10": ("8 times in 10 from", "number", 10),
    "turnings_p90": ("to", "number", 8),
    "miles_p05": ("miles to scrap, 1 in 20 within", "money", 12),
    "miles_p50": ("half within", "money", 12),
    "miles_p95": ("19 in 20 within", "money", 12),
    "next_turnings_p50": ("new set: turnings, middle", "number", 10),
    "next_turnings_mean": ("on average", "number", 10),
    "next_life_p50": ("new set: miles to scrap, half within", "money", 14),
}
RISK: dict[str, Column] = {
    **VEHICLE,
    "month": ("by the end of", "date", 14),
    "without_work": ("chance to stop without work", "chance", 16),
    "with_plan": ("with the plan", "chance", 16),
}
CARRIERS: dict[str, Column] = {
    **VEHICLE,
    "point": ("wear point", "text", 24),
    "without_work": ("first to stop it, without work", "chance", 16),
    "with_plan": ("with the plan", "chance", 16),
}
LATE: dict[str, Column] = {
    **VEHICLE,
    "point": ("wear point", "text", 40),
    "label": ("by", "text", 30),
    "chance": ("chance at its limit", "chance", 12),
    "accepted": ("accepted", "chance", 12),
}
ASSUMPTIONS: dict[str, Column] = {
    "assumption": ("assumption", "text", 60),
    "value": ("value", "text", 18),
    "unit": ("unit", "text", 14),
    "source": ("source", "text", 50),
}
MISSING: dict[str, Column] = {
    **VEHICLE,
    "point": ("wear point or inspection", "text", 44),
    "reason": ("why it is not in the plan", "text", 70),
}
