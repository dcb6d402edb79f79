"""Tables of the brief as text, rounded so that every total printed equals the sum of the parts printed."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from dashboard.words.numbers import Numbers, month_short
from dashboard.words.records import Row, rows_of
from models.case.case import Case
from models.case.money import rounding_step, share_out
from models.frequency import times_in

MOST_LINES = 9
LATER = 3
"""Windows after the case's own that are listed with what they may count on."""
RESERVES = {
    "hidden": "reserve for hidden damage, as found before",
    "worn": "reserve for parts more worn than forecast",
}
"""Lines that stand for what is not known yet, by kind."""


@dataclass(frozen=True)
class Table:
    """A table of text: the first ``words`` columns hold words, the others figures.

    ``widths`` shares out the width of the page; 0 takes what the column's longest cell needs.
    """

    head: list[str]
    rows: list[list[str]]
    total: list[str] = field(default_factory=list)
    words: int = 1
    note: str = ""
    widths: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        if not self.widths:
            object.__setattr__(self, "widths", [1.0] + [0.0] * (len(self.head) - 1))


@dataclass(frozen=True)
class Rounded:
    """The sums of the case as they are printed: whole steps that agree with each other. [money]

    ``in_hand`` is the part of the fund for this work, ``fund`` all of it; ``ask`` less ``in_hand`` is
    ``to_raise`` exactly. ``before`` must come in for earlier work first: the sum of its windows as they are
    printed. ``step`` is for totals, ``fine`` for their parts.
    """

    step: int
    fine: int
    ask: int
    half_way: int
    in_hand: int
    fund: int
    promised: int
    to_raise: int
    before: int


