"""Lives follow the part: two engines, four wheelsets, by hand."""

import numpy as np
import pandas as pd
import pytest

from models.lives.build import build_lives
from models.lives.follow import follow_parts, of_fitted, own_points
from models.lives.stints import stints_of

DAY0 = pd.Timestamp("2000-01-01")


def days(numbers):
    dated = [pd.NaT if pd.isna(n) else DAY0 + pd.Timedelta(days=n) for n in numbers]
    return pd.Series(pd.to_datetime(dated)).astype("datetime64[us]")


def railway(fittings, readings, work=(), parts=None, told=()):
    """Engines A (10 miles a day from 0) and B (20 a day from 50,000), each with drivers 1 and 2, hollow.

    Fittings are (part, vehicle, position, since, until, why); readings (vehicle + driver, day, value); work
    (place, day, action, before, after); told (row of readings, part, found or left).
    """
    places = [("A", 1), ("A", 2), ("B", 1), ("B", 2)]
    odometer = {"A": lambda d: 10.0 * d, "B": lambda d: 50_000 + 20.0 * d}
    known = dict.fromkeys(sorted({f[0] for f in fittings}), np.nan) if parts is None else parts
    fitted = pd.DataFrame(fittings, columns=["part_no", "vehicle", "position", "since", "until", "why"])
    log = [(v, d, odometer[v](d)) for v in "AB" for d in (0, 500, 1000)]
    return {
        "vehicles": pd.DataFrame({"vehicle": ["A", "B"], "class": "one", "arrangement": ""}),
        "wear_points": pd.DataFrame(
            {
                "point": [f"{v}{n}" for v, n in places],
                "vehicle": [v for v, _ in places],
                "component": "driver tire",
                "position": [f"driver {n} left" for _, n in places],
                "quantity": "tread hollow",
                "unit": "mm",
                "new_value": 0.0,
                "shop_limit": np.nan,
                "condemning_limit": 8.0,
                "gauge_sd": np.nan,
                "base_unit": "mm",
                "per_base": 1.0,
            }
        ),
        "mileage": pd.DataFrame(
            {
                "vehicle": [r[0] for r in log],
                "date": days([r[1] for r in log]),
                "odometer": [r[2] for r in log],
            }
        ),
        "readings": pd.DataFrame(
            {
                "row_id": np.arange(len(readings)),
                "point": [r[0] for r in readings],
                "date": days([r[1] for r in readings]),
                "value": [float(r[2]) for r in readings],
                "odometer": [odometer[r[0][0]](r[1]) for r in readings],
                "odometer_sd": 0.0,
            }
        ),
        "work": pd.DataFrame(
            {
                "point": [w[0] for w in work],
                "date": days([w[1] for w in work]),
                "action": [w[2] for w in work],
                "value_before": [np.nan if w[3] is None else w[3] for w in work],
                "value_after": [np.nan if w[4] is None else w[4] for w in work],
            }
        ),
        "parts": pd.DataFrame(
            {"part_no": list(known), "component": "driving wheelset", "miles_before": list(known.values())}
        ).astype({"miles_before": float}),
        "fittings": fitted.assign(since=days(fitted["since"]), until=days(fitted["until"])),
        "told": pd.DataFrame(
            {
                "row_id": [t[0] for t in told],
                "point": [readings[t[0]][0] for t in told],
                "date": days([readings[t[0]][1] for t in told]),
                "part_no": [t[1] for t in told],
                "found_or_left": [t[2] for t in told],
            }
        ),
    }


def life_at(tables, point):
    """Miles and wear of the readings of the life in service at a wear point."""
    table = build_lives(tables, as_written=True)
    row = table.in_service[tables["wear_points"]["point"].tolist().index(point)]
    lives = table.lives
    return (
        lives.miles[row][: lives.count[row]].tolist(),
        lives.wear[row][: lives.count[row]].tolist(),
        table,
        row,
    )


