"""The sentences of the brief. Short words, short sentences; every figure with its range or its as-of day.

Chances are given as frequencies. Nothing here promises.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import pandas as pd

from dashboard.papers.brief_picture import NARROW, RemainingPicture, alt_text, remaining_picture
from dashboard.papers.brief_tables import (
    RESERVES,
    Rounded,
    Table,
    bills_table,
    delay_table,
    fund_table,
    gift_table,
    income_table,
    scope_table,
)
from dashboard.words.cautions import FORECAST_CAUTION, INVENTED
from dashboard.words.numbers import Numbers, day_words, month_short, month_words
from dashboard.words.records import rows_of
from models.case.case import Case
from models.case.money import rounding_step
from models.frequency import times_in

MOST_REASONS = 3
"""Reasons why places have no forecast that are written out."""

FEW_MILES = 50.0
"""Miles to the window that are not worth a word. [mi]"""

MILE_HEADING = "What a mile costs, and what your gift buys"
CAUTION_HEADING = "Please note."
CAUTION = FORECAST_CAUTION.replace("'", "’") + (
    " The figures say what is likely. They are no promise, and they change with each new measurement."
)
"""Stands in every brief, whatever the settings: what stands under every forecast, and what givers ask."""


@dataclass(frozen=True)
class Section:
    """One part of the brief: heading, sentences, a picture (SVG, and one for a telephone) with its words,
    bullets, tables."""

    heading: str
    paragraphs: list[str] = field(default_factory=list)
    picture: str = ""
    picture_narrow: str = ""
    alt: str = ""
    bullets: list[str] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    abreast: bool = False


@dataclass(frozen=True)
class Card:
    """One of the figures at the head of the brief."""

    label: str
    figure: str
    note: str
    strong: bool = False


def default_title(case: Case) -> str:
    """Title of the brief unless the user gives one."""
    return f"Keep {case.name} running"


def default_intro(case: Case) -> list[str]:
    """Opening words unless the user gives them."""
    return [
        f"Each mile that {case.name} runs wears its wheels, rods and bearings a little. We measure that "
        "wear. This page shows what must be renewed, by when, what it costs, and how sure we are."
    ]


def cards(case: Case, sums: Rounded, numbers: Numbers) -> list[Card]:
    """The four figures at the head: what it takes, when, what is there, what is missing."""
    months = int((case.schedule["to_raise"] > 0.005).sum())
    if sums.to_raise and months:
        pace = f"about {numbers.money(sums.to_raise / months, sums.fine)} a month for {months} months"
    else:
        pace = "the fund holds what is asked for" if not sums.to_raise else "due this month"
    sure = times_in(case.confidence)
    half = numbers.money(sums.half_way)
    return [
        Card("What it takes", numbers.money(sums.ask), f"enough {sure}; {half} 5 times in 10"),
        Card("Work begins", month_short(case.opens), f"first bill in {month_words(case.first_bill)}"),
        Card("In hand for it", numbers.money(sums.in_hand), _fund_words(case, sums, numbers)),
        Card("Still to come in", numbers.money(sums.to_raise), pace, strong=True),
    ]


def _fund_words(case: Case, sums: Rounded, numbers: Numbers) -> str:
    """Of which fund what is in hand is a part, and what of it is not counted."""
    words = f"as of {day_words(case.fund.as_of)}"
    if sums.fund != sums.in_hand:
        words = f"of {numbers.money(sums.fund)} in the fund {words}; the rest is for other work"
    return words + (f"; pledges of {numbers.money(sums.promised)} not counted" if sums.promised else "")


def sections(case: Case, sums: Rounded, numbers: Numbers) -> list[Section]:
    """All parts of the brief in their order."""
    return [
        _why_now(case, numbers),
        _how_sure(case, sums, numbers),
        _what(case, sums, numbers),
        _when(case, sums, numbers),
        *_fund(case, sums, numbers),
        _if_not(case, sums, numbers),
        _gifts(case, sums, numbers),
        _made(case, numbers),
    ]


def _why_now(case: Case, numbers: Numbers) -> Section:
    planned, later = case.delays.iloc[0], case.delays.iloc[min(1, len(case.delays) - 1)]
    shown = RemainingPicture(case.seasons, case.remaining, case.window_miles[1], case.opens)
    behind = " behind rods or under wheels" if case.opens_up else ""
    words = [
        "Each part may wear down only so far. At its limit, it may not run. The bars show the miles left "
        f"until then, counted from {day_words(case.as_of)}.",
        f"{_run_words(case, numbers)} {times_in(planned.chance_stopped).capitalize()}, "
        f"a part{behind} that this work renews will be at its limit before that. One season later it is "
        f"{times_in(later.chance_stopped)}.",
    ]
    if case.at_limit:
        words.append(
            f"{_points_are(len(case.at_limit), numbers)} at the limit now, as last read or most likely. "
            "The engine may not run until qualified people have looked at this and put it right. "
            "The chances here leave it out."
        )
    return Section(
        "Why now",
        words[:1],
        remaining_picture(shown, numbers),
        remaining_picture(shown, numbers, NARROW),
        alt_text(shown, numbers),
        bullets=words[1:],
    )


def _run_words(case: Case, numbers: Numbers) -> str:
    if case.window_miles[2] < FEW_MILES:
        return f"The work begins before {case.name} runs again."
    low, middle, high = (numbers.miles(value) for value in case.window_miles)
    return (
        f"By {month_words(case.opens)} {case.name} will have run about {middle} more miles "
        f"({low} to {high} 8 times in 10)."
    )


def _points_are(count: int, numbers: Numbers) -> str:
    return "One wear point is" if count == 1 else f"{numbers.whole(count)} wear points are"


def _how_sure(case: Case, sums: Rounded, numbers: Numbers) -> Section:
    bullets = []
    if len(case.remaining):
        first = case.remaining.sort_values(["p10", "p50"]).iloc[0]
        bullets.append(_watch_words(first, numbers))
    bullets.append(
        f"{numbers.money(sums.half_way)} will be enough 5 times in 10, and {numbers.money(sums.ask)} "
        f"{times_in(case.confidence)}. {times_in(1 - case.confidence).capitalize()} it will take more."
    )
    bullets.append(_pace_words(case, sums, numbers))
    return Section("How sure are we?", bullets=bullets)


def _watch_words(first: pd.Series, numbers: Numbers) -> str:
    """The component whose limit may come first, with its range."""
    start = f"The first part to watch is the {first['label']}."
    high = f"1 time in 10 it lasts beyond {numbers.miles(first['p90'])} more miles."
    if first["p50"] < FEW_MILES:
        return f"{start} 5 times in 10 it is at its limit by now. {high}"
    if first["p10"] < FEW_MILES:
        return f"{start} 1 time in 10 it is at its limit by now. {high}"
    return f"{start} 9 times in 10 it is good for {numbers.miles(first['p10'])} more miles. {high}"


def _pace_words(case: Case, sums: Rounded, numbers: Numbers) -> str:
    if case.rate is None or case.chance_in_time is None:
        return "Too few gifts are on record to tell how likely it is that the money comes in time."
    rate = case.rate
    return (
        f"In the last {rate.months} months about {numbers.money(rate.per_month, sums.fine)} came in each "
        f"month (from {numbers.money(rate.p10, sums.fine)} to {numbers.money(rate.p90, sums.fine)} 8 times "
        f"in 10).{_one_off_words(case, numbers)} At that pace each bill finds its money "
        f"{times_in(case.chance_in_time)}."
    )


def _one_off_words(case: Case, numbers: Numbers) -> str:
    """Large gifts that are no part of the pace of giving."""
    gifts = case.one_offs.sort_values("amount", ascending=False)
    if gifts.empty:
        return ""
    named = [f"{numbers.money(row.amount)} ({month_words(row.date)})" for row in rows_of(gifts.head(3))]
    more = f" and {len(gifts) - 3} more" if len(gifts) > 3 else ""
    return f" Single large gifts are not counted in it: {', '.join(named)}{more}."


def _what(case: Case, sums: Rounded, numbers: Numbers) -> Section:
    words = [
        f"{_chosen_words(case)}{_reserve_words(case)} The two sums are for the same work: the first is "
        "enough 5 times in 10, the second leaves room for bad luck."
    ]
    if len(case.unpriced):
        names = ", ".join(sorted(set(case.unpriced["component"])))
        words.append(f"Not in these sums, as no price is on record: {names}.")
    if len(case.unforecast):
        count, verb = len(case.unforecast), "is" if len(case.unforecast) == 1 else "are"
        words.append(
            f"{numbers.whole(count)} of {numbers.whole(case.points)} wear points cannot be forecast and "
            f"{verb} not in these sums: {_reasons(case)}."
        )
    return Section("What will be done, and what it costs", words, tables=[scope_table(case, sums, numbers)])


def _reasons(case: Case) -> str:
    """Why wear points have no forecast, as the forecast says it, the most frequent reason first."""
    reason = case.unforecast["reason"].fillna("").str.removeprefix("cannot be forecast: ")
    counts = reason.replace("", "no reason on record").value_counts()
    named = [f"{words} ({count})" for words, count in counts.head(MOST_REASONS).items()]
    rest = int(counts.iloc[MOST_REASONS:].sum())
    return "; ".join(named) + (f"; other reasons ({rest})" if rest else "")


def plan_words(case: Case) -> str:
    """Which plan chose the work, or why none did."""
    plan = case.chosen_by
    if plan is None:
        return "no plan holds for this engine yet"
    named = f" “{plan.name}”" if plan.name else ""
    words = f"the {plan.state} plan{named} of {day_words(plan.made_on)}"
    if plan.older_as_of is not None:
        words += f", made from an earlier forecast, as of {day_words(plan.older_as_of)}"
    return words


def _chosen_words(case: Case) -> str:
    if case.is_planned:
        return (
            f"The list is that of {plan_words(case)}: what is due now, and what is best done with it. The "
            f"sums are those of the forecast as of {day_words(case.as_of)}."
        )
    words = plan_words(case)
    none = "" if case.chosen_by is None else " has no work then"
    return (
        f"{words[0].upper()}{words[1:]}{none}. On the list are parts that may well reach their limit before "
        "the next chance to renew them."
    )


def _reserve_words(case: Case) -> str:
    if not case.lines["kind"].isin(RESERVES).any():
        return ""
    return " A reserve is for what shows only when the engine is open."


def _when(case: Case, sums: Rounded, numbers: Numbers) -> Section:
    tables = [bills_table(case, sums, numbers)]
    words = ["Some bills come long before the work: a place in the shop, castings that take months to make."]
    if sums.to_raise:
        words.append(
            f"For each bill to find its money, {numbers.money(sums.to_raise)} must still come in "
            f"(fund as of {day_words(case.fund.as_of)}):"
        )
        tables.append(income_table(case, sums, numbers))
    return Section("When the money is needed", words, tables=tables, abreast=len(tables) > 1)


def _fund(case: Case, sums: Rounded, numbers: Numbers) -> list[Section]:
    """What of the one fund is for which work; left out where this work is all there is."""
    if len(case.claims) < 2:
        return []
    words = ""
    if sums.before:
        words = (
            f"{numbers.money(sums.before)} must come in for earlier work first. The chance that the money "
            "for this work comes in time counts only what comes in beyond that."
        )
    paragraphs = [words] if words else []
    return [Section("One fund for all work", paragraphs, tables=[fund_table(case, sums, numbers)])]


def _if_not(case: Case, sums: Rounded, numbers: Numbers) -> Section:
    words = [
        "Prices rise while work waits, and other parts come due as well. A part at its limit stops the "
        "engine until it is renewed." + _gain_words(case, sums, numbers)
    ]
    return Section("What if the work must wait?", words, tables=[delay_table(case, sums, numbers)])


def _gain_words(case: Case, sums: Rounded, numbers: Numbers) -> str:
    """What waiting one season is good for, so that the case tells both sides."""
    if len(case.delays) < 2 or case.delays["worth_p90"].iloc[1] < sums.fine:
        return ""
    row = case.delays.iloc[1]
    low, high = numbers.money(row["worth_p10"], sums.fine), numbers.money(row["worth_p90"], sums.fine)
    return (
        " Waiting has one good side: parts with miles left in them are used up further. One season of that "
        f"is worth {low} to {high}."
    )


def _gifts(case: Case, sums: Rounded, numbers: Numbers) -> Section:
    whole = case.mile[case.mile["component"] == "all"].iloc[0]
    words = [
        f"Each mile uses up about {numbers.small_money(whole['mean'])} of the parts that wear "
        f"({numbers.small_money(whole['p10'])} to {numbers.small_money(whole['p90'])} 8 times in 10)."
    ]
    words[0] += in_all_words(case.mile_whole, numbers.small_money, CENT)
    if case.day is not None:
        words[0] += (
            f" A day in steam, of about {numbers.miles(case.miles_per_day)} miles, uses up "
            f"{numbers.small_money(case.day.p10)} to {numbers.small_money(case.day.p90)}."
        )
    words[0] += _aside_words(case, sums, numbers)
    return Section(MILE_HEADING, words, tables=[gift_table(case, numbers)])


CENT = 0.01
"""Step to which the cost of a mile is printed. [money]"""


def in_all_words(table: pd.DataFrame, money: Callable[[float], str], step: float) -> str:
    """What goes with the parts, and all of it, where that is known: of a mile, or of an excursion.

    The sums are printed in whole steps, and those printed add up.
    """
    if table.empty or not table["mean"].iloc[-1] > table["mean"].iloc[0]:
        return ""
    _, opening, hidden, whole = (money(amount) for amount in sums_in_all(table, step))
    low, high = (money(float(table[name].iloc[-1])) for name in ("p10", "p90"))
    adds, in_all = f" Opening the engine to renew them adds {opening}", f"{whole} in all ({low} to {high})."
    if table["mean"].iloc[-2] > 0:
        return f"{adds}, and damage that only then shows {hidden}: {in_all}"
    return f"{adds}: {in_all} Damage that only then shows is not in it: no opening on record tells of any."


def sums_in_all(table: pd.DataFrame, step: float) -> list[float]:
    """Parts, opening, hidden damage and all of it, in whole steps that add up. [money]"""
    beside = [round(float(mean) / step) * step for mean in table["mean"].iloc[:-1]]
    return [*beside, sum(beside)]


def _aside_words(case: Case, sums: Rounded, numbers: Numbers) -> str:
    sinking = case.sinking
    if not sinking.miles > 0:
        return ""
    step = rounding_step(sinking.used_up)
    return (
        f" For each mile that the engines of the railway ran from {month_words(sinking.since)} to "
        f"{month_words(sinking.as_of)}, {numbers.small_money(sinking.was)} came into the fund, large gifts "
        f"among it. The parts of {case.name} now in service have used up "
        f"{numbers.money(sinking.used_up_p10, step)} to {numbers.money(sinking.used_up_p90, step)} of what "
        f"they cost to renew; the fund for all engines holds {numbers.money(sums.fund)}."
    )


def _made(case: Case, numbers: Numbers) -> Section:
    words = [
        f"The railway measures {numbers.whole(case.points)} wear points on {case.name} (each is one size of "
        f"one part, such as the flange of one wheel) and logs each mile. From {numbers.whole(case.readings)} "
        "readings a forecast learns how fast each of them wears, and how much that varies. It then plays "
        f"{numbers.whole(case.draws)} futures. In each, miles, wear, hidden damage and prices are "
        "drawn together. “8 times in 10” means in 8 of 10 of these futures. The price of each job is the "
        "latest on record.",
        _assumption_words(case),
    ]
    return Section("How these figures were made", [text for text in words if text])


def _assumption_words(case: Case) -> str:
    rows = [f"{row.what} ({row.source})" for row in rows_of(case.assumptions)]
    return "Assumed: " + "; ".join(rows) + "." if rows else ""


def subtitle(case: Case, railway: str) -> str:
    """The line under the title."""
    start = f"{railway} · " if railway else ""
    return f"{start}{case.name} · work planned to begin in {month_words(case.opens)}"


def footer(case: Case, made_on: pd.Timestamp) -> str:
    """Date, as-of day and data version: on every page."""
    invented = f"{INVENTED} " if case.invented else ""
    return (
        f"{invented}Made on {day_words(made_on)} from data version {case.data_version}. Miles and wear as of "
        f"{day_words(case.as_of)}, fund as of {day_words(case.fund.as_of)}. All sums in {case.currency}."
    )
