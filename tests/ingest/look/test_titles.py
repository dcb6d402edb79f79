"""What stands above the headings, or in place of them: engines, legends, headings down the first column."""

import pytest

POINTS = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
OTHER = POINTS + "OTHER,52,driver tire,driver 1 left,thickness,in,3.5,1.75\n"


@pytest.fixture
def two_engines(known, milesleft, sheet):
    """The small store with a second engine that has a tire alike."""
    log = "vehicle,date,odometer,unit\n52,2001-01-01,10000,mi\n52,2002-01-01,12000,mi\n"
    tables = {"vehicles": "vehicle,name\n52,Fen\n", "points": OTHER, "log": log}
    milesleft("add", *(sheet(text, f"{name}.csv") for name, text in tables.items()))


HEADS = "date,part,position,dimension,reading (in)"
ROW = "{},driver tire,driver 1 left,thickness,{}"


def _stored(store):
    rows = store.read("readings").sort_values("value")
    return dict(zip(rows["point"], rows["value_text"], strict=True))


def test_tables_below_each_other_are_about_the_engine_over_each(two_engines, look, sheet, milesleft, store):
    first, second = ROW.format("2001-02-01", 3.4), ROW.format("2001-02-01", 3.2)
    path = sheet(f"Engine 410,,,,\n{HEADS}\n{first}\n,,,,\nEngine 52,,,,\n{HEADS}\n{second}\n")
    asked, _ = look(path)
    assert asked == {}
    milesleft("add", path)
    assert _stored(store) == {"OTHER": "3.2", "THICK": "3.4"}


def test_tables_beside_each_other_are_about_the_engine_over_each(two_engines, sheet, milesleft, store):
    lines = [
        ("52,,,,", "410,,,,"),
        (HEADS, HEADS),
        (ROW.format("2001-02-01", 3.2), ROW.format("2001-02-01", 3.4)),
    ]
    milesleft("add", sheet("".join(f"{left},,{right}\n" for left, right in lines)))
    assert _stored(store) == {"OTHER": "3.2", "THICK": "3.4"}


def test_a_title_of_two_engines_tells_none(two_engines, look, sheet):
    _, read = look(sheet(f"Engines 410 and 52,,,,\n{HEADS}\n{ROW.format('2001-02-01', 3.4)}\n"))
    assert read[3]["state"] == "held back"


@pytest.mark.parametrize(
    "line", ["Red = estimated", "gelb: Wert geschätzt", "Values in red are doubtful", "rouge = calculé"]
)
def test_a_legend_above_the_headings_is_asked_about(look, sheet, known, line):
    asked, _ = look(sheet(f"{line},,\npoint,date,value\nTHICK,2001-02-01,3.4\n"))
    assert list(asked) == ["legend"]
    assert asked["legend"]["about"]["rows"] == [3]


def test_a_legend_beside_the_table_is_asked_about(look, sheet, known):
    text = "point,date,value,key\nTHICK,2001-02-01,3.4,green = checked\nTHICK,2001-03-01,3.39,\n"
    assert list(look(sheet(text))[0]) == ["legend"]


def test_headings_may_stand_in_the_first_column(look, sheet, known, milesleft, store):
    path = sheet("Tires,,\ndate,2001-02-01,2001-03-01\npoint,THICK,THICK\nvalue (in),3.4,3.39\n")
    asked, read = look(path)
    assert asked == {}
    assert [read[number]["read"]["value"] for number in (2, 3)] == [3.4, 3.39]
    milesleft("add", path)
    assert store.read("readings")["value_text"].tolist() == ["3.4", "3.39"]


def test_of_previous_and_present_the_present_one_is_the_reading(look, sheet, known):
    asked, read = look(sheet("point,date,previous,present (in)\nTHICK,2001-02-01,3.41,3.4\n"))
    assert asked == {}
    assert read[2]["read"]["value"] == 3.4
