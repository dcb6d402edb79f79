"""What an excursion plan uses up, in words and tables: the same in the brief, on the page, in the command."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import pandas as pd

from dashboard.papers.brief_tables import Table
from dashboard.papers.brief_words import Section, in_all_words
from dashboard.words.numbers import Numbers, day_words
from dashboard.words.records import Row, rows_of
from models.case.case import Case
from models.case.excursion import SUMS, ExcursionCost
from models.case.money import rounding_step, share_out

MOST_PARTS = 5
Distance = Callable[[float], str]
"""Writes miles as the reader wants them."""


def money_words(row: Mapping[Any, Any] | pd.Series, numbers: Numbers, step: int = 1) -> tuple[str, str]:
    """The middle and the range of a sum."""
    low, mean, high = (numbers.money(float(row[name]), step) for name in SUMS)
    return mean, f"{low} to {high}"


def sentence(cost: ExcursionCost, case: Case, numbers: Numbers, distance: Distance) -> str:
    """The whole plan in words."""
    whole = cost.whole
    mean, spread = money_words(whole, numbers, step_of(cost))
    days = "One running day" if whole["days"] == 1 else f"{whole['days']} running days"
    words = (
        f"{days}, {distance(float(whole['miles']))} in all, use{'s' if whole['days'] == 1 else ''} up about "
        f"{mean} of the parts of {case.name} that wear ({spread} 8 times in 10), at the prices of "
        f"{day_words(case.as_of)}."
    )
    if whole["seats"]:
        low, seat, high = (numbers.small_money(float(whole[f"seat_{name}"])) for name in SUMS)
        words += (
            f" Each of the {numbers.whole(whole['seats'])} seats sold must carry {seat} of it ({low} to "
            f"{high}). Coal, water, crew and insurance come on top."
        )
    step = step_of(cost)
    return words + in_all_words(cost.in_all, lambda amount: numbers.money(amount, step), step)


def step_of(cost: ExcursionCost) -> int:
    """Step to which the sums of a plan are rounded. [money]"""
    return rounding_step(float(cost.whole["mean"]))


def trips_table(cost: ExcursionCost, numbers: Numbers, distance: Distance) -> Table:
    """The entries of a plan; those printed add up to the total printed."""
    step = step_of(cost)
    shown = share_out(cost.trips["mean"].to_numpy(float)[:-1], step, total=rounded_total(cost))
    rows = [
        [
            str(row.name),
            numbers.whole(row.days),
            distance(row.miles),
            numbers.money(mean),
            f"{numbers.money(row.p10, step)} to {numbers.money(row.p90, step)}",
        ]
        for row, mean in zip(rows_of(cost.trips.iloc[:-1].reset_index(drop=True)), shown, strict=True)
    ]
    whole = cost.whole
    _, spread = money_words(whole, numbers, step)
    days, total = numbers.whole(whole["days"]), numbers.money(rounded_total(cost))
    head = ["Excursion", "days", "distance", "uses up about", "8 times in 10"]
    return Table(head, rows, ["All together", days, distance(float(whole["miles"])), total, spread])


def rounded_total(cost: ExcursionCost) -> int:
    """What the whole plan uses up, as it is printed. [money]"""
    step = step_of(cost)
    return round(float(cost.whole["mean"]) / step) * step


def rounded_parts(cost: ExcursionCost) -> pd.DataFrame:
    """The parts, dearest first, in whole steps that add up; the whole in the last row."""
    step, total = step_of(cost), rounded_total(cost)
    parts = cost.parts.iloc[:-1].sort_values("mean", ascending=False, kind="stable")
    mean = share_out(parts["mean"].to_numpy(float), step, total=total)
    parts = pd.concat([parts.assign(mean=mean), cost.parts.tail(1).assign(mean=total)], ignore_index=True)
    return parts.assign(**{name: (parts[name] / step).round() * step for name in ("p10", "p90")})


def parts_table(cost: ExcursionCost, numbers: Numbers) -> Table:
    """What the plan uses up by component; small ones are put together."""
    parts = rounded_parts(cost)
    dear, whole = parts.iloc[:-1], parts.iloc[-1]
    most = MOST_PARTS if len(dear) > MOST_PARTS + 1 else len(dear)
    rows = [[part_words(row), *money_words(row._asdict(), numbers)] for row in rows_of(dear.head(most))]
    if len(dear) > most:
        # As wide as though all of them went one way: that is the widest that their sum can be.
        others = dear.iloc[most:][["p10", "mean", "p90"]].sum()
        rows.append([f"other parts ({len(dear) - most} kinds)", *money_words(others, numbers)])
    total = ["All together", *money_words(whole, numbers)]
    return Table(["Parts that wear", "use up about", "8 times in 10"], rows, total)


def part_words(row: Row) -> str:
    """A component and what is done to it when it is worn; the whole."""
    return "All together" if row.component == "all" else f"{row.component}: {row.action}"


def miles_words(numbers: Numbers) -> Distance:
    """Writes distances in miles."""
    return lambda miles: f"{numbers.whole(miles)} miles"


def with_excursions(section: Section, cost: ExcursionCost, case: Case, numbers: Numbers) -> Section:
    """The brief's part about the cost of a mile, with the excursion plan: its entries, or the parts of the
    only one."""
    distance = miles_words(numbers)
    several = len(cost.trips) > 2
    shown = trips_table(cost, numbers, distance) if several else parts_table(cost, numbers)
    words = [*section.paragraphs, sentence(cost, case, numbers, distance)]
    return replace(section, paragraphs=words, tables=[*section.tables, shown], abreast=True)