def rounded(case: Case) -> Rounded:
    """Round the case's sums for print."""
    step = rounding_step(case.ask)
    fine = max(1, step // 10)
    ask, in_hand, to_raise = rounded_claim(case.ask, case.counted)
    return Rounded(
        step=step,
        fine=fine,
        ask=ask,
        half_way=round(case.amount.p50 / step) * step,
        in_hand=in_hand,
        fund=round(case.fund.in_hand / fine) * fine,
        promised=round(case.fund.pledged / fine) * fine,
        to_raise=to_raise,
        before=_owed_before(case, fine),
    )


def _owed_before(case: Case, fine: int) -> int:
    """What must come in for earlier work and an overdrawn fund: the sum of what :func:`fund_table` prints."""
    earlier = case.claims.iloc[: int(np.flatnonzero(case.claims["own"])[0])]
    owed = sum(rounded_claim(float(row.amount), float(row.from_fund))[2] for row in rows_of(earlier))
    return owed + round(max(0.0, -case.fund.in_hand) / fine) * fine


def rounded_claim(amount: float, from_fund: float) -> tuple[int, int, int]:
    """What is asked for a window, what the fund has for it, what must still come in: as they are printed."""
    step = rounding_step(amount)
    fine = max(1, step // 10)
    ask = round(amount / step) * step
    covered = from_fund >= amount - 0.005
    in_hand = ask if covered else min(round(from_fund / fine) * fine, ask)
    return ask, in_hand, ask - in_hand


def fund_table(case: Case, sums: Rounded, numbers: Numbers) -> Table:
    """The windows that the one fund must pay for, by date, and what each may count on."""
    rows = []
    own = int(np.flatnonzero(case.claims["own"])[0])
    for row in rows_of(case.claims.iloc[: own + 1 + LATER]):
        ask, from_fund, to_raise = rounded_claim(float(row.amount), float(row.from_fund))
        name = f"{row.name}, {month_short(row.opens)}" + (" (this work)" if row.own else "")
        rows.append([name, numbers.money(ask), numbers.money(from_fund), numbers.money(to_raise)])
    head = ["Work", f"enough {times_in(case.confidence)}", "from the fund", "still to come in"]
    note = (
        f"The fund of {numbers.money(sums.fund)} is one for all work: what comes first by date is paid "
        "first. Later work is not listed."
    )
    return Table(head, rows, note=note)


def scope_table(case: Case, sums: Rounded, numbers: Numbers) -> Table:
    """What will be done and what it costs, by kind of work; small kinds are put together."""
    lines = _reserves_as_one(case.lines).sort_values("ask", ascending=False, kind="stable")
    lines = lines.reset_index(drop=True)
    most = MOST_LINES if len(lines) > MOST_LINES + 1 else len(lines)
    order = np.minimum(np.arange(len(lines)), most)
    sum50 = lines["at50"].groupby(order).sum().to_numpy()
    sum80 = lines["ask"].groupby(order).sum().to_numpy()
    at50 = share_out(sum50, sums.fine, total=sums.half_way)
    at80 = share_out(sum80, sums.fine, total=sums.ask)
    labels = [line_words(row) for row in lines.head(len(at80)).itertuples()]
    if len(lines) > len(at80):
        labels[-1] = f"other work ({len(lines) - len(at80) + 1} kinds)"
    rows = [
        [label, numbers.money(a, 1), numbers.money(b, 1)]
        for label, a, b in zip(labels, at50, at80, strict=True)
    ]
    total = ["All together", numbers.money(sums.half_way), numbers.money(sums.ask)]
    sure = times_in(case.confidence)
    return Table(["Work", "enough 5 times in 10", f"enough {sure}"], rows, total)


def _reserves_as_one(lines: pd.DataFrame) -> pd.DataFrame:
    """Lines with all hidden work in one, and all parts that may be more worn than forecast in another: which
    part it will be, nobody knows; how much in all, the futures tell."""
    kept = [lines[~lines["kind"].isin(RESERVES)]]
    for kind in RESERVES:
        reserve = lines[lines["kind"] == kind]
        if len(reserve):
            sums = reserve[["at50", "ask"]].sum().to_dict()
            kept.append(pd.DataFrame([{"kind": kind, "component": "", "action": "", "parts": 1.0, **sums}]))
    return pd.concat(kept, ignore_index=True)


def line_words(row: Row) -> str:
    """A line of the scope in words: 8 × driver tire: cut."""
    kind, component, action = (str(getattr(row, name)) for name in ("kind", "component", "action"))
    parts = float(row.parts)
    if kind == "opening":
        return f"taking the engine apart ({action})"
    if kind in RESERVES:
        return RESERVES[kind]
    count = f"{parts:.0f} × " if parts >= 1.5 else ""
    return f"{count}{component}: {action}"


def bills_table(case: Case, sums: Rounded, numbers: Numbers) -> Table:
    """When the bills fall due, month by month and payment by payment."""
    named = case.bills.assign(payment=case.bills["payment"] + np.where(case.bills["is_late"], " (late)", ""))
    by = named.groupby(["month", "payment"], sort=True)["amount"].sum().reset_index()
    shown = share_out(by["amount"].to_numpy(), sums.fine, total=sums.ask)
    rows = [
        [month_short(row.month), str(row.payment), numbers.money(amount)]
        for row, amount in zip(rows_of(by), shown, strict=True)
        if amount
    ]
    guess = case.bills["source"].str.casefold().eq("assumption").any()
    note = "The times and shares of payment are assumptions; the shop’s own terms decide." if guess else ""
    if case.bills["is_late"].any():
        note = f"Late: should have been paid by now. {note}".strip()
    total = ["All together", "", numbers.money(sums.ask)]
    head = ["Month", "Bill", f"enough {times_in(case.confidence)}"]
    return Table(head, rows, total, words=2, note=note, widths=[0.0, 1.0, 0.0])


def income_table(case: Case, sums: Rounded, numbers: Numbers) -> Table:
    """What must come in, month by month, months of one level taken together."""
    runs = level_runs(case.schedule["to_raise"])
    if runs.empty:
        # What is missing is less than a rounding step: it is asked for by the first bill.
        by = case.first_bill
        runs = pd.DataFrame({"first": [by], "last": [by], "months": [1], "amount": [1.0]})
    shown = share_out(runs["amount"].to_numpy(), sums.fine, total=sums.to_raise)
    rows = [
        [
            span_words(row.first, row.last),
            numbers.money(amount / row.months, sums.fine),
            numbers.money(amount),
        ]
        for row, amount in zip(rows_of(runs), shown, strict=True)
    ]
    total = ["All together", "", numbers.money(sums.to_raise)]
    return Table(["Must come in", "about, each month", "in these months"], rows, total)


def level_runs(to_raise: pd.Series) -> pd.DataFrame:
    """Stretches of months in which the same amount must come in: first, last, months, amount [money]."""
    due = to_raise[to_raise > 0.005]
    if due.empty:
        return pd.DataFrame({"first": [], "last": [], "months": [], "amount": []})
    level = due.round(2)
    run = (level.diff().abs() > 0.02).cumsum()
    grouped = due.groupby(run)
    month = pd.Series(due.index, index=due.index).groupby(run)
    return pd.DataFrame(
        {"first": month.min(), "last": month.max(), "months": grouped.size(), "amount": grouped.sum()}
    ).reset_index(drop=True)


def span_words(first: pd.Timestamp, last: pd.Timestamp) -> str:
    """Nov 2026 – Jul 2027."""
    return month_short(first) if first == last else f"{month_short(first)} – {month_short(last)}"


def delay_table(case: Case, sums: Rounded, numbers: Numbers) -> Table:
    """What waiting costs and risks."""
    rows = []
    tickets = bool((case.delays[["income_lost_p10", "income_lost_p90"]] != 0).any(axis=None))
    for row in rows_of(case.delays):
        more = also = "–"
        if row.seasons:
            more = _range_words(row.more_p10, row.more_p90, sums, numbers)
            also = _range_words(row.also_p10, row.also_p90, sums, numbers)
        income = [_range_words(row.income_lost_p10, row.income_lost_p90, sums, numbers)] if tickets else []
        rows.append(
            [
                month_short(row.opens) + ("" if row.seasons else ", as planned"),
                numbers.money(row.ask, sums.step),
                more,
                *income,
                also,
                times_in(row.chance_stopped),
                _days_words(row.days_lost_mean, row.days_lost_p80),
            ]
        )
    head = [
        "Work begins",
        f"same work, enough {times_in(case.confidence)}",
        "costs more than now by (8 times in 10)",
        *(["income lost (8 times in 10)"] if tickets else []),
        "other work due by then (8 times in 10)",
        "engine stopped before then",
        "running days lost (8 times in 10: up to)",
    ]
    note = "Other work due by then has to be paid for anyway; it is not in the sums above."
    if case.opens_up:
        note += (
            " Engine stopped: by a part behind rods or under wheels that this work renews; what is reached "
            "in place is renewed between trains."
        )
    if tickets:
        note += " Income lost is that of the running days lost by waiting; it is in no sum."
    widths = [1.5, 1.1, 1.5, *([1.5] if tickets else []), 1.6, 1.5, 1.5]
    return Table(head, rows, widths=widths, note=note)


def _range_words(low: float, high: float, sums: Rounded, numbers: Numbers) -> str:
    """A range of money; a dash where both ends round to nothing."""
    if round(high / sums.fine) == 0:
        return "–"
    return f"{numbers.money(low, sums.fine)} to {numbers.money(high, sums.fine)}"


def _days_words(mean: float, p80: float) -> str:
    """Days lost on average and at most 8 times in 10; a dash where the log tells no days."""
    if not np.isfinite(mean):
        return "–"
    if round(p80) == 0:
        return "none 8 times in 10" if round(mean) else "none"
    return f"about {mean:.0f} (up to {p80:.0f})"


def gift_table(case: Case, numbers: Numbers) -> Table:
    """What a gift buys."""
    rows = []
    for row in rows_of(case.gifts):
        low, high = numbers.small_money(float(row.low)), numbers.small_money(float(row.high))
        rows.append([gift_words(row, numbers), numbers.small_money(float(row.price)), f"{low} to {high}"])
    return Table(["A gift that buys", "costs about", "8 times in 10"], rows)


def gift_words(row: Row, numbers: Numbers) -> str:
    """A unit of giving in words: 10 miles of the whole engine; one driver tire: cut."""
    kind, component, action = (str(getattr(row, name)) for name in ("kind", "component", "action"))
    quantity = numbers.whole(float(row.quantity))
    if kind == "engine miles":
        return f"{quantity} miles of the whole engine"
    if kind == "component miles":
        return f"{quantity} miles of wear: {component}"
    return f"one {component}: {action}"
