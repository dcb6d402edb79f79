"""One opening as printed lines."""

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from dashboard.shop.scope import ScopeNow
from dashboard.shop.told import Told
from dashboard.words.batch_words import place_words
from dashboard.words.cautions import FORECAST_CAUTION
from dashboard.words.columns import in_columns
from dashboard.words.numbers import day_words
from dashboard.words.opening_words import (
    STATE_WORDS,
    finding_words,
    held_words,
    line_words,
    open_words,
    verdict_words,
)
from dashboard.words.units_shown import Units
from ingest.neutral import visible
from ingest.schema import SOURCE
from ingest.units import from_base, is_length

OWN = Units()
"""As the sheets have them."""
_SHOWN = 15


def opening_lines(told: Told) -> list[str]:
    """What is told of an opening, the furthest from its forecast and the defects first."""
    lines = [visible(f"{told.opening['opening']}: {open_words(told.opening)}")]
    lines += ["", "As found", f"  {held_words(told.found)}"]
    if len(told.found):
        lines += [f"  {line}" for line in in_columns(_found_rows(told.found.head(_SHOWN)), left=(0, 1, 5, 6))]
    if len(told.found) > _SHOWN:
        lines.append(f"  and {len(told.found) - _SHOWN:,} more (--json lists all)")
    lines += ["", "Findings", *(f"  {visible(line)}" for line in _finding_lines(told))]
    lines += ["", "Scope", *(f"  {visible(line)}" for line in scope_lines(told.scope))]
    return [*lines, "", FORECAST_CAUTION]


def scope_lines(scope: ScopeNow) -> list[str]:
    """Where the scope stands: its money and days first, then its lines."""
    lines = [f"as of {day_words(scope.today)}; {scope.plan}", *scope_words(scope)]
    table = scope.ahead.lines
    if len(table):
        rows = [["work", "came as", "stands", "parts", "price", "hours"]]
        for row in table.to_dict("records"):
            price = "no price" if row["unpriced"] else f"{row['price']:,.0f}"
            words = [visible(line_words(row)), str(row["origin"]), str(row["state"])]
            rows.append([*words, f"{row['parts']:.0f}", price, f"{row['hours']:,.0f}"])
        lines += ["", *in_columns(rows, left=(0, 1, 2))]
    return lines


def scope_words(scope: ScopeNow) -> list[str]:
    """Contingency, cost to finish and day of finish, a sentence each."""
    ahead, money = scope.ahead, scope.sum_words
    cost, days = ahead.cost, {p: day_words(day) for p, day in ahead.finish.items()}
    words = [
        f"To finish it {money(cost[0.8])} is enough 8 times in 10, {cost[0.5]:,.0f} half of the time "
        f"({cost[0.1]:,.0f} to {cost[0.9]:,.0f}, 8 times in 10).",
        f"Finished by {days[0.5]} half of the time, by {days[0.8]} 8 times in 10 ({days[0.1]} to "
        f"{days[0.9]}, 8 times in 10), at {scope.pace}.",
    ]
    needed = f"{ahead.hidden_cost[0.8]:,.0f} is enough 8 times in 10 for what is still hidden"
    if pd.isna(scope.contingency):
        return [*words, f"Found and added so far: {money(scope.used)}; {needed}."]
    enough = "that is enough" if scope.left >= ahead.hidden_cost[0.8] else "that is not enough"
    return [
        *words,
        f"Contingency {money(scope.contingency)}: {scope.used:,.0f} used by what was found and added, "
        f"{scope.left:,.0f} left; {needed}: {enough}.",
    ]


def hidden_words(scope: ScopeNow) -> list[str]:
    """What is still expected to be found, a line a component."""
    rows = scope.ahead.hidden.dropna(subset=["found"])
    rows = rows.sort_values("money", ascending=False, kind="stable")
    return [
        f"{row['component']}: {row['parts']:.0f} still to be examined, {row['found']:.1f} of them expected "
        f"defective, {scope.sum_words(row['money'])}"
        for row in rows.to_dict("records")
    ]


def size_words(row: Mapping[Hashable, Any]) -> str:
    """How large a defect is, in the unit that it was written in."""
    if pd.isna(row["size"]):
        return ""
    unit = str(row["unit"]) or "mm"
    return OWN.text(
        float(from_base(float(row["size"]), unit)) if is_length(unit) else float(row["size"]), unit
    )


def _found_rows(found: pd.DataFrame) -> list[list[str]]:
    rows = [["wear point", "found on", "found", "forecast", "8 times in 10", "", "source"]]
    for row in found.to_dict("records"):
        unit = str(row["unit"])
        figures = [OWN.text(row[name], unit) for name in ("found", "p50", "p10", "p90")]
        known = pd.notna(row["p50"])
        off = "" if not known or row["held"] else "outside; "
        rows.append(
            [
                visible(str(row["point"])),
                f"{row['date']:%Y-%m-%d}",
                figures[0],
                figures[1] if known else "none",
                f"{figures[2]} to {figures[3]}" if known else "",
                f"{off}{STATE_WORDS[row['state']]}",
                place_of(row),
            ]
        )
    return rows


def place_of(row: Mapping[Hashable, Any]) -> str:
    """File, sheet and row in which something was read."""
    file, sheet, line = (row[name] for name in SOURCE)
    return visible(place_words(file, sheet, int(line)))


def _finding_lines(told: Told) -> list[str]:
    if told.findings.empty:
        return ["None is on record yet."]
    counts = told.examined.to_dict("records")
    lines = [
        f"{row['component']}: {row['examined']:.0f} examined, {row['defective']:.0f} defective"
        for row in counts
    ]
    for row in told.findings.to_dict("records"):
        if not row["sound"]:
            lines.append(f"- {finding_words(row, size_words(row))}: {verdict_words(row)} ({place_of(row)})")
    return lines
