"""Ids of wheels are read where they name axle and side, and asked about where they do not."""

import pytest

HEAD = "vehicle,date,{wheel},component,quantity,value\n"
ROW = "410,2001-02-01,{id},{part},{measure},{value}\n"


@pytest.fixture
def wheels(milesleft, sheet):
    """Three driven axles and one of the truck, tires and hollows of all wheels, diameters of the axles."""
    text = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
    for group, letter, axles in (("driver", "D", (1, 2, 3)), ("engine truck", "E", (1,))):
        for axle in axles:
            for side in ("left", "right"):
                place = f"{group} {axle} {side}"
                text += f"{letter}{axle}-{side},410,{group} tire,{place},thickness,in,3.5,1.75\n"
                if group == "driver":
                    text += f"H{axle}-{side},410,driver tire,{place},flange height,in,1,1.5\n"
            text += f"J{axle}{letter},410,{group} axle,{group} {axle},diameter,in,8,7.5\n"
    milesleft("add", sheet("vehicle,name\n410,Saltmarsh\n", "vehicles.csv"))
    milesleft("add", sheet("vehicle,date,odometer\n410,2001-01-01,100\n410,2002-01-01,200\n", "log.csv"))
    milesleft("add", sheet(text, "points.csv"))


@pytest.fixture
def written(sheet):
    """A sheet of tire thicknesses by the ids of wheels."""

    def write(*ids, wheel="Wheel no.", part="driver tire", measure="thickness", value="3.25"):
        rows = (ROW.format(id=each, part=part, measure=measure, value=value) for each in ids)
        return sheet(HEAD.format(wheel=wheel) + "".join(rows))

    return write


def points_of(read):
    return [read[row]["read"].get("point", "") for row in sorted(read)]


@pytest.mark.parametrize(
    ("wheel", "ids"),
    [
        ("Wheel", ["2L", "2R"]),
        ("Wheel no.", ["L2", "R2"]),
        ("Wheel ID", ["D2L", "D2R"]),
        ("Axle no.", ["2 left", "2 right"]),
        ("Rad Nr.", ["2L", "2R"]),
        ("Roue", ["2G", "2D"]),
        ("Roue n°", ["G2", "D2"]),
        ("Nr koła", ["2L", "2P"]),
        ("Číslo kola", ["L 2", "P 2"]),
        ("Wheel", ["D2-left", "D2-right"]),  # the very names of the wear points
    ],
)
def test_an_id_that_names_axle_and_side_is_a_wear_point(wheels, written, look, wheel, ids):
    asked, read = look(written(*ids, wheel=wheel))
    assert asked == {}
    assert points_of(read) == ["D2-left", "D2-right"]


@pytest.mark.parametrize("ids", [["2V", "2H"], ["1D", "2D"], ["2S", "2D"]])
def test_letters_that_may_be_something_else_are_asked_about(wheels, written, look, ids):
    """V and H are left and right in Swedish, front and back in German; S and D are so in Italian only."""
    path = written(*ids)
    asked, read = look(path)
    assert list(asked) == ["sides"]
    assert {row["state"] for row in read.values()} == {"asked about"}
    question = asked["sides"]
    word = next(word for word in question["answers"] if word != "none")
    _, read = look(path, "--answer", f"{question['id']}={word}")
    side = {"2V": "D2-left", "2H": "D2-right", "1D": "D1-right", "2D": "D2-right", "2S": "D2-left"}
    assert points_of(read) == [side[each] for each in ids]


@pytest.mark.parametrize(
    ("word", "points"),
    [
        ("pairs-left-first", ["D1-left", "D1-right", "D2-left", "D3-right"]),
        ("pairs-right-first", ["D1-right", "D1-left", "D2-right", "D3-left"]),
        ("left-side-first", ["D1-left", "D2-left", "D3-left", "D3-right"]),
        ("right-side-first", ["D1-right", "D2-right", "D3-right", "D3-left"]),
    ],
)
def test_wheels_that_are_only_numbered_are_counted_as_somebody_says(wheels, written, look, word, points):
    path = written("1", "2", "3", "6")
    asked, read = look(path)
    assert list(asked) == ["wheels"]
    assert {row["state"] for row in read.values()} == {"asked about"}
    _, read = look(path, "--answer", f"{asked['wheels']['id']}={word}")
    assert points_of(read) == points


def test_more_wheels_than_axles_are_no_axles(wheels, written, look):
    """As they stand 1, 2 and 3 would be stored as axles, and 6 left over."""
    about = {"part": "driver axle", "measure": "diameter", "value": "7.9"}
    asked, read = look(written("1", "2", "3", "6", **about))
    assert list(asked) == ["wheels"]
    assert {row["state"] for row in read.values()} == {"asked about"}
    asked, read = look(written("1", "2", "3", wheel="Axle no.", **about))
    assert (asked, points_of(read)) == ({}, ["J1D", "J2D", "J3D"])


def test_of_which_group_a_wheel_is_is_asked_where_several_have_it(wheels, written, look):
    path = written("1L", "1R", part="tire")
    asked, _ = look(path)
    assert list(asked) == ["group"]
    for word, letter in (("driver", "D"), ("engine-truck", "E")):
        _, read = look(path, "--answer", f"{asked['group']['id']}={word}")
        assert points_of(read) == [f"{letter}1-left", f"{letter}1-right"]
    asked, read = look(written("1L", "1R", part="tire", measure="flange height", value="1.1"))
    assert (asked, points_of(read)) == ({}, ["H1-left", "H1-right"])


def test_numbers_of_an_open_group_are_asked_about_twice(wheels, written, look):
    path = written("1", "2", part="tire")
    group = look(path)[0]["group"]
    answer = ("--answer", f"{group['id']}=driver")
    wheels_asked = look(path, *answer)[0]["wheels"]
    _, read = look(path, *answer, "--answer", f"{wheels_asked['id']}=pairs-left-first")
    assert points_of(read) == ["D1-left", "D1-right"]


def test_the_railways_own_words_are_no_ids(wheels, written, look, milesleft, sheet):
    milesleft("add", sheet("as_written,position\n2D,driver 3 left\n2G,driver 3 right\n", "words.csv"))
    asked, read = look(written("2D", "2G"))
    assert (asked, points_of(read)) == ({}, ["D3-left", "D3-right"])
