"""What is said of a wear point beside its miles, and the doubts behind it: each rule where it just holds."""

import numpy as np
import pytest

from models.forecast.run import make_forecast

EVERY_HUNDRED_DAYS = range(100, 1000, 100)


def each_in_its_own_family(tables, wear):
    """Flags by wear point; ``wear`` : point -> readings in mm of 4, every 100 days and 1,000 miles."""
    readings = [
        (point, 100 * i, value, 1000 * i)
        for point, values in wear.items()
        for i, value in enumerate(values, start=1)
    ]
    given = tables(readings, points=[(point, 0.0, 4.0) for point in wear], log=((0, 0), (1300, 13_000)))
    given["wear_points"]["component"] = list(wear)
    return make_forecast(given).frames["forecast"].set_index("point")["flags"]


def test_the_shop_limit_stands_in_where_no_new_value_is_stated(tables):
    readings = [(p, day, 1.0 + 0.2 * day / 100, 10 * day) for p in "AB" for day in EVERY_HUNDRED_DAYS]
    given = tables(readings, points=[("A", np.nan, 4.0), ("B", 1.0, 4.0)])
    given["wear_points"]["shop_limit"] = 1.0
    rows = make_forecast(given).frames["forecast"].set_index("point")
    assert "cannot be forecast" not in rows.loc["A", "flags"]
    assert rows.loc["A", "miles_p50"] == pytest.approx(rows.loc["B", "miles_p50"])


def test_what_a_cut_left_is_all_that_can_still_wear(tables):
    # Of 10 mm 7.75 were cut off: 2.25 to wear at 0.5 a thousand miles, 3,200 miles run.
    readings = [("A", 100, 99.5, 1000), ("A", 200, 99.0, 2000), ("A", 300, 90.75, 3000)]
    work = [("A", 250, "cut", 98.75, 91.0)]
    given = tables(readings, work, points=[("A", 100.0, 90.0)], log=((0, 0), (320, 3200)))
    row = make_forecast(given).frames["forecast"].iloc[0]
    assert 1_000 < row["miles_p50"] < 2_500  # the straight line: 1,300


def test_a_renewal_is_suspected_only_beyond_the_scatter_and_when_most_of_the_wear_is_gone(tables):
    flags = each_in_its_own_family(
        tables,
        {
            "renewed": [0.4, 0.8, 1.2, 1.6, 2.0, 2.4, 2.8, 0.4, 0.8, 1.2],
            "scattered": [1.5, 0.6, 1.0, 2.0, 2.0, 1.6, 1.2, 0.7, 0.5, 2.1],
            "partly back": [0.4, 0.8, 1.2, 1.6, 2.0, 2.4, 2.8, 3.2, 3.6, 2.4, 2.8, 3.2],
        },
    )
    suspected = flags.str.contains("unrecorded renewal suspected")
    assert suspected.to_dict() == {"renewed": True, "scattered": False, "partly back": False}


def test_an_odometer_in_doubt_by_more_than_three_in_a_hundred_of_the_life_is_named(tables):
    readings = [(p, day, 0.2 * day / 100, 10 * day) for p in "AB" for day in EVERY_HUNDRED_DAYS]
    given = tables(readings, points=[("A", 0.0, 4.0), ("B", 0.0, 4.0)])
    given["readings"]["odometer_sd"] = np.where(given["readings"]["point"] == "A", 340.0, 260.0)
    flags = make_forecast(given).frames["forecast"].set_index("point")["flags"]  # 10,000 miles run
    assert "odometer partly estimated" in flags["A"]
    assert "odometer partly estimated" not in flags["B"]


def test_what_is_odd_for_a_fine_gauge_is_not_for_one_stated_to_be_rough(tables):
    """Of seven alike, A and B read 0.1 mm too much at the last; gauges 0.02 mm, that of B 0.2 mm."""
    error = 0.01 * np.array([1, -1, 0, 1, -1, 1, 0, -1, 0])
    readings = [
        (point, day, 0.002 * day + error[(i + k) % 9] + 0.1 * (k < 2 and i == 8), 10 * day)
        for k, point in enumerate("ABCDEFG")
        for i, day in enumerate(EVERY_HUNDRED_DAYS)
    ]
    given = tables(readings, points=[(point, 0.0, 4.0) for point in "ABCDEFG"])
    given["wear_points"]["gauge_sd"] = np.where(given["wear_points"]["point"] == "B", 0.2, 0.02)
    flags = make_forecast(given).frames["forecast"].set_index("point")["flags"]
    odd = flags.str.contains("odd reading on 2002-06-19")
    assert odd[odd].index.tolist() == ["A"]