SWAP = [
    ("W1", "A", "driver 1", 0, 400, "while_open"),
    ("W2", "A", "driver 2", 0, 400, "while_open"),
    ("W1", "A", "driver 2", 400, None, ""),
    ("W2", "A", "driver 1", 400, None, ""),
]
READ = [
    ("A1", 100, 1.0),
    ("A2", 100, 3.0),
    ("A1", 300, 2.0),
    ("A2", 300, 4.0),
    ("A1", 600, 5.0),
    ("A2", 600, 3.0),
]


def test_a_wheelset_takes_its_life_to_its_next_place():
    assert life_at(railway(SWAP, READ), "A2")[:2] == ([1000, 3000, 6000], [1, 2, 3])
    assert life_at(railway(SWAP, READ), "A1")[:2] == ([1000, 3000, 6000], [3, 4, 5])


def test_miles_add_up_over_engines_and_stop_on_the_rack():
    moved = [
        ("W1", "A", "driver 1", 0, 200, ""),
        ("W1", "", "", 200, 500, ""),
        ("W1", "B", "driver 2", 500, None, ""),
    ]
    readings = [("A1", 100, 1.0), ("B2", 100, 7.0), ("B2", 600, 2.0)]
    miles, wear, table, row = life_at(railway(moved, readings), "B2")
    assert (miles, wear) == ([1000, 2000 + 100 * 20], [1, 2])
    assert table.lives.as_of_miles[row] == pytest.approx(200 * 10 + 500 * 20)
    gone = np.flatnonzero(table.lives.ended)
    assert table.lives.wear[gone][:, 0].tolist() == [
        7.0
    ]  # what was at B2 before belongs to the part that went
    assert table.lives.place[gone].tolist() == [3]  # and its memory stays at the place


def test_a_part_on_the_rack_stands_still():
    moved = [("W1", "A", "driver 1", 0, 200, ""), ("W1", "", "", 200, None, "")]
    followed = follow_parts(railway(moved, [("A1", 100, 1.0), ("A1", 190, 2.0)]))
    table = build_lives(followed, as_written=True)
    spare = int(followed["tracks"].loc[followed["tracks"]["spare"], "target"].iloc[0])
    row = table.in_service[spare]
    assert spare >= own_points(followed) == 4
    assert table.lives.as_of_miles[row] == pytest.approx(2000)
    assert table.lives.miles[row][:2].tolist() == pytest.approx([1000, 1900])
    assert table.reason[0]  # nothing is known of what is fitted at A1 now


@pytest.mark.parametrize(
    ("why", "worn"), [("worn", 1.0), ("while_open", 0.0), ("accident", 0.0), ("", np.nan)]
)
def test_a_life_that_was_ended_early_says_so(why, worn):
    gone = [("W1", "A", "driver 1", 0, 300, why), ("W2", "A", "driver 1", 300, None, "")]
    _, _, table, row = life_at(railway(gone, [("A1", 100, 1.0), ("A1", 500, 0.5)]), "A1")
    ended = int(np.flatnonzero(table.lives.ended)[0])
    np.testing.assert_equal(table.lives.end_worn[ended], worn)
    assert table.lives.end_miles[ended] == pytest.approx(3000)
    assert table.lives.miles[row][0] == pytest.approx(2000)


def test_a_part_that_had_run_nothing_was_new_and_one_of_unknown_past_begins_free():
    came = [("W9", "A", "driver 1", 300, None, "")]
    for miles, free in ((0.0, False), (None, True), (9000.0, True)):
        made = railway(came, [("A1", 500, 0.5), ("A1", 100, 5.0)], parts={"W9": miles})
        _, _, table, row = life_at(made, "A1")
        assert bool(table.lives.unknown_step[row][0]) is free


