"""A plan as text, no wider than 100 columns."""

import textwrap
from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from dashboard.papers.plan_assumptions import plan_assumptions
from dashboard.papers.plan_sets import plan_sets, set_miles
from dashboard.services.planning import PlanResult
from dashboard.words.cautions import PLAN_CAUTION
from dashboard.words.plan_words import (
    DEPTH_WORDS,
    beside_reason,
    changed_words,
    done_words,
    moved_words,
    past_words,
    stopper_words,
    trips_words,
    why_not,
)
from models.case.money import only_currency
from models.frequency import of_100, times_in_100
from models.plan.jobs import DEPTHS

WIDTH = 100
WORTH_TELLING = 0.5
"""A gap to the best plan beyond which its figure tells a reader nothing. Practice, no source. [1]"""
CLOCK = "inspection: "
"""How an inspection begins in the frame ``not_planned``, where wear points stand by their name."""
FEW = 6
"""Rows shown of lists that may be long."""

MANY = 12
"""Changes shown of a list that may be long."""

Row = Mapping[Hashable, Any]


def as_text(result: PlanResult, *, every: bool = False) -> str:
    """The plan of every vehicle: windows, scope of the next one (of all with ``every``), risk, what is not in
    it."""
    vehicles = list(dict.fromkeys(result.plan.windows["vehicle"]))
    parts = [_vehicle(result, str(name), every) for name in vehicles]
    more = [*_trips(result), *_changed(result), *_assumed(result)]
    return "\n\n".join([*parts, *more, _wrap(PLAN_CAUTION)])


def _trips(result: PlanResult) -> list[str]:
    """Which engine is best given how many of the next season's trains; which trains, --trips writes."""
    if result.trips.empty:
        return []
    changed = int((result.trips["vehicle"] != result.trips["was"]).sum())
    head = f"Trains of the next season: {len(result.trips)}, {changed} to another engine than now."
    said = [
        textwrap.fill(words, WIDTH, initial_indent="  ", subsequent_indent="    ")
        for words in trips_words(result.trip_engines)
    ]
    return ["\n".join([head, *said])]


def _changed(result: PlanResult) -> list[str]:
    """What the plan changes in the approved one, the next windows first."""
    approved = str(result.about.get("changes_since") or "")
    if not approved:
        return []
    lines = [_wrap(changed_words(result.changes, approved))]
    shown = result.changes[result.changes["change"] != "done"]
    for row in shown.head(MANY).to_dict("records"):
        title = f"{row['vehicle']}, {row['component']} {row['action']} {row['position']}"
        title = textwrap.shorten(title, 50, placeholder=" …")
        lines.append(f"  {row['change']:<8}{title:<52}{moved_words(row)}")
        lines.append(textwrap.indent(_wrap(str(row["why"]), WIDTH - 10), " " * 10))
    if len(shown) > MANY:
        lines.append(f"  and {len(shown) - MANY} more (--json lists all)")
    return ["\n".join(lines)]


def _assumed(result: PlanResult) -> list[str]:
    """What the plan assumes, with the source of each value."""
    rows = plan_assumptions(result.about).to_dict("records")
    said = []
    for row in rows:
        line = f"{row['assumption']}: {row['value']} {row['unit']}".rstrip() + f" [{row['source']}]"
        said.append(textwrap.fill(line, WIDTH, initial_indent="  ", subsequent_indent="    "))
    return ["\n".join(["Assumed:", *said])] if said else []


def grouped(scope: pd.DataFrame) -> pd.DataFrame:
    """Lines of the same work for the same kind of reason as one: deepest work first, then what presses
    most."""
    rows = []
    for (window, depth, component, action, kind), alike in scope.groupby(
        ["window", "depth", "component", "action", "kind"], sort=False
    ):
        first = alike.sort_values("chance_by_next", ascending=False, na_position="last").iloc[0]
        rows.append(
            {
                "window": window,
                "depth": depth,
                "component": component,
                "action": action,
                "kind": kind,
                "positions": ", ".join(p for p in alike["position"] if p),
                "parts": int(alike["parts"].sum()),
                "cost": float(alike["cost"].sum(min_count=1)),
                "labor_hours": float(alike["labor_hours"].sum()),
                "reason": str(first["reason"]),
                "not_later": str(first["not_later"]),
                "not_sooner": str(first["not_sooner"]),
                "more": len(alike) - 1,
                "chance": float(first["chance_by_next"]),
            }
        )
    table = pd.DataFrame(rows)
    if table.empty:
        return table
    order = table.assign(_depth=-table["depth"].map(DEPTHS.index), _chance=-table["chance"].fillna(0.0))
    return order.sort_values(["window", "_depth", "_chance", "component"]).drop(columns=["_depth", "_chance"])


