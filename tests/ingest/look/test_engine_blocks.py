"""Tables of several engines below each other, each under its own line: none is read as another's."""

import pytest

POINTS = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n" + "".join(
    f"{name[0]}-{axle}{side[0].upper()},{name},driver tire,driver {axle} {side},thickness,mm,75,38\n"
    for name in ("Bramwick", "Quillon", "Merrow Fen")
    for axle in (1, 2)
    for side in ("left", "right")
)
LOG = "vehicle,date,odometer,unit\n" + "".join(
    f"{name},{year}-01-01,{(year - 1999) * 3000},mi\n"
    for name in ("Bramwick", "Quillon", "Merrow Fen")
    for year in range(2000, 2008)
)
BY_DAY = "{},,,\nRad,{},2006-05-01\n1L,{}.1,51.2\n1R,{}.3,51.4\n,,,\n"
DAY_BELOW = "{},,\n{},,\nRad,Dicke\n1L,{}.1\n1R,{}.3\n,,\n"


@pytest.fixture
def three(milesleft, sheet):
    milesleft("add", sheet(POINTS, "points.csv"), sheet(LOG, "log.csv"))


def below_each_other(make, *blocks):
    return "".join(make.format(name, day, value, value) for name, day, value in blocks)


def stored(store, day="2005-05-01"):
    rows = store.read("readings")
    rows = rows[rows["date"] == day]
    return {point: round(value, 6) for point, value in zip(rows["point"], rows["value"], strict=True)}


@pytest.mark.parametrize("make", [BY_DAY, DAY_BELOW], ids=["a column a day", "the day below the name"])
@pytest.mark.parametrize(
    "names",
    [
        ("Bramwick", "Quillon"),
        ("Lok Bramwick", "Quillon in Halle 2"),
        ("Engine: Bramwick", "Engine: Quillon"),
    ],
)
def test_each_block_is_about_the_engine_over_it(three, look, milesleft, sheet, store, make, names):
    blocks = [(names[0], "2005-05-01", 52), (names[1], "2005-05-01", 61)]
    path = sheet(below_each_other(make, *blocks), "wheels.csv")
    question = look(path)[0]["layout"]
    assert question["answers"] == ["driver tire, thickness", "no"]
    milesleft("add", path, "--answer", f"{question['id']}=driver tire, thickness")
    assert stored(store) == {"B-1L": 52.1, "B-1R": 52.3, "Q-1L": 61.1, "Q-1R": 61.3}


def test_the_day_below_each_name_is_that_of_its_block(three, look, milesleft, sheet, store):
    blocks = [("Bramwick", "2005-05-01", 52), ("Quillon", "2006-07-02", 61)]
    path = sheet(below_each_other(DAY_BELOW, *blocks), "wheels.csv")
    question = look(path)[0]["layout"]
    milesleft("add", path, "--answer", f"{question['id']}=driver tire, thickness")
    assert stored(store) == {"B-1L": 52.1, "B-1R": 52.3}
    assert stored(store, "2006-07-02") == {"Q-1L": 61.1, "Q-1R": 61.3}


@pytest.mark.parametrize(
    "text",
    [
        below_each_other(BY_DAY, ("Bramwick", "2005-05-01", 52), ("Tollhurst", "2005-05-01", 61)),
        below_each_other(
            BY_DAY,
            ("Bramwick", "2005-05-01", 52),
            ("Tollhurst", "2005-05-01", 61),
            ("Quillon", "2005-05-01", 58),
        ),
        below_each_other(BY_DAY, ("Bramwick", "2005-05-01", 52), ("Quillon", "2005-05-01", 61)).replace(
            "Rad", "Achse", 1
        ),
    ],
    ids=["not on record", "between", "other headings"],
)
def test_what_is_not_cut_into_blocks_is_read_as_about_no_single_engine(three, milesleft, sheet, text):
    path = sheet(text, "wheels.csv")
    milesleft("add", sheet("point,date,value\nM-1L,2004-05-01,60\n", "other.csv"))
    told = milesleft(
        "add", path, sheet("point,date,value\nM-1R,2004-05-01,60\n", "more.csv"), "--json", ends=1
    )
    assert [question for question in told["questions"] if question["kind"] == "layout"] == []
    assert told["accepted"] == 1
