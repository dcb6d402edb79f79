"""A date that stands in the first row of a group alone: it goes on for the group, or that is asked once."""

import pytest

POINTS = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n" + "".join(
    f"D{n},Bramwick,driver tire,driver {n} left,thickness,in,3,2\n" for n in (1, 2, 3)
)
LOG = "vehicle,date,odometer,unit\n" + "".join(
    f"Bramwick,{year}-01-01,{(year - 1999) * 3000},mi\n" for year in range(2000, 2006)
)


@pytest.fixture
def engine(milesleft, sheet):
    milesleft("add", sheet(POINTS, "points.csv"), sheet(LOG, "log.csv"))


def days_of(store):
    rows = store.read("readings")
    return sorted((f"{row.date:%Y-%m-%d}", row.point) for row in rows.itertuples())


def test_groups_that_go_round_the_same_places_are_read_unasked(engine, look, milesleft, sheet, store):
    path = sheet("date,point,value\n2001-03-01,D1,2.9\n,D2,2.91\n2002-03-01,D1,2.88\n,D2,2.89\n")
    assert look(path)[0] == {}
    milesleft("add", path)
    assert days_of(store) == [(f"{year}-03-01", point) for year in (2001, 2002) for point in ("D1", "D2")]


def test_the_order_of_day_and_month_is_asked_for_the_rows_below_too(engine, look, milesleft, sheet, store):
    path = sheet("date,point,value\n03/04/2001,D1,2.9\n,D2,2.91\n05/06/2002,D1,2.88\n,D2,2.89\n")
    asked, _ = look(path)
    assert list(asked) == ["dates"]
    milesleft("add", path, "--answer", f"{asked['dates']['id']}=dmy")
    assert ("2001-04-03", "D2") in days_of(store)


UNEVEN = "date,point,value\n2001-03-01,D1,2.9\n,D2,2.91\n2002-03-01,D1,2.88\n2003-03-01,D3,2.89\n"


@pytest.mark.parametrize(("answer", "dated"), [("above", 4), ("none", 3)])
def test_where_groups_differ_it_is_asked_once(answer, dated, engine, look, milesleft, sheet, store):
    path = sheet(UNEVEN)
    asked, rows = look(path)
    assert asked["days"]["about"]["rows"] == [3]
    assert rows[3]["state"] == "asked about"
    milesleft("add", path)
    assert ("2001-03-01", "D2") not in days_of(store)
    milesleft("add", path, "--answer", f"{asked['days']['id']}={answer}")
    assert len(days_of(store)) == dated


@pytest.mark.parametrize(
    ("text", "undated"),
    [
        # Each row bears its own day: one that bears none was forgotten.
        ("date,point,value\n2001-03-01,D1,2.9\n2001-03-01,D2,2.91\n,D3,2.92\n", "D3"),
        # An empty line ends what goes on.
        ("date,point,value\n2001-03-01,D1,2.9\n,,\n,D2,2.91\n", "D2"),
        ("date,point,value\n,D2,2.91\n2001-03-01,D1,2.9\n", "D2"),
    ],
)
def test_a_row_whose_day_nothing_tells_is_held_back(text, undated, engine, look, milesleft, sheet, store):
    path = sheet(text)
    assert look(path)[0] == {}
    milesleft("add", path)
    points = {point for _, point in days_of(store)}
    assert "D1" in points
    assert undated not in points