def compared(table: pd.DataFrame) -> str:
    """Plans side by side."""
    names = [str(name) for name in table.columns[3:]]
    parts = []
    for vehicle, figures in table.groupby("vehicle", sort=False):
        lines = [f"{vehicle!s:<62}" + "".join(f"{name[:18]:>19}" for name in names)]
        for row in figures.to_dict("records"):
            chance = str(row["figure"]).startswith("stop")
            cells = "".join(f"{_figure(row[name], chance):>19}" for name in names)
            lines.append(f"  {row['what']!s:<60}{cells}")
        parts.append("\n".join(lines))
    return "\n\n".join(parts)


def done_text(table: pd.DataFrame) -> str:
    """A plan against what was done."""
    lines = [done_words(table)]
    shown = table[~table["verdict"].isin(["not yet due", "done in its window"])]
    for row in shown.head(40).to_dict("records"):
        when = f"{row['done']:%Y-%m-%d}" if pd.notna(row["done"]) else "-"
        lines.append(f"  {row['point']!s:<32}{row['label']!s:<22}{when:<12}{row['verdict']}")
    if len(shown) > 40:
        lines.append(f"  and {len(shown) - 40} more (--json lists all)")
    return "\n".join(lines)


def _vehicle(result: PlanResult, vehicle: str, every: bool) -> str:
    plan = result.plan
    windows = plan.windows[plan.windows["vehicle"] == vehicle]
    scope = plan.scope[plan.scope["vehicle"] == vehicle]
    scope = beside_reason(scope.join(why_not(scope, windows)))
    parts = [_head(result, vehicle, windows, scope), _windows(result, vehicle, windows)]
    used = windows[windows["lines"] > 0]["window"].tolist()
    for window in used if every else used[:1]:
        parts.append(_scope(windows[windows["window"] == window].iloc[0].to_dict(), scope, every))
    if not every and len(used) > 1:
        parts.append("  The scope of the other windows: --all, or --out FILE.xlsx.")
    parts += [_tires(result, vehicle), _seasons(result, vehicle), _frontier(result, vehicle)]
    parts += [_risk(result, vehicle)]
    parts += [_late(result, vehicle), _missing(result, vehicle)]
    return "\n\n".join(part for part in parts if part)


def _head(result: PlanResult, vehicle: str, windows: pd.DataFrame, scope: pd.DataFrame) -> str:
    totals = result.plan.totals
    amounts = totals[totals["vehicle"] == vehicle].set_index("what")["amount"]
    used = windows[windows["lines"] > 0]
    currency = _currency(result, vehicle)
    spent = _money(amounts["jobs"] + amounts["opening"])
    line = (
        f"{vehicle}: {len(used)} of {len(windows)} windows used in {result.about['years']:g} years,"
        f" {spent}{currency} of work at today's prices, {amounts['lost_days']:,.0f}{currency} of lost days."
    )
    missing = int((scope["cost"].isna() & (scope["kind"] != "inspection")).sum())
    if missing:
        line += (
            f" {missing} lines have no price: they are in no sum, and weigh as the highest or the middle"
            " price of the others."
        )
    gap = amounts["gap"]
    return f"{_wrap(line)}\n{_gap_words(float(gap))}"


def _gap_words(gap: float) -> str:
    """How far the plan may be from the best one; a bound that says nothing is not told as a figure."""
    if gap < WORTH_TELLING:
        return f"It costs at most {100 * gap:.1f} % more than the best plan there can be."
    return "The search could not tell how near this is to the best plan there can be; try --effort 4."


