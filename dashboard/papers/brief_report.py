"""The case as a few printed lines, and as JSON with every frame."""

from dataclasses import asdict, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from dashboard.papers.brief import BriefSettings
from dashboard.papers.brief_tables import fund_table, rounded
from dashboard.papers.brief_words import CAUTION, CENT, plan_words, sums_in_all
from dashboard.papers.excursion_words import miles_words, parts_table, sentence, trips_table
from dashboard.words.columns import in_columns
from dashboard.words.numbers import Numbers, day_words, month_words, numbers
from models.case.case import Case
from models.case.excursion import cost_of_excursions
from models.frequency import times_in


def case_in_lines(case: Case, settings: BriefSettings, written: list[Path]) -> str:
    """What the command prints."""
    sums, shown = rounded(case), numbers(settings.numbers, case.currency)
    in_time = "not known: too few gifts on record"
    if case.chance_in_time is not None:
        in_time = times_in(case.chance_in_time)
    whole = case.mile.iloc[-1]
    low, mean, high = (shown.small_money(float(whole[name])) for name in ("p10", "mean", "p90"))
    lines = [
        f"{case.name}: work to begin in {month_words(case.opens)} (wear as of {day_words(case.as_of)})",
        f"  work chosen by            {chooser(case)}",
        f"  {'enough 5 times in 10':<26}{shown.money(sums.half_way)}",
        f"  {'enough ' + times_in(case.confidence):<26}{shown.money(sums.ask)}",
        f"  in hand for it            {shown.money(sums.in_hand)} of {shown.money(sums.fund)} in the fund "
        f"as of {day_words(case.fund.as_of)}",
        f"  still to come in          {shown.money(sums.to_raise)}",
        *([f"  for earlier work first    {shown.money(sums.before)}"] if sums.before else []),
        f"  first bill                {month_words(case.first_bill)}",
        f"  in time at present pace   {in_time}",
        f"  a mile uses up            {mean} ({low} to {high}) of the parts that wear",
        *_mile_in_all(case, shown),
        *_fund_lines(case, settings),
        *_excursion_lines(case, settings),
        *(f"Written: {path}" for path in written),
        CAUTION,
    ]
    return "\n".join(lines)


def _mile_in_all(case: Case, shown: Numbers) -> list[str]:
    """Opening and hidden damage beside the parts of a mile, and all of it."""
    if case.mile_whole.empty:
        return []
    words = ["opening the engine adds", "hidden damage adds", "a mile in all"]
    rows = case.mile_whole.iloc[1:].to_dict("records")
    means = sums_in_all(case.mile_whole, CENT)[1:]
    out = []
    for name, row, mean in zip(words, rows, means, strict=True):
        low, high = (shown.small_money(float(row[figure])) for figure in ("p10", "p90"))
        known = (
            f"{shown.small_money(mean)} ({low} to {high})" if row["mean"] > 0 else "not known: none on record"
        )
        out.append(f"  {name:<26}{known}")
    return out


def _excursion_lines(case: Case, settings: BriefSettings) -> list[str]:
    if not settings.excursions:
        return []
    shown = numbers(settings.numbers, case.currency)
    cost, distance = cost_of_excursions(case.mile, settings.excursions, case.mile_whole), miles_words(shown)
    tables = [trips_table(cost, shown, distance), parts_table(cost, shown)]
    return [
        sentence(cost, case, shown, distance),
        *(
            f"  {line}"
            for table in tables
            for line in in_columns([table.head, *table.rows, table.total], range(table.words))
        ),
    ]


def chooser(case: Case) -> str:
    """What chose the work."""
    if case.is_planned:
        return plan_words(case)
    if case.chosen_by is None:
        return "the accepted risk, as no plan holds yet (make one: milesleft plan)"
    return f"the accepted risk, as {plan_words(case)} has no work then"


def _fund_lines(case: Case, settings: BriefSettings) -> list[str]:
    """What of the one fund is for which work."""
    if len(case.claims) < 2:
        return []
    table = fund_table(case, rounded(case), numbers(settings.numbers, case.currency))
    lines = in_columns([table.head, *table.rows], range(table.words))
    return [f"  {line}" for line in lines] + [f"  {table.note}"]


def case_as_json(case: Case, settings: BriefSettings) -> dict[str, Any]:
    """All of the case as plain values: numbers without a figure as null, days as text."""
    plan = (
        cost_of_excursions(case.mile, settings.excursions, case.mile_whole) if settings.excursions else None
    )
    return {name: _plain(value) for name, value in vars(case).items()} | {
        "excursions": {name: _plain(frame) for name, frame in vars(plan).items()} if plan else None,
        "to_raise": case.to_raise,
        "caution": CAUTION,
    }


def _plain(value: Any) -> Any:  # noqa: ANN401 - any of the case's fields
    if isinstance(value, pd.DataFrame):
        frame = value.reset_index(names="month") if isinstance(value.index, pd.DatetimeIndex) else value
        return [{str(key): _plain(cell) for key, cell in row.items()} for row in frame.to_dict("records")]
    if is_dataclass(value) and not isinstance(value, type):
        return {key: _plain(item) for key, item in asdict(value).items()}
    if isinstance(value, pd.Timestamp):
        return f"{value:%Y-%m-%d}"
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float | np.floating):
        return float(value) if np.isfinite(value) else None
    return value.item() if isinstance(value, np.generic) else value
