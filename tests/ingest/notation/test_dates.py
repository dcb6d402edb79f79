from datetime import date

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.notation.dates import ORDERS, month_words, parse_dates, parse_months


def read(text, order=None):
    row = parse_dates(pd.Series([text]), order).iloc[0]
    return (None if pd.isna(row["date"]) else row["date"].date(), row["problem"])


MAY = date(1998, 5, 3)


@pytest.mark.parametrize(
    "text",
    [
        "1998-05-03",
        "1998-5-3",
        "1998/05/03",
        "1998.05.03",
        "19980503",
        "1998-05-03 00:00:00",
        "1998-05-03T10:30:00Z",
        "3 May 1998",
        "3. May 1998",
        "3rd May, 1998",
        "Sunday 3 May 1998",
        "May 3, 1998",
        "MAY 3 1998",
        "3-May-98",
        "3 May '98",
        "35918",
        "35918.25",
    ],
)
@pytest.mark.parametrize("order", [None, *ORDERS])
def test_dates_that_say_themselves_what_is_what(text, order):
    assert read(text, order) == (MAY, "")


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("3. März 2024", date(2024, 3, 3)),
        ("1er août 2023", date(2023, 8, 1)),
        ("14 października 2024", date(2024, 10, 14)),
        ("5. května 2024", date(2024, 5, 5)),
        ("5. cervna 2024", date(2024, 6, 5)),
        ("5. července 2024", date(2024, 7, 5)),
        ("7 de mayo de 2024", date(2024, 5, 7)),
        ("7 agosto 2024", date(2024, 8, 7)),
        ("3. Okt. 24", date(2024, 10, 3)),
        ("12.X.2023", date(2023, 10, 12)),
        ("14 Mawrth 2024", date(2024, 3, 14)),
        ("3 Gorff. 2024", date(2024, 7, 3)),
    ],
)
@pytest.mark.parametrize("order", [None, "mdy"])
def test_months_in_the_languages_of_the_sheets(text, day, order):
    assert read(text, order) == (day, "")


def test_no_name_is_two_months():
    months = {}
    for _, word, month in month_words():
        assert months.setdefault(word, month) == month, word


@pytest.mark.parametrize("text", ["5 x 10", "2x12", "5 V 21", "12 X", "autumn 2019", "KW 14/2024"])
def test_what_only_looks_like_a_month_is_no_date(text):
    day, problem = read(text)
    assert day is None
    assert "is no date" in problem


@pytest.mark.parametrize(
    ("order", "day"), [("dmy", date(2005, 4, 3)), ("mdy", date(2005, 3, 4)), ("ymd", date(2003, 4, 5))]
)
def test_three_figures_in_the_order_stated(order, day):
    assert read("03/04/05", order) == (day, "")


def test_a_year_of_two_figures_turns_from_68_to_69():
    assert read("3 May 69") == (date(1969, 5, 3), "")
    assert read("3 May 68") == (date(2068, 5, 3), "")


def test_three_figures_are_never_guessed():
    day, problem = read("03/04/05")
    assert day is None
    assert "more than one order" in problem
    assert "layout" in problem


@pytest.mark.parametrize(
    ("text", "day"), [("25/12/1998", date(1998, 12, 25)), ("05/05/1998", date(1998, 5, 5))]
)
def test_three_figures_that_can_mean_one_day_only(text, day):
    assert read(text) == (day, "")


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("31/02/1998", "dmy"),
        ("02/31/1998", "mdy"),
        ("1998-02-31", None),
        ("31 February 1998", None),
        ("31/02/1998", None),
    ],
)
def test_31_february_is_named(text, order):
    day, problem = read(text, order)
    assert day is None
    assert "31 Feb 1998" in problem
    assert "calendar does not have" in problem


@pytest.mark.parametrize(
    ("text", "order", "words"),
    [
        ("", None, "empty"),
        ("n/a", None, "no date"),
        ("1998", None, "no date"),
        ("May 98", None, "no date"),
        ("3 Mayo-ish 1998", None, "no date"),
        ("1998-13-01", None, "no month"),
        ("25/12/1998", "mdy", "no month"),
        ("25/12/1998", "ymd", "year elsewhere"),
        ("13/13/1998", None, "no date in any order"),
        ("0001-01-01", None, "year outside"),
        ("29 Feb 1900", None, "calendar does not have"),
    ],
)
def test_what_is_refused(text, order, words):
    day, problem = read(text, order)
    assert day is None
    assert words in problem


def test_kind_and_index():
    out = parse_dates(pd.Series(["1998-05-03", "x"], index=[4, 4]))
    assert str(out["date"].dtype) == "datetime64[us]"
    assert out.index.tolist() == [4, 4]
    assert str(parse_dates(pd.Series([], dtype="str"))["date"].dtype) == "datetime64[us]"


@pytest.mark.parametrize("text", ["2026-05", "May 2026", "5/2026", "2026-05-17", "May '26"])
def test_months(text):
    out = parse_months(pd.Series([text]))
    assert out["date"].iloc[0] == pd.Timestamp("2026-05-01")
    assert out["problem"].iloc[0] == ""


def test_a_month_that_is_none():
    assert "no month" in parse_months(pd.Series(["2026-13"]))["problem"].iloc[0]


# A call costs more than a cell, so an example is a column of cells.
COLUMNS = settings(deadline=None, max_examples=20)
days = st.lists(st.dates(date(1969, 1, 1), date(2068, 12, 31)), min_size=1, max_size=60)
FORMS = {
    "dmy": ("%d/%m/%Y", "%d.%m.%y"),
    "mdy": ("%m/%d/%Y", "%m-%d-%y"),
    "ymd": ("%Y/%m/%d", "%y.%m.%d"),
}


def column(days_, form):
    return pd.Series([day.strftime(form) for day in days_])


@COLUMNS
@given(days, st.sampled_from(list(FORMS)), st.integers(0, 1))
def test_every_day_comes_back_in_its_order(days_, order, form):
    out = parse_dates(column(days_, FORMS[order][form]), order)
    assert out["date"].dt.date.tolist() == days_
    assert (out["problem"] == "").all()


@COLUMNS
@given(days, st.sampled_from(["%Y-%m-%d", "%d %B %Y", "%b %d, %Y", "%d-%b-%y", "%Y%m%d", "%a %d %b %Y"]))
def test_every_day_comes_back_without_an_order(days_, form):
    assert parse_dates(column(days_, form))["date"].dt.date.tolist() == days_


@COLUMNS
@given(days, st.sampled_from(["%d/%m/%Y", "%m/%d/%Y", "%d.%m.%y", "%y-%m-%d"]))
def test_without_an_order_a_day_is_right_or_held_back(days_, form):
    out = parse_dates(column(days_, form))
    assert (out["date"].isna() == (out["problem"] != "")).all()
    right = out["date"] == pd.Series(pd.to_datetime(days_))
    assert (right | out["date"].isna()).all()


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.text() | st.text("0123456789/.- aepMty'", max_size=12), max_size=60),
    st.sampled_from([None, *ORDERS]),
)
def test_any_text_ends_as_a_day_or_a_reason(texts, order):
    for parse in (parse_dates, parse_months):
        out = parse(pd.Series(texts, dtype="str"), order)
        assert (out["date"].isna() == (out["problem"] != "")).all()
