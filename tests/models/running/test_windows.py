"""Lay-ups found in the usage ahead, windows by hand."""

import pandas as pd
import pytest

from ingest.errors import WrongUsage
from models.running.windows import by_hand, combine, lay_ups, vehicles_lying_open, winters, within

AS_OF = pd.Series({"A": pd.Timestamp("2026-12-31")})


def usage(months, vehicle="A", start="2026-12-01"):
    month = pd.date_range(start, periods=len(months), freq="MS")
    return pd.DataFrame({"vehicle": vehicle, "month": month, "miles": months})


def day(text):
    return pd.Timestamp(text)


def test_lay_up_is_the_stretch_without_running():
    #               Dec Jan Feb Mar Apr  May  Jun  Jul  Aug  Sep Oct Nov Dec Jan Feb Mar
    found = lay_ups(usage([0, 0, 0, 0, 500, 500, 500, 500, 500, 500, 0, 0, 0, 0, 500, 500]), AS_OF)
    assert found[["opens", "closes"]].to_numpy().tolist() == [
        [day("2027-01-01"), day("2027-03-31")],
        [day("2027-10-01"), day("2028-01-31")],
    ]
    assert found["days"].tolist() == [90, 123]
    assert set(found["source"]) == {"lay-up"}


def test_a_little_running_is_smear_of_the_mean_but_a_trip_ends_the_lay_up():
    found = lay_ups(usage([0, 20, 0, 500, 500, 0, 250, 0, 500]), AS_OF)  # mean running month 317
    assert found["opens"].tolist() == [day("2027-01-01"), day("2027-05-01"), day("2027-07-01")]
    assert found["closes"].tolist() == [day("2027-02-28"), day("2027-05-31"), day("2027-07-31")]


def test_a_month_of_a_fifth_of_the_usual_running_is_no_lay_up():
    found = lay_ups(usage([0, 0, 500, 500, 100, 500, 500, 0, 500]), AS_OF)  # mean running month 433
    assert found["opens"].tolist() == [day("2027-01-01"), day("2027-07-01")]


def test_twenty_days_open_no_window_and_twenty_one_do():
    months = [0, 500, 500]
    for opens, count in (("2027-01-10", 1), ("2027-01-11", 0)):  # to 31 January: 21 and 20 days after it
        as_of = pd.Series({"A": pd.Timestamp(opens)})
        assert len(lay_ups(usage(months, start="2027-01-01"), as_of)) == count


def test_a_lay_up_without_an_end_in_sight_and_one_of_a_few_days_are_left_out():
    assert len(lay_ups(usage([500, 500, 500, 0, 0]), AS_OF)) == 0
    late = pd.Series({"A": pd.Timestamp("2027-01-20")})
    assert len(lay_ups(usage([0, 500, 500], start="2027-01-01"), late)) == 0  # eleven days left


def test_stated_windows_take_the_place_of_lay_ups_and_windows_past_are_left_out():
    found = lay_ups(usage([0, 0, 0, 500, 500, 0, 0, 500]), AS_OF)
    stated = by_hand([(day("2027-02-10"), day("2027-04-05")), (day("2020-01-01"), day("2020-02-01"))], ["A"])
    windows = combine(found, stated, AS_OF)
    assert windows["opens"].tolist() == [day("2027-02-10"), day("2027-05-01")]
    assert windows["source"].tolist() == ["by hand", "lay-up"]
    assert windows["window"].tolist() == [1, 2]
    assert windows["label"].tolist() == ["Feb – Apr 2027", "May – Jun 2027"]


def test_a_window_open_now_begins_tomorrow():
    windows = combine(
        lay_ups(usage([]), AS_OF), by_hand([(day("2026-11-01"), day("2027-02-28"))], ["A"]), AS_OF
    )
    assert windows["opens"].tolist() == [day("2027-01-01")]
    assert windows["days"].tolist() == [59]
    assert windows["label"].tolist() == ["Jan – Feb 2027"]


def test_horizon_ends_at_the_first_window_after_it():
    windows = combine(lay_ups(usage([0, 500] * 30), AS_OF), by_hand([], ["A"]), AS_OF)
    inside, ends = within(windows, AS_OF, 2)
    assert inside["opens"].max() < day("2028-12-31")
    assert ends == {"A": windows.loc[len(inside), "opens"]}
    every, none = within(windows, AS_OF, 40)
    assert len(every) == len(windows)
    assert none == {}


def test_a_window_that_closes_before_it_opens_is_refused():
    with pytest.raises(WrongUsage, match="2027-03-01:2027-02-01: it closes before it opens"):
        by_hand([(day("2027-03-01"), day("2027-02-01"))], ["A"])


def test_windows_of_each_vehicle_are_numbered_for_themselves():
    as_of = pd.Series({"A": pd.Timestamp("2026-12-31"), "B": pd.Timestamp("2026-12-31")})
    ahead = pd.concat([usage([0, 0, 500, 0, 500]), usage([0, 500, 0, 500, 0, 500], vehicle="B")])
    windows = combine(lay_ups(ahead, as_of), by_hand([], []), as_of)
    assert windows.groupby("vehicle")["window"].apply(list).to_dict() == {"A": [1, 2], "B": [1, 2]}


def test_what_is_left_of_a_lay_up_counts_where_the_engine_lies_open():
    """Opened in November, trains planned for December: the winter has begun, it does not begin in January."""
    #              Nov Dec Jan Feb Mar Apr then a season, and so on
    year = [0, 150, 0, 0, 0, 0, 500, 500, 500, 500, 500, 500]
    ahead = usage([*year, *year], start="2026-11-01")
    as_of = pd.Series({"A": day("2026-11-14")})
    assert winters(lay_ups(ahead, as_of), ahead)["opens"].iloc[0] == day("2027-01-01")
    openings = pd.DataFrame(
        {"vehicle": ["A", "A", "B"], "since": ["2020-11-04", "2026-11-09", "2026-11-09"],
         "until": ["2021-04-30", None, None]}
    ).astype({"since": "datetime64[us]", "until": "datetime64[us]"})  # fmt: skip
    assert vehicles_lying_open(openings, as_of) == ["A"]
    assert vehicles_lying_open(openings, as_of - pd.Timedelta(days=10)) == []
    first = winters(lay_ups(ahead, as_of, lying_open=["A"]), ahead).iloc[0]
    assert (first["opens"], first["closes"], first["days"]) == (day("2026-11-15"), day("2027-04-30"), 120)
