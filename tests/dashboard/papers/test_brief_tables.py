"""Tables of the brief: every printed total is the sum of its printed parts."""

from dataclasses import replace

import pandas as pd
from briefs.example_case import AS_OF, EN, MADE_ON, claims, column, example, money
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from dashboard.papers import brief_words
from dashboard.papers.brief import BriefSettings, compose, render_pdf
from dashboard.papers.brief_tables import (
    bills_table,
    delay_table,
    fund_table,
    gift_table,
    income_table,
    level_runs,
    rounded,
    scope_table,
)
from dashboard.papers.excursion_words import parts_table, rounded_parts
from models.case.case import Amount
from models.case.excursion import Excursion, cost_of_excursions
from models.case.fund import FundPosition
from models.case.schedule import must_come_in


def test_printed_sums_agree_with_each_other(case):
    sums = rounded(case)
    assert (sums.ask, sums.half_way, sums.in_hand, sums.to_raise) == (148_000, 131_000, 52_300, 95_700)
    assert sums.ask - sums.in_hand == sums.to_raise


def test_what_earlier_work_needs_is_the_sum_of_its_lines_in_the_table_of_the_fund():
    """17,408 is printed as 17,400, so 3,350 is to come of it, not 3,358."""
    earlier = [("Birch", "Birch", pd.Timestamp("2026-11-01"), 17_408.0)]
    fund = replace(example().fund, in_hand=14_050.0)
    case = example(ask=2_336.0, fund=fund, claims=claims(2_336.0, 14_050.0, earlier))
    sums = rounded(case)
    assert sums.before == money(fund_table(case, sums, EN).rows[0][3]) == 3_350


def test_every_printed_total_is_the_sum_of_its_printed_parts(case):
    sums = rounded(case)
    scope = scope_table(case, sums, EN)
    for index in (1, 2):
        assert sum(column(scope, index)) == money(scope.total[index])
    assert money(scope.total[2]) == sums.ask
    bills = bills_table(case, sums, EN)
    assert sum(column(bills, 2)) == money(bills.total[2]) == sums.ask
    income = income_table(case, sums, EN)
    assert sum(column(income, 2)) == money(income.total[2]) == sums.to_raise


@settings(deadline=None)
@given(
    st.lists(st.floats(50.0, 300_000.0), min_size=1, max_size=30),
    st.floats(-20_000.0, 400_000.0),
    st.floats(1.0, 1.6),
)
def test_totals_hold_for_any_sums(parts, in_hand, dearer):
    lines = pd.DataFrame({"ask": [part * dearer for part in parts], "at50": parts})
    lines = lines.assign(
        kind="planned", component=[f"part {i}" for i in lines.index], action="renewed", parts=1.0
    )
    ask = lines["ask"].sum()
    months = pd.date_range("2026-10-01", periods=12, freq="MS")
    due = pd.Series([ask / 4, 0, 0, 0, 0, ask / 2, 0, 0, 0, 0, 0, ask / 4], index=months)
    bills = (
        due[due > 0]
        .rename("amount")
        .rename_axis("month")
        .reset_index()
        .assign(payment="x", source="shop", is_late=False)
    )
    case = example(
        lines=lines,
        ask=ask,
        amount=Amount(0.0, sum(parts), ask, ask),
        bills=bills,
        schedule=must_come_in(due, in_hand),
        fund=FundPosition(AS_OF, in_hand, 0.0, 0.0, 0.0),
    )
    sums = rounded(case)
    for table, index in [
        (scope_table(case, sums, EN), 1),
        (scope_table(case, sums, EN), 2),
        (bills_table(case, sums, EN), 2),
        (income_table(case, sums, EN), 2),
    ]:
        assert sum(column(table, index)) == money(table.total[index])
    assert sums.to_raise == max(0, sums.ask - sums.in_hand)


def test_small_kinds_of_work_are_put_together_and_counted():
    lines = pd.DataFrame(
        {"kind": "planned", "component": [f"part {i}" for i in range(14)], "action": "renewed", "parts": 2.0}
    ).assign(at50=[1000.0 - i for i in range(14)], ask=[1100.0 - i for i in range(14)])
    case = example(lines=lines, ask=lines["ask"].sum(), amount=Amount(0, lines["at50"].sum(), 0, 0))
    table = scope_table(case, rounded(case), EN)
    assert len(table.rows) == 10
    assert table.rows[0][0] == "2 × part 0: renewed"
    assert table.rows[-1][0] == "other work (5 kinds)"


