"""Money of the case: prices carried on, totals equal to their parts, one currency, the fund, the bills."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.errors import NotPossible
from models.case.fund import (
    chance_funded,
    fund_position,
    gift_rate,
    gifts_ahead,
    monthly_gifts,
)
from models.case.money import in_one_currency, rounding_step, share_out, split_quantile
from models.case.schedule import bills_by_month, must_come_in, payments_of

MONEY = st.floats(0.0, 1e7, allow_nan=False)


@settings(deadline=None)
@given(st.lists(MONEY, min_size=1, max_size=30), st.sampled_from([1, 10, 100, 1000]))
def test_rounded_parts_add_up_to_the_rounded_total(parts, step):
    shared = share_out(np.array(parts), step)
    assert shared.sum() == round(sum(parts) / step) * step
    assert (np.abs(shared - np.array(parts)) <= step + 1e-6).all()


@settings(deadline=None)
@given(st.lists(st.floats(1.0, 1e6), min_size=1, max_size=20), st.integers(0, 5000))
def test_parts_add_up_to_a_total_that_is_given(parts, hundreds):
    assert share_out(np.array(parts), 100, total=100 * hundreds).sum() == 100 * hundreds


def test_a_total_needs_parts_to_carry_it():
    with pytest.raises(ValueError, match="no part"):
        share_out(np.zeros(0), 1, total=5)
    with pytest.raises(ValueError, match="no part"):
        share_out(np.zeros(3), 1, total=5)
    with pytest.raises(ValueError, match="multiple"):
        share_out(np.ones(3), 10, total=15)


@pytest.mark.parametrize(
    ("total", "step"), [(0, 1), (87, 1), (1234, 10), (148_212, 1000), (2_000_000, 10_000)]
)
def test_rounding_keeps_three_figures(total, step):
    assert rounding_step(total) == step


def test_eighty_percent_of_the_whole_is_less_than_the_sum_of_eighty_percents():
    rng = np.random.default_rng(5)
    parts = rng.gamma(2.0, 1000.0, (20_000, 10))
    total, at = split_quantile(parts, 0.8)
    assert at.sum() == pytest.approx(total, rel=1e-12)
    assert total == pytest.approx(np.quantile(parts.sum(axis=1), 0.8))
    assert total < np.quantile(parts, 0.8, axis=0).sum() * 0.9


def test_the_part_that_makes_a_total_dear_carries_it():
    """Two normal parts, sd 1 and 3: E[part | total at mean + z sd] = mean + z var_i / sd."""
    rng = np.random.default_rng(7)
    parts = np.array([50.0, 50.0]) + rng.standard_normal((200_000, 2)) * [1.0, 3.0]
    _, at = split_quantile(parts, 0.8)
    z = 0.8416  # normal 80 % quantile
    np.testing.assert_allclose(at, [50 + z * 1 / np.sqrt(10), 50 + z * 9 / np.sqrt(10)], atol=0.03)


def test_parts_grow_with_the_confidence_and_never_fall_below_nothing():
    rng = np.random.default_rng(9)
    steady = rng.normal(1000.0, 50.0, (2000, 5))
    rare = 20_000.0 * (rng.random((2000, 1)) < 0.1)
    parts = np.concatenate([steady, rare], axis=1)
    at = [split_quantile(parts, p)[1] for p in (0.5, 0.8, 0.95)]
    # Independent parts of 2000 draws correlate by chance, up to 0.07: less than a percent of the steady ones.
    assert (np.diff(at, axis=0) >= -0.005 * at[0]).all()
    assert min(part.min() for part in at) >= 0
    assert at[2][5] > 10_000
    same, alike = split_quantile(np.full((10, 2), 5.0), 0.8)
    assert (same, alike.tolist()) == (10.0, [5.0, 5.0])


def test_nothing_to_split_is_nothing():
    amount, parts = split_quantile(np.zeros((10, 0)), 0.8)
    assert amount == 0
    assert len(parts) == 0


def test_unknown_currency_is_named_with_what_to_do():
    costs = pd.DataFrame({"cost": [10.0, 20.0], "currency": ["USD", "CAD"]})
    with pytest.raises(NotPossible, match=r"costs: amounts in CAD.*\[rates\]"):
        in_one_currency(costs, "cost", "USD", {}, table="costs")
    assert in_one_currency(costs, "cost", "USD", {"CAD": 0.7}, table="costs")["cost"].tolist() == [10.0, 14.0]


def book(rows):
    frame = pd.DataFrame(rows, columns=["date", "amount", "kind"])
    return frame.assign(date=pd.to_datetime(frame["date"]))


def test_fund_counts_what_came_in_and_not_what_was_promised():
    funds = book(
        [
            ("2025-01-10", 500.0, "received"),
            ("2025-02-10", 120.0, "spent"),
            ("2025-02-11", 9000.0, "pledged"),
            ("2026-01-01", 1.0, "received"),
        ]
    )
    position = fund_position(funds, pd.Timestamp("2025-12-31"))
    assert (position.in_hand, position.received, position.spent, position.pledged) == (380, 500, 120, 9000)


def test_months_without_a_gift_count_and_the_running_month_does_not():
    funds = book([("2025-01-10", 500.0, "received"), ("2025-04-02", 100.0, "received")])
    assert monthly_gifts(funds, pd.Timestamp("2025-04-15")).tolist() == [500, 0, 0]
    assert monthly_gifts(funds, pd.Timestamp("2025-04-30")).tolist() == [500, 0, 0, 100]
    assert monthly_gifts(funds, pd.Timestamp("2025-04-30"), months=2).tolist() == [0, 100]


def test_few_months_tell_no_rate():
    history = pd.Series([100.0] * 5, index=pd.date_range("2025-01-01", periods=5, freq="MS"))
    assert gift_rate(history, np.random.default_rng(1)) is None


def test_steady_gifts_give_a_sure_rate_and_lumpy_ones_a_wide_one():
    index = pd.date_range("2023-01-01", periods=36, freq="MS")
    steady = gift_rate(pd.Series(100.0, index=index), np.random.default_rng(1))
    lumpy = gift_rate(pd.Series(([0.0] * 11 + [1200.0]) * 3, index=index), np.random.default_rng(1))
    assert (steady.per_month, steady.p10, steady.p90) == (100, 100, 100)
    assert lumpy.per_month == pytest.approx(100)
    assert lumpy.p10 < 60 < 140 < lumpy.p90


def test_drawn_gifts_keep_the_mean_and_carry_its_uncertainty():
    """Independent months: a year's mean varies by its own 12 and by the 36 that it was learned from.

    Variance over that of a month: 1/12 + 1/36 = 0.111. One history of 36 months may swing by chance, so
    40 histories are averaged. Runs of mean length 4 bring the sample's autocorrelations in, each biased by
    -1/36: 2 (3 + ...) / 36, some 15 % less. From the history alone it would be 0.083 less 15 %: 0.07.
    """
    rng = np.random.default_rng(3)
    ratios = []
    for _ in range(40):
        history = rng.exponential(100.0, 36)
        mean = gifts_ahead(history, 12, 2000, rng).mean(axis=1)
        assert mean.mean() == pytest.approx(history.mean(), rel=0.05)  # 2000 draws of a sd of 0.33
        ratios.append(mean.var() / history.var())
    assert 0.085 < np.mean(ratios) < 0.12


def test_chance_of_having_enough():
    gifts = np.tile([10.0, 10.0, 10.0], (4, 1))
    need = np.array([20.0, 30.0, 40.0, 50.0])
    at_the_end = np.array([0.0, 0.0, 1.0])
    assert chance_funded(need, at_the_end, 5.0, gifts) == 0.5
    assert chance_funded(need, np.array([0.5, 0.0, 0.5]), 5.0, gifts) == 0.5
    assert chance_funded(need, np.array([1.0, 0.0, 0.0]), 5.0, gifts) == 0.0
    assert chance_funded(need, np.array([1.0, 0.0, 0.0]), 45.0, gifts) == 1.0


TERMS = pd.DataFrame(
    {
        "payment": ["deposit", "castings", "labor and balance"],
        "share": [0.2, 0.3, np.nan],
        "months_before": [6.0, 9.0, 0.0],
        "spread_months": [1, 1, 3],
        "components": [[], ["bushing"], []],
        "actions": [[], ["renewed"], []],
        "source": ["assumption"] * 3,
    }
)
LINES = pd.DataFrame(
    {"line": ["a", "b"], "component": ["rod bushing", "driver tire"], "action": ["renewed", "cut"]}
)


def test_payments_follow_the_words_and_the_rest_is_the_balance():
    shares = payments_of(LINES, TERMS).set_index(["line", "payment"])["share"]
    assert shares["a"].to_dict() == pytest.approx({"deposit": 0.2, "castings": 0.3, "labor and balance": 0.5})
    assert shares["b"].to_dict() == pytest.approx({"deposit": 0.2, "labor and balance": 0.8})


def test_terms_without_a_balance_and_terms_beyond_the_whole_still_pay_all():
    short = payments_of(LINES, TERMS.iloc[:2])
    assert short.groupby("line")["share"].sum().to_dict() == pytest.approx({"a": 1.0, "b": 1.0})
    beyond = TERMS.assign(share=[0.9, 0.6, np.nan])
    assert payments_of(LINES, beyond).groupby("line")["share"].sum().to_dict() == pytest.approx(
        {"a": 1.0, "b": 1.0}
    )


def test_bills_add_up_and_a_late_one_is_due_now():
    cost = pd.Series({"a": 1000.0, "b": 600.0})
    opens, as_of = pd.Timestamp("2027-11-01"), pd.Timestamp("2027-04-20")
    bills = bills_by_month(cost, payments_of(LINES, TERMS), opens, as_of)
    assert bills["amount"].sum() == pytest.approx(1600)
    assert bills.groupby("line")["amount"].sum().to_dict() == pytest.approx({"a": 1000, "b": 600})
    late = bills[bills["is_late"]]
    assert late["payment"].tolist() == ["castings"]
    assert late["month"].tolist() == [pd.Timestamp("2027-04-01")]
    deposit = bills[bills["payment"] == "deposit"]
    assert set(deposit["month"]) == {pd.Timestamp("2027-05-01")}
    balance = bills[(bills["payment"] == "labor and balance") & (bills["line"] == "a")]
    assert balance["month"].dt.month.tolist() == [11, 12, 1]


def months(*due):
    return pd.Series(list(map(float, due)), index=pd.date_range("2027-01-01", periods=len(due), freq="MS"))


def test_what_must_come_in_is_level_up_to_the_pressing_bill():
    table = must_come_in(months(0, 0, 300, 0, 0, 60), 0.0)
    assert table["to_raise"].tolist() == pytest.approx([100, 100, 100, 20, 20, 20])
    assert must_come_in(months(0, 60, 0, 0, 240), 20.0)["to_raise"].tolist() == pytest.approx([56] * 5)
    assert must_come_in(months(0, 60), 100.0)["to_raise"].sum() == 0


@settings(deadline=None)
@given(st.lists(st.floats(0, 1e5), min_size=1, max_size=24), st.floats(-1e4, 1e5))
def test_what_must_come_in_covers_every_bill_and_no_more(due, in_hand):
    table = must_come_in(months(*due), in_hand)
    assert table["balance"].min() >= -1e-4
    assert table["to_raise"].sum() == pytest.approx(max(0.0, max(np.cumsum(due)) - in_hand), abs=1e-4)
    assert (table["to_raise"] >= -1e-9).all()
    assert (np.diff(table["to_raise"]) <= 1e-4).all()  # it never has to grow later
