"""One fund for all windows, and gifts that tell nothing of the pace of giving."""

import numpy as np
import pandas as pd
import pytest

from ingest.errors import NotPossible
from models.case.fund import CLAIM_COLUMNS, monthly_gifts, one_off_gifts, share_fund
from models.case.money import in_one_currency

AS_OF = pd.Timestamp("2026-10-31")


def claims(*rows):
    return pd.DataFrame(
        [(name, name, pd.Timestamp(day), amount) for name, day, amount in rows], columns=CLAIM_COLUMNS
    )


def test_what_opens_first_takes_first_and_no_coin_pays_twice():
    shared = share_fund(
        50_000.0,
        claims(("B", "2027-03-01", 30_000.0), ("A", "2026-11-01", 35_000.0), ("B", "2026-11-01", 5_000.0)),
    )
    assert shared["vehicle"].tolist() == ["A", "B", "B"]
    assert shared["from_fund"].tolist() == [35_000.0, 5_000.0, 10_000.0]
    assert shared["to_raise"].tolist() == [0.0, 0.0, 20_000.0]
    assert shared["before"].tolist() == [0.0, 35_000.0, 40_000.0]


@pytest.mark.parametrize("seed", range(20))
def test_the_parts_are_the_fund_or_all_that_is_asked_for(seed):
    rng = np.random.default_rng(seed)
    days = pd.Timestamp("2026-11-01") + pd.to_timedelta(rng.integers(0, 900, 8), unit="D")
    rows = claims(*[(str(i % 3), day, float(rng.uniform(0, 9e4))) for i, day in enumerate(days)])
    in_hand = float(rng.uniform(-1e4, 4e5))
    shared = share_fund(in_hand, rows)
    expected = min(max(in_hand, 0.0), rows["amount"].sum())
    assert shared["from_fund"].sum() == pytest.approx(expected)
    assert (shared["from_fund"] >= 0).all()


def book(*more, monthly=500.0):
    dates = pd.date_range("2023-11-15", "2026-10-15", freq="MS")
    rows = [(day, monthly, "received", "box") for day in dates]
    rows += [(pd.Timestamp(day), amount, "received", note) for day, amount, note in more]
    return pd.DataFrame(rows, columns=["date", "amount", "kind", "note"])


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ([], []),
        ([("2025-05-18", 25_000.0, "from a friend")], [25_000.0]),
        ([("2025-05-18", 900.0, "Grants of the county")], [900.0]),  # a word of its note says so
        ([("2025-05-18", 900.0, "granted wish")], []),
        ([("2024-06-01", 60_000.0, ""), ("2026-06-01", 50_000.0, "")], [60_000.0, 50_000.0]),
        ([(f"{year}-12-20", 9_000.0, "year's end") for year in (2023, 2024, 2025)], []),  # it comes each year
        ([("2025-05-18", 2_000.0, "a good evening")], []),
    ],
)
def test_a_gift_that_came_once_is_no_pace(more, expected):
    found = one_off_gifts(book(*more), AS_OF, words=("grant", "legacy"))
    assert found["amount"].tolist() == expected


def test_a_first_gift_that_is_no_pace_leaves_the_months_looked_at():
    funds = book(("2023-03-04", 25_000.0, "grant"))
    grant = one_off_gifts(funds, AS_OF, months=60, words=("grant",))
    every = monthly_gifts(funds, AS_OF, months=60)
    paced = monthly_gifts(funds, AS_OF, months=60, without=grant.index)
    assert len(grant) == 1
    assert paced.index.equals(every.index)
    assert every.sum() - paced.sum() == 25_000.0
    assert monthly_gifts(grant, AS_OF, without=grant.index).empty


def test_where_only_large_gifts_came_size_tells_nothing():
    rows = pd.DataFrame(
        {"date": pd.to_datetime(["2024-05-01", "2025-05-01"]), "amount": [9e4, 4e4], "kind": "received"}
    )
    assert one_off_gifts(rows.assign(note=""), AS_OF).empty


def test_a_row_without_a_currency_is_in_that_of_the_brief():
    costs = pd.DataFrame({"cost": [10.0, 20.0, 30.0], "currency": ["", None, "EUR"]})
    converted = in_one_currency(costs, "cost", "USD", {"EUR": 2.0}, table="costs")
    assert converted["cost"].tolist() == [10.0, 20.0, 60.0]
    with pytest.raises(NotPossible, match="amounts in EUR"):
        in_one_currency(costs, "cost", "USD", {}, table="costs")