def _windows(result: PlanResult, vehicle: str, windows: pd.DataFrame) -> str:
    amounts = result.amounts
    own_amounts = amounts[amounts["vehicle"] == vehicle].set_index("window") if len(amounts) else amounts
    names = f"{'lines':>6}{'hours':>7}{'lost':>6}{'today':>11}{'5 times':>11}{'8 times':>11}"
    above = f"{'enough, of 10 times:':>{len(names) + 39}}"
    lines = [above, f"  {'window':<20}{'days':>5} {'opened to':<11}{names}"]
    for row in windows[windows["lines"] > 0].to_dict("records"):
        amount = own_amounts.loc[row["window"]] if row["window"] in own_amounts.index else None
        today = row["cost"] + row["opening_cost"]
        low, high = ("-", "-") if amount is None else (_money(amount["p50"]), _money(amount["p80"]))
        lost = f"{row['lost_days']:.0f}" if row["lost_days"] >= 0.5 else "-"
        lines.append(
            f"  {row['label']!s:<20}{row['days']:>5} {DEPTH_WORDS.get(row['depth'], '-'):<11}"
            f"{row['lines']:>6}{row['labor_hours']:>7,.0f}{lost:>6}{_money(today):>11}{low:>11}{high:>11}"
        )
    lines.append("  Enough 5 and 8 times in 10: with hidden defects, faster wear and prices of the day.")
    return "\n".join(lines)


def _scope(window: Row, scope: pd.DataFrame, whole: bool) -> str:
    """Lines of a window; with ``whole`` also why each is not done later or sooner."""
    lines = [f"  Scope of {window['label']} ({DEPTH_WORDS.get(str(window['depth']), 'not opened')}):"]
    table = grouped(scope[scope["window"] == window["window"]])
    for row in table.to_dict("records"):
        inspection = row["kind"] == "inspection"
        cost = _money(row["cost"]) if pd.notna(row["cost"]) else "-" if inspection else "no price"
        count = f"{row['parts']} × " if row["parts"] > 1 else ""
        title = f"  {count}{row['component']}" + ("" if inspection else f" {row['action']}")
        where = f": {row['positions']}" if row["positions"] else ""
        text = textwrap.shorten(title + where, WIDTH - 16, placeholder=" …")
        lines.append(f"    {text:<{WIDTH - 16}}{cost:>12}")
        more = f" (the most pressing of {row['more'] + 1})" if row["more"] else ""
        said = [row["reason"] + more]
        if whole:
            said += [f"not {way}: {row[f'not_{way}']}" for way in ("later", "sooner") if row[f"not_{way}"]]
        lines += [textwrap.indent(_wrap(text, WIDTH - 8), " " * 8) for text in said]
    return "\n".join(lines)


def _tires(result: PlanResult, vehicle: str) -> str:
    """What the turnings leave of the tires, as ``tires`` tells it, and what the plan does to them."""
    sets = result.turnings[result.turnings["vehicle"] == vehicle] if len(result.turnings) else result.turnings
    if sets.empty:
        return ""
    lines = [
        f"  Tires and rims, turned {sets['policy'].iloc[0]}:",
        f"    {'set':<26}{'turnings left':>13}{'scrap, half':>13}{'new: turnings':>15}{'scrap, half':>13}",
    ]
    for row in plan_sets(sets, result.plan.scope).to_dict("records"):
        left, new = (set_miles(row[name]) for name in ("miles_p50", "next_life_p50"))
        lines.append(
            f"    {row['matched_set']!s:<26}{row['turnings_p50']:>13.0f}{left:>13}"
            f"{row['next_turnings_p50']:>15.0f}{new:>13}"
        )
        lines.append(f"        in this plan: {row['done']}")
    return "\n".join(lines)


def _seasons(result: PlanResult, vehicle: str) -> str:
    """Chance of each season that the engine must be taken out of service."""
    risk = result.plan.engine_risk[result.plan.engine_risk["vehicle"] == vehicle]
    if risk.empty:
        return ""
    mean = risk.loc[risk["season"] > 0, "with_plan"].mean()
    accepted = result.plan.rules.stop_risk
    asked = "" if accepted is None else f", {of_100(accepted)} accepted"
    said = f" (mean {of_100(mean)}{asked})" if pd.notna(mean) else ""
    lines = [
        f"  Seasons in 100 in which it must be taken out of service{said}:",
        f"    {'season':<54}{'without work':>18}{'with this plan':>17}",
    ]
    for row in risk.to_dict("records"):
        without, planned = of_100(row["without_work"]), of_100(row["with_plan"])
        lines.append(f"    {row['label']!s:<54}{without:>18}{planned:>17}")
    return "\n".join(lines)


