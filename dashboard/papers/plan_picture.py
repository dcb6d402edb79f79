"""The plan as a calendar: running by month, lay-ups, and how deep each window opens the machine."""

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from dashboard.papers.brief_svg import (
    BAND,
    INK,
    LATE,
    LIKELY,
    LINE,
    PAPER,
    QUIET,
    SURE,
    document,
    line,
    rect,
    words,
)
from models.frequency import of_100

WIDTH, LEFT, RIGHT = 1040.0, 110.0, 20.0
ROW, HEAD, FOOT = 150.0, 56.0, 66.0
BAR, BLOCK = 62.0, 26.0
"""Height of the tallest month of running, and of a window. [px]"""
DEPTHS = {
    "wheels_out": ("W", "wheels out", SURE, PAPER),
    "rods_down": ("R", "rods down", LIKELY, INK),
    "in_place": ("P", "in place", PAPER, INK),
}
"""Of each depth: letter, words, fill and ink; the letter tells what the colour tells."""

Row = Mapping[Hashable, Any]


def calendar_svg(windows: pd.DataFrame, usage: pd.DataFrame, risk: pd.DataFrame) -> str:
    """The calendar of a plan.

    Parameters
    ----------
    windows, risk : frames of the plan.
    usage : vehicle, month, miles of the months planned.
    """
    vehicles = list(dict.fromkeys(windows["vehicle"]))
    first, last = usage["month"].min(), windows["closes"].max() + pd.Timedelta(days=90)
    scale = Scale(first, last)
    height = HEAD + ROW * len(vehicles) + FOOT
    body = [words(LEFT, 24, "Running, lay-ups and work planned", font_size=17, font_weight="bold")]
    body += _years(scale, HEAD, HEAD + ROW * len(vehicles))
    for index, vehicle in enumerate(vehicles):
        top = HEAD + ROW * index
        body += _row(scale, str(vehicle), top, windows, usage, risk)
    body += _legend(HEAD + ROW * len(vehicles) + 34)
    used = windows[windows["lines"] > 0]
    texts = [f"{row['vehicle']} {row['label']} {row['depth']}" for row in used.to_dict("records")]
    return document(WIDTH, height, "Calendar of the plan", "; ".join(texts).replace("_", " "), body)


class Scale:
    """Days to the right."""

    def __init__(self, first: pd.Timestamp, last: pd.Timestamp) -> None:
        self.first, self.last = first, last
        self._each = (WIDTH - LEFT - RIGHT) / max((last - first).days, 1)

    def x(self, day: pd.Timestamp) -> float:
        """Place of a day, held within the picture."""
        return LEFT + self._each * min(max((day - self.first).days, 0), (self.last - self.first).days)


def _years(scale: Scale, top: float, bottom: float) -> list[str]:
    out = []
    for year in range(scale.first.year, scale.last.year + 1):
        start = pd.Timestamp(year, 1, 1)
        if start >= scale.first:
            out.append(line(scale.x(start), top - 12, scale.x(start), bottom))
        middle = scale.x(pd.Timestamp(year, 7, 1))
        if scale.first <= pd.Timestamp(year, 7, 1) <= scale.last:
            out.append(words(middle, top - 4, year, font_size=13, text_anchor="middle", fill=QUIET))
    return out


def _row(
    scale: Scale, vehicle: str, top: float, windows: pd.DataFrame, usage: pd.DataFrame, risk: pd.DataFrame
) -> list[str]:
    base = top + 14 + BAR
    out = [words(8, base - BAR / 2, vehicle, font_size=15, font_weight="bold")]
    out.append(words(8, base - BAR / 2 + 18, "miles a month", font_size=11, fill=QUIET))
    out.append(words(8, base + 20, "windows", font_size=11, fill=QUIET))
    out.append(words(8, base + 20 + BLOCK, "stops in 100", font_size=11, fill=QUIET))
    months = usage[(usage["vehicle"] == vehicle) & (usage["month"] <= scale.last)]
    tallest = max(float(months["miles"].max()), 1.0)
    for row in months.to_dict("records"):
        month = row["month"]
        left, right = scale.x(month), scale.x(month + pd.offsets.MonthBegin())
        high = BAR * float(row["miles"]) / tallest
        out.append(rect(left + 0.5, base - high, right - left - 1, high, fill=LINE))
    out.append(line(LEFT, base, WIDTH - RIGHT, base, stroke=QUIET))
    for row in windows[windows["vehicle"] == vehicle].to_dict("records"):
        out += _window(scale, row, base + 4)
    return out + _chances(scale, risk[risk["vehicle"] == vehicle], base + 20 + BLOCK)


def _window(scale: Scale, row: Row, top: float) -> list[str]:
    left, right = scale.x(row["opens"]), scale.x(row["closes"] + pd.Timedelta(days=1))
    if row["lines"] == 0:
        return [rect(left, top, right - left, BLOCK, fill=BAND, stroke=LINE)]
    letter, _, fill, ink = DEPTHS[str(row["depth"])]
    late = row["lost_days"] >= 0.5
    end = scale.x(row["closes"] + pd.Timedelta(days=1 + float(row["lost_days"])))
    out = [rect(left, top, right - left, BLOCK, fill=fill, stroke=SURE)]
    if late:
        out.append(rect(right, top, max(end - right, 1.5), BLOCK, fill=LATE))
    size = 12 if right - left >= 11 else 9
    out.append(
        words(
            (left + right) / 2,
            top + 17,
            letter,
            font_size=size,
            text_anchor="middle",
            fill=ink,
            font_weight="bold",
        )
    )
    return out


def _chances(scale: Scale, risk: pd.DataFrame, top: float) -> list[str]:
    """Chance to have stopped in mid-season by the end of each year, with the plan."""
    out = []
    for year, rows in risk.groupby(risk["month"].dt.year):
        day = pd.Timestamp(int(str(year)), 7, 1)
        if scale.first <= day <= scale.last:
            chance = of_100(float(rows.sort_values("month")["with_plan"].iloc[-1]))
            out.append(words(scale.x(day), top, chance, font_size=12, text_anchor="middle"))
    return out


def _legend(top: float) -> list[str]:
    out, x = [], LEFT
    for letter, meaning, fill, ink in DEPTHS.values():
        out.append(rect(x, top - 14, 22, 20, fill=fill, stroke=SURE))
        out.append(
            words(x + 11, top + 1, letter, font_size=12, text_anchor="middle", fill=ink, font_weight="bold")
        )
        out.append(words(x + 30, top + 1, meaning, font_size=13))
        x += 130
    out.append(rect(x, top - 14, 22, 20, fill=BAND, stroke=LINE))
    out.append(words(x + 30, top + 1, "lay-up not used", font_size=13))
    out.append(rect(x + 160, top - 14, 22, 20, fill=LATE))
    out.append(words(x + 190, top + 1, "days of running lost", font_size=13))
    note = (
        "Stops in 100: how many times in 100 a limit is reached in mid-season before the end of that year, "
        "with this plan."
    )
    out.append(words(LEFT, top + 24, note, font_size=12, fill=QUIET))
    return out
