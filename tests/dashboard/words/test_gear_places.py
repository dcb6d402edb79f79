"""Which place on the drawing a written position means, and which axles an arrangement has."""

import pytest

from dashboard.words.gear_places import Place, Wheelset, place_from, place_of, wheelsets


@pytest.mark.parametrize(
    ("position", "component", "key"),
    [
        ("driver 2 left", "driver tire", "driver-2-L"),
        ("#2 driver L", "", "driver-2-L"),
        ("No. 2 L.H. driver", "", "driver-2-L"),
        ("2nd driver right", "", "driver-2-R"),
        ("driver 3", "driving box", "driver-3"),
        ("engine truck 1 right", "", "leading-1-R"),
        ("trailing truck 1 left", "", "trailing-1-L"),
        ("tender 3 R", "tender wheel", "tender-3-R"),
        ("4R", "tender wheel", "tender-4-R"),
        ("left", "crosshead", "motion-L"),
        ("right", "link block", "motion-R"),
    ],
)
def test_positions_as_people_write_them(position, component, key):
    place = place_of(position, component)
    assert place is not None
    assert place.key == key
    assert place_from(key) == place


@pytest.mark.parametrize(
    ("position", "component"),
    [
        ("drawbar", "drawbar pin"),
        ("tender truck 1", "bolster"),
        ("", "boiler"),
        ("4R", "rod"),
        ("driver 0", ""),
    ],
)
def test_what_is_no_place_on_the_drawing_is_not_forced_onto_it(position, component):
    assert place_of(position, component) is None


def groups(arrangement, places=()):
    return [(w.group, w.number, w.unit) for w in wheelsets(arrangement, places)]


def test_axles_of_a_rigid_engine():
    assert groups("4-8-2") == [
        ("leading", 1, 0),
        ("leading", 2, 0),
        *[("driver", n, 0) for n in (1, 2, 3, 4)],
        ("trailing", 1, 0),
    ]


def test_axles_of_an_articulated_engine_count_on_through_its_units():
    drivers = [w for w in wheelsets("2-6-6-2") if w.group == "driver"]
    assert drivers == [Wheelset("driver", n, 0) for n in (1, 2, 3)] + [
        Wheelset("driver", n, 1) for n in (4, 5, 6)
    ]


def test_uic_and_whyte_draw_the_same():
    assert groups("2'D1'") == groups("4-8-2")


def test_an_axle_that_only_a_wear_point_names_is_drawn_all_the_same():
    places = [Place("driver", 5, "L"), Place("tender", 2, "R")]
    found = groups("2-8-0", places)
    assert ("driver", 5, 0) in found
    assert found[-2:] == [("tender", 1, 0), ("tender", 2, 0)]


def test_an_unreadable_arrangement_draws_what_the_wear_points_name():
    assert groups("forty", [Place("driver", 2, "L")]) == [("driver", 1, 0), ("driver", 2, 0)]


def test_a_slip_of_the_pen_does_not_draw_a_train():
    assert len(groups("", [Place("driver", 4000, "L")])) <= 12