def _frontier(result: PlanResult, vehicle: str) -> str:
    """What less or more risk would cost."""
    rungs = result.plan.frontier[result.plan.frontier["vehicle"] == vehicle]
    if len(rungs) < 2:
        return ""
    lines = [
        "  What less risk costs; choose with --risk:",
        f"    {'stopped seasons in 100':<34}{'work and lost days':>20}{'openings':>10}",
    ]
    for row in rungs.to_dict("records"):
        mark = "  this plan" if row["chosen"] else ""
        chance = of_100(row["chance"])
        lines.append(f"    {chance:<34}{_money(row['money']):>20}{row['openings']:>10}{mark}")
    return "\n".join(lines)


def _risk(result: PlanResult, vehicle: str) -> str:
    risk = result.plan.risk[result.plan.risk["vehicle"] == vehicle].sort_values("month")
    if risk.empty:
        return ""
    lines = [
        "  Times in 100 that it must stop in mid-season by the end of:      without work   with this plan"
    ]
    years = risk.groupby(risk["month"].dt.year).last()
    for year, row in list(years.iterrows())[:4]:
        without, planned = of_100(row["without_work"]), of_100(row["with_plan"])
        lines.append(f"    {year!s:<64}{without:>14}{planned:>17}")
    at_limit = result.plan.at_limit
    past = past_words(at_limit.loc[at_limit["vehicle"] == vehicle, "point"].tolist())
    lines += [textwrap.indent(_wrap(past, WIDTH - 4), " " * 4)] if past else []
    carriers = result.plan.carriers[result.plan.carriers["vehicle"] == vehicle].head(3)
    if len(carriers):
        lines.append("  Without work most likely stopped by:")
    for first in carriers.to_dict("records"):
        lines.append(f"    {stopper_words(first):<64}{times_in_100(first['without_work']):>26}")
    return "\n".join(lines)


def _late(result: PlanResult, vehicle: str) -> str:
    late = result.plan.late[result.plan.late["vehicle"] == vehicle]
    if late.empty:
        return ""
    lines = [
        f"  {len(late)} planned late, past the accepted risk before a window comes;",
        "  how often at the limit, or scrap with the set, by then:",
    ]
    for row in late.sort_values("chance", ascending=False).head(FEW).to_dict("records"):
        lines.append(f"    {row['point']!s:<40}{times_in_100(row['chance']):>26} by {row['label']}")
    return "\n".join([*lines, *_rest(len(late))])


def _missing(result: PlanResult, vehicle: str) -> str:
    missing = result.plan.not_planned[result.plan.not_planned["vehicle"] == vehicle]
    if missing.empty:
        return ""
    clocks = missing["point"].astype(str).str.startswith(CLOCK)
    lines = []
    for rows, words in (
        (missing[~clocks], "not in the plan, to be examined at each opening"),
        (missing[clocks], "of its inspections not in the plan: keep their days by hand"),
    ):
        if len(rows):
            lines.append(f"  {len(rows)} {words}:")
        for row in rows.head(FEW).to_dict("records"):
            said = f"{str(row['point']).removeprefix(CLOCK)}: {row['reason']}"
            lines.append(textwrap.fill(said, WIDTH, initial_indent=" " * 4, subsequent_indent=" " * 6))
        lines += _rest(len(rows))
    return "\n".join(lines)


def _rest(count: int) -> list[str]:
    return [f"    and {count - FEW} more"] if count > FEW else []


def _currency(result: PlanResult, vehicle: str) -> str:
    own = result.plan.scope["vehicle"] == vehicle
    return f" {only_currency(result.plan.scope.loc[own, 'currency'])}".rstrip()


def _money(value: float) -> str:
    return f"{value:,.0f}"


def _figure(value: float, chance: bool) -> str:
    if pd.isna(value):
        return "-"
    return f"{of_100(value)} in 100" if chance else f"{value:,.0f}"


def _wrap(text: str, width: int = WIDTH) -> str:
    return textwrap.fill(text, width, break_long_words=False)