def test_months_of_one_level_are_taken_together():
    to_raise = pd.Series(
        [0.0, 50.0, 50.0, 50.0, 20.0], index=pd.date_range("2026-10-01", periods=5, freq="MS")
    )
    runs = level_runs(to_raise)
    assert runs["months"].tolist() == [3, 1]
    assert runs["amount"].tolist() == [150, 20]
    assert level_runs(to_raise * 0).empty


PLAN = (Excursion("fall colors", 62.0, 4, 240), Excursion("winter trains", 18.0, 10, 150))


def test_excursions_are_told_with_the_cost_of_a_mile_and_add_up(case):
    brief = compose(case, BriefSettings(excursions=PLAN), MADE_ON)
    part = next(part for part in brief.sections if part.heading == brief_words.MILE_HEADING)
    table = part.tables[-1]
    assert [row[0] for row in table.rows] == ["fall colors", "winter trains"]
    assert table.total == [
        "All together",
        "14",
        "428 miles",
        "$642",
        "$556 to $770",
    ]  # × 1.3, 1.5, 1.8
    assert sum(column(table, 3)) == money(table.total[3])
    assert "Each of the 2,460 seats sold must carry $0.26 of it ($0.23 to $0.31)" in part.paragraphs[-1]
    assert "at the prices of 31 October 2026" in part.paragraphs[-1]
    from io import BytesIO

    assert len(PdfReader(BytesIO(render_pdf(brief))).pages) == 2


def test_a_single_excursion_is_told_by_component(case):
    cost = cost_of_excursions(case.mile, PLAN[:1])
    brief = compose(case, BriefSettings(excursions=PLAN[:1]), MADE_ON)
    table = next(part for part in brief.sections if part.heading == brief_words.MILE_HEADING).tables[-1]
    assert [row[:2] for row in table.rows] == [["driver tire: cut", "$198"], ["crown brass: renewed", "$174"]]
    assert table.total[1] == "$372"
    assert rounded_parts(cost)["mean"].tolist() == [198, 174, 372]


@given(st.lists(st.floats(0.0001, 5.0), min_size=1, max_size=40), st.floats(0.1, 2000.0), st.integers(1, 366))
@settings(max_examples=60, deadline=None)
def test_printed_parts_of_any_excursion_add_up(means, miles, days):
    mile = pd.DataFrame(
        {"component": [f"part {i}" for i in range(len(means))] + ["all"], "action": "renewed", "jobs": 1}
    )
    mile = mile.assign(mean=[*means, sum(means)], share=0.0, points=[[]] * len(mile))
    mile = mile.assign(p10=0.8 * mile["mean"], p90=1.2 * mile["mean"])
    shown = parts_table(cost_of_excursions(mile, [Excursion("x", miles, days)]), EN)
    assert sum(column(shown, 1)) == money(shown.total[1])
    assert all(" to " in row[2] for row in shown.rows)


def test_waiting_is_told_by_season(case):
    table = delay_table(case, rounded(case), EN)
    assert [row[0] for row in table.rows] == ["Nov 2027, as planned", "Nov 2028", "Nov 2029", "Nov 2030"]
    assert table.rows[1][2:4] == ["$6,800 to $13,600", "$4,000 to $6,000"]
    assert table.rows[0][4] == "3 times in 10"
    assert [row[5] for row in table.rows[:2]] == ["about 3 (up to 5)", "about 31 (up to 50)"]
    rare = case.delays.assign(days_lost_mean=[2.0, 0.0, 5.0, 9.0], days_lost_p80=[0.0, 0.0, 7.0, 12.0])
    rows = delay_table(replace(case, delays=rare), rounded(case), EN).rows
    assert [row[5] for row in rows[:3]] == ["none 8 times in 10", "none", "about 5 (up to 7)"]


def test_gifts_are_told_in_real_units(case):
    rows = gift_table(case, EN).rows
    assert rows[0] == ["10 miles of the whole engine", "$15", "$13 to $18"]
    assert rows[2] == ["one driver tire: cut", "$1,010", "$880 to $1,190"]
