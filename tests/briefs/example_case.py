"""A small case whose every figure can be followed by eye, and how tests read what is printed of it."""

import re
from dataclasses import replace

import pandas as pd
from pypdf import PdfReader

from dashboard.words.numbers import numbers
from models.case.case import Amount, Case
from models.case.delay import DELAY_COLUMNS
from models.case.fund import CLAIM_COLUMNS, FundPosition, GiftRate, share_fund
from models.case.gifts import GIFT_COLUMNS
from models.case.mile import RunningCost, SinkingFund
from models.case.schedule import must_come_in

MADE_ON = pd.Timestamp("2026-11-12")
AS_OF = pd.Timestamp("2026-10-31")
OPENS = pd.Timestamp("2027-11-01")
EN = numbers("en", "USD")


def delays():
    rows = []
    for seasons, p50, ask, stopped, days in [
        (0, 131_246, 148_212, 0.31, 3),
        (1, 139_000, 157_900, 0.78, 31),
        (2, 151_400, 171_300, 0.97, 66),
        (3, 158_800, 180_500, 0.999, 101),
    ]:
        more = ask - 148_212
        rows.append(
            (
                seasons, OPENS + pd.DateOffset(years=seasons), p50, ask, ask,
                0.7 * more, more, 1.4 * more, 0.0, 0.0, 0.0,
                4_000 * seasons, 5_000 * seasons, 6_000 * seasons, stopped,
                days, 1.6 * days, 20.0 * days, 30.0 * days,
                900.0 * seasons, 700.0 * seasons, 1200.0 * seasons, ["A"],
            )
        )  # fmt: skip
    return pd.DataFrame(rows, columns=DELAY_COLUMNS)


NO_GIFTS = pd.DataFrame({"date": pd.to_datetime([]), "amount": [], "note": []})


def claims(ask=148_212.0, in_hand=52_318.0, others=()):
    own = ("Alder", "Alder", OPENS, ask)
    shared = share_fund(in_hand, pd.DataFrame([*others, own], columns=CLAIM_COLUMNS))
    return shared.assign(own=(shared["vehicle"] == "Alder") & (shared["opens"] == OPENS))


def example(**changes):
    """The example with changed fields; what the fund has for it follows from them."""
    if {"ask", "fund"} & set(changes) and "claims" not in changes:
        fund = changes.get("fund", example().fund)
        changes["claims"] = claims(changes.get("ask", 148_212.0), fund.in_hand)
    lines = pd.DataFrame(
        [
            ("tire", "planned", "driver tire", "cut", 8.0, ["A", "B"], 9_412.0, 10_033.0),
            ("crown", "planned", "crown brass", "renewed", 8.0, ["C"], 21_007.5, 22_998.5),
            ("open", "opening", "opening", "wheels out", 1.0, ["A", "B", "C"], 86_000.25, 93_180.25),
            ("hidden", "hidden", "driving journal", "renewed", 0.6, ["C"], 14_826.25, 22_000.25),
        ],
        columns=["line", "kind", "component", "action", "parts", "points", "at50", "ask"],
    ).assign(p10=1.0, p90=2.0)
    months = pd.date_range("2026-10-01", "2028-01-01", freq="MS")
    due = pd.Series(0.0, index=months)
    due["2027-02-01"], due["2027-05-01"], due["2027-11-01"] = 9_000.0, 29_000.0, 110_212.0
    bills = pd.DataFrame(
        {
            "line": ["crown", "open", "open", "tire"],
            "payment": ["castings", "deposit", "balance", "balance"],
            "month": pd.to_datetime(["2027-02-01", "2027-05-01", "2027-11-01", "2027-11-01"]),
            "amount": [9_000.0, 29_000.0, 100_179.0, 10_033.0],
            "is_late": False,
            "source": "assumption",
        }
    )
    case = Case(
        vehicle="Alder",
        name="Alder",
        as_of=AS_OF,
        opens=OPENS,
        currency="USD",
        confidence=0.8,
        ask=148_212.0,
        amount=Amount(112_000.0, 131_246.0, 148_212.0, 158_000.0),
        lines=lines,
        bills=bills,
        schedule=must_come_in(due, 52_318.0),
        fund=FundPosition(AS_OF, 52_318.0, 60_000.0, 7_682.0, 8_000.0),
        rate=GiftRate(2_140.0, 1_500.0, 2_800.0, 36, pd.Timestamp("2023-11-01"), pd.Timestamp("2026-10-01")),
        one_offs=NO_GIFTS,
        claims=claims(),
        chance_in_time=0.12,
        delays=delays(),
        mile=pd.DataFrame(
            {
                "component": ["crown brass", "driver tire", "all"],
                "action": ["renewed", "cut", ""],
                "jobs": [8, 8, 16],
                "p10": [0.5, 0.6, 1.3],
                "mean": [0.7, 0.8, 1.5],
                "p90": [0.9, 1.1, 1.8],
                "share": [0.47, 0.53, 1.0],
                "points": [["C"], ["A", "B"], ["A", "B", "C"]],
            }
        ),
        day=RunningCost(72.0, 108.0, 92.0, 131.0),
        miles_per_day=72.0,
        sinking=SinkingFund(
            (1.3, 1.5, 1.8), 0.9, 9_000.0, 8_100.0, 61_400.0, 52_000.0, 70_000.0, 52_318.0,
            pd.Timestamp("2023-11-01"), AS_OF,
        ),
        gifts=pd.DataFrame(
            [
                ("engine miles", "", "", 10.0, 13.0, 15.0, 18.0, ["A"]),
                ("component miles", "crown brass", "", 1000.0, 500.0, 700.0, 900.0, ["C"]),
                ("job", "driver tire", "cut", 1.0, 880.0, 1_010.0, 1_190.0, ["A"]),
            ],
            columns=GIFT_COLUMNS,
        ),
        remaining=pd.DataFrame(
            {
                "label": ["driver tire", "crown brass"],
                "note": ["first of 16 places", "first of 8 places"],
                "p10": [2_512.0, 3_100.0],
                "p50": [4_300.0, 5_000.0],
                "p90": [6_120.0, 8_800.0],
                "chance_by_window": [0.3, 0.1],
                "points": [["A", "B"], ["C"]],
            }
        ),
        seasons=pd.DataFrame(
            {
                "label": ["2027", "2028", "2029"],
                "start": [0.0, 3_900.0, 7_800.0],
                "end": [3_900.0, 7_800.0, 11_700.0],
            }
        ),
        window_miles=(3_300.0, 3_900.0, 4_500.0),
        assumptions=pd.DataFrame(
            {"what": ["prices rise each year by 3%"], "value": ["3%"], "source": ["assumption"]}
        ),
        unpriced=pd.DataFrame({"component": ["whistle"], "reason": ["no price"]}),
        unforecast=pd.DataFrame({"point": ["D"], "component": ["whistle"], "reason": ["too few readings"]}),
        is_planned=False,
        chosen_by=None,
        at_limit=(),
        draws=2000,
        readings=4_210,
        points=250,
        data_version=14,
    )  # fmt: skip
    return replace(case, **changes)


def money(text):
    return int(re.sub(r"[^0-9-]", "", text))


def column(table, index):
    return [money(row[index]) for row in table.rows]


def pdf_text(content):
    from io import BytesIO

    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages)


def own_text(brief):
    """All sentences of the brief, one after the other: what a reader reads beside tables of figures."""
    parts = [*brief.intro]
    for section in brief.sections:
        notes = [table.note for table in section.tables if table.note]
        parts += [*section.paragraphs, *section.bullets, *notes]
    return " ".join([*parts, brief.caution])