def test_the_renewal_that_is_the_exchange_itself_begins_no_further_life():
    came = [("W9", "A", "driver 1", 300, None, "")]
    work = [("A1", 300, "renewed", 6.0, 0.2)]
    miles, wear, table, row = life_at(railway(came, [("A1", 100, 5.0), ("A1", 500, 1.0)], work), "A1")
    assert (miles, wear) == ([0, 2000], [0.2, 1.0])
    assert not table.lives.unknown_step[row].any()
    gone = int(np.flatnonzero(table.lives.ended)[0])
    assert table.lives.wear[gone][:2].tolist() == [5.0, 6.0]
    assert np.isnan(table.lives.end_miles[gone])  # it was measured as it went


def test_a_part_renewed_as_it_was_fitted_begins_anew_and_one_that_was_not_goes_on():
    for after, expected in ((0.1, [0.1, 0.5]), (2.1, [1.0, 2.0, 2.1, 0.5])):
        moved = [("W1", "A", "driver 1", 0, 300, ""), ("W1", "A", "driver 2", 300, None, "")]
        work = [("A2", 300, "renewed", None, after)]
        _, wear, _, _ = life_at(
            railway(moved, [("A1", 100, 1.0), ("A1", 200, 2.0), ("A2", 600, 0.5)], work), "A2"
        )
        assert wear == expected


def test_readings_of_the_day_of_the_exchange_are_of_the_part_that_they_fit():
    same_day = [*READ[:4], ("A1", 400, 2.5), ("A2", 400, 2.4), ("A1", 400, 4.5), ("A2", 400, 4.6)]
    assert life_at(railway(SWAP, same_day), "A2")[1] == [1, 2, 2.5, 2.4]
    assert life_at(railway(SWAP, same_day), "A1")[1] == [3, 4, 4.5, 4.6]


def test_a_reading_that_says_that_it_is_as_found_is_of_the_part_that_went():
    found = [*READ[:4], ("A1", 400, 4.4)]
    assert 4.4 in life_at(railway(SWAP, found), "A1")[1]
    assert 4.4 in life_at(railway(SWAP, found, told=[(4, "", "found")]), "A2")[1]
    assert 4.4 in life_at(railway(SWAP, found, told=[(4, "W1", "")]), "A2")[1]


def test_parts_named_with_readings_alone_are_followed():
    told = [(0, "W1", ""), (1, "W2", ""), (4, "W2", ""), (5, "W1", "")]
    made = railway([], READ, parts={"W1": None, "W2": None}, told=told)
    assert life_at(made, "A2")[1] == [1, 2, 3]
    assert stints_of(made)["told"].all()


def test_a_place_has_one_part_and_a_part_one_place():
    fittings = [
        ("W1", "A", "D1", 0, None, ""),
        ("W2", "A", "driver 1", 200, None, ""),
        ("W1", "B", "driver 1", 300, None, ""),
    ]
    stints = stints_of(railway(fittings, READ))
    assert stints[["part_no", "since", "until"]].to_numpy().tolist() == [
        ["W1", 10957, 11157], ["W1", 11257, np.inf], ["W2", 11157, np.inf],
    ]  # fmt: skip
    past = stints_of(railway(fittings, READ), DAY0 + pd.Timedelta(days=250))
    assert past["part_no"].tolist() == ["W1", "W2"]


def test_where_no_part_moved_the_tables_stay_as_they_are():
    still = [("W1", "A", "driver 1", 0, None, ""), ("W2", "A", "driver 2", 0, None, "")]
    made = railway(still, READ)
    assert follow_parts(made) is made
    assert follow_parts(railway([], READ))["readings"]["point"].tolist() == [r[0] for r in READ]
    never_fitted = railway([("W3", "", "", 100, None, "")], READ)
    assert follow_parts(never_fitted) is never_fitted


def test_whoever_asks_what_is_fitted_sees_the_readings_of_that_part_alone():
    gone = [("W1", "A", "driver 1", 0, 300, "worn"), ("W2", "A", "driver 1", 300, None, "")]
    made = of_fitted(railway(gone, [("A1", 100, 1.0), ("A1", 500, 0.5)]))
    assert made["readings"]["value"].tolist() == [0.5]
    assert len(made["wear_points"]) == 4
    assert "fittings" not in made
