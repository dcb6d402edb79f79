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
from dashboard.words.plan_words import DEPTH_WORDS, why_not, why_words

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
        depth=plan.scope["depth"].map(DEPTH_WORDS),
        need=why_words(plan.scope),
        **why_not(plan.scope, plan.windows),
        quoted=None,
        quoted_hours=None,
        remarks=None,
    )
    windows = plan.windows.assign(depth=plan.windows["depth"].map(DEPTH_WORDS).fillna("not opened"))
    return [
        _sheet("Scope", scope, SCOPE),
        _sheet("Dimensions", plan.points, POINTS),
        _sheet("Windows", windows, WINDOWS),
        _sheet("Amounts", result.amounts, AMOUNTS),
        _sheet("Amounts by line", result.lines, LINES),
        _sheet("Tires and rims", plan_sets(result.turnings, plan.scope), SETS),
        _sheet("Measure first", result.measure_first, MEASURE),
        _sheet("Changed", result.changes, CHANGED),
        _sheet("Stopped seasons", plan.engine_risk, SEASONS),
        _sheet("Cost against risk", _frontier(plan.frontier), FRONTIER),
        _sheet("Risk of waiting", plan.risk, RISK),
        _sheet("Stopped by", plan.carriers, CARRIERS),
        _sheet("Planned late", plan.late, LATE),
        _sheet("Not in the plan", plan.not_planned, MISSING),
        _sheet("Assumptions", plan_assumptions(result.about), ASSUMPTIONS),
        Sheet("About", [("what", "text", 24), ("value", "text", 90)], _about(result)),
    ]


def _frontier(frontier: pd.DataFrame) -> pd.DataFrame:
    return frontier.assign(chosen=frontier["chosen"].map({True: "yes", False: ""}))


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
        if name == "turning_taken":
            continue  # among the assumptions
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
    "chance_by_window": ("times in 100 at its limit, or scrap with its set, by the window", "chance", 12),
    "chance_by_next": ("times in 100 by the next window", "chance", 12),
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
    "need": ("need", "text", 18),
    "reason": ("why", "text", 60),
    "not_later": ("why not a window later", "text", 40),
    "not_sooner": ("why not a window sooner", "text", 40),
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
    "p10": ("at the window, 1 time in 10 below", "number", 11),
    "p50": ("5 times in 10 below", "number", 11),
    "p90": ("9 times in 10 below", "number", 11),
    "new_value": ("new", "number", 9),
    "shop_limit": ("shop limit", "number", 9),
    "condemning_limit": ("condemning limit", "number", 11),
    **CHANCES,
    "accepted": ("accepted, times in 100", "chance", 10),
    "unused_miles": ("unused miles", "money", 12),
    "cheapest_age": ("cheapest per mile to renew at miles", "money", 12),
    "life": ("renewals before", "number", 10),
}
MEASURE: dict[str, Column] = {
    **VEHICLE,
    "rank": ("rank", "number", 7),
    "stop": ("place in the walk", "number", 9),
    "component": ("component", "text", 22),
    "position": ("position", "text", 18),
    "quantity": ("quantity", "text", 18),
    "access": ("reached", "text", 12),
    "last_date": ("last read", "date", 12),
    "minutes": ("minutes", "number", 9),
    "saves": ("may save", "money", 12),
    "carries": ("work that depends on it", "money", 12),
}
CHANGED: dict[str, Column] = {
    **VEHICLE,
    "change": ("change", "text", 10),
    "component": ("component", "text", 22),
    "action": ("work", "text", 12),
    "position": ("positions", "text", 36),
    "was": ("approved for", "text", 20),
    "now": ("now", "text", 20),
    "cost": ("price today", "money", 12),
    "why": ("why", "text", 60),
}
SEASONS: dict[str, Column] = {
    **VEHICLE,
    "label": ("season", "text", 20),
    "without_work": ("stopped without work", "chance", 12),
    "with_plan": ("with this plan", "chance", 12),
}
FRONTIER: dict[str, Column] = {
    **VEHICLE,
    "chance": ("chance of a stopped season", "chance", 12),
    "money": ("work and lost days", "money", 12),
    "openings": ("openings, rods down or deeper", "number", 12),
    "stop_price": ("price of a stopped season", "money", 12),
    "chosen": ("this plan", "text", 10),
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
    "miles_p05": ("miles to scrap, 1 in 20 after", "money", 12),
    "miles_p50": ("half after", "money", 12),
    "miles_p95": ("19 in 20 after", "money", 12),
    "next_turnings_p50": ("new set: turnings, middle", "number", 10),
    "next_turnings_mean": ("on average", "number", 10),
    "next_life_p50": ("new set: miles to scrap, half after", "money", 14),
}
RISK: dict[str, Column] = {
    **VEHICLE,
    "month": ("by the end of", "date", 14),
    "without_work": ("times in 100 stopped without work", "chance", 16),
    "with_plan": ("with the plan", "chance", 16),
}
CARRIERS: dict[str, Column] = {
    **VEHICLE,
    "point": ("wear point", "text", 24),
    "scrap_of": ("or scrap of the set", "text", 20),
    "without_work": ("times in 100 first to stop it, without work", "chance", 16),
    "with_plan": ("with the plan", "chance", 16),
}
LATE: dict[str, Column] = {
    **VEHICLE,
    "point": ("wear point", "text", 40),
    "label": ("by", "text", 30),
    "chance": ("times in 100 at its limit, or scrap with its set", "chance", 12),
    "accepted": ("accepted, times in 100", "chance", 12),
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
