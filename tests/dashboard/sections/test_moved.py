"""What a forecast says otherwise than the one before: the miles run in between are no news."""

import pandas as pd

from dashboard.sections.moved import changes_between


def forecast(**points):
    rows = [
        {
            "point": name,
            "vehicle": "Quillon",
            "component": "driver tire",
            "position": "driver 1 left",
            "quantity": "tread hollow",
            "as_of_odometer": odometer,
            "miles_p50": miles,
        }
        for name, (odometer, miles) in points.items()
    ]
    return pd.DataFrame(rows)


NAN = float("nan")


def test_running_on_as_expected_is_no_news():
    out = changes_between(forecast(a=(1000.0, 5000.0)), forecast(a=(1500.0, 4500.0)))
    assert out.empty


def test_each_kind_of_news_is_named_and_what_comes_sooner_stands_first():
    before = forecast(a=(0.0, 5000.0), b=(0.0, 5000.0), c=(0.0, NAN), d=(0.0, 900.0))
    after = forecast(a=(500.0, 2000.0), b=(500.0, 9000.0), c=(500.0, 100.0), d=(500.0, NAN), e=(500.0, 70.0))
    out = changes_between(before, after).set_index("point")
    assert out["what"].to_dict() == {
        "a": "sooner", "b": "later", "c": "now forecast", "d": "no longer forecast", "e": "new",
    }  # fmt: skip
    assert out.loc["a", ["before", "expected", "after", "change"]].tolist() == [
        5000.0,
        4500.0,
        2000.0,
        -2500.0,
    ]
    assert list(out.index).index("a") < list(out.index).index("b")


def test_less_than_a_tenth_is_not_worth_a_look():
    assert changes_between(forecast(a=(0.0, 1000.0)), forecast(a=(0.0, 1090.0))).empty
    assert not changes_between(forecast(a=(0.0, 1000.0)), forecast(a=(0.0, 1120.0))).empty


def test_what_was_used_up_long_ago_is_not_expected_to_be_negative():
    out = changes_between(forecast(a=(0.0, 100.0)), forecast(a=(900.0, 700.0)))
    assert out["expected"].tolist() == [0.0]
    assert out["what"].tolist() == ["later"]
