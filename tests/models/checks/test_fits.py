"""Fits at reassembly, each where it passes and where it does not."""

import pandas as pd
import pytest

from ingest import catalogue
from models.checks.fits import reassembly

INCH = 25.4
STATED = catalogue.difference_limits("us-cfr-230")


def point(name, component, quantity, position, value, unit="mm"):
    about = {"point": name, "vehicle": "M1", "component": component, "quantity": quantity}
    about |= {"position": position, "matched_set": "", "unit": unit, "base_unit": unit}
    read = {"low": value, "high": value, "places": 1, "date": pd.Timestamp("2025-03-01")}
    return about | {"value": value} | read


def fitted(*points, stated=STATED):
    return reassembly(catalogue.classify(pd.DataFrame(points)), catalogue.reassembly_fits(stated))


def verdicts(rows, check):
    part = rows[rows["check"] == check]
    return dict(zip(part["bound"], part["verdict"], strict=True))


def wrong(rows, check):
    return {bound for bound, verdict in verdicts(rows, check).items() if verdict != "within"}


@pytest.mark.parametrize(
    ("over", "out"),
    [(0.0005, {"min"}), (0.0024, set()), (0.0035, {"max"})],  # 0.0024: Ahrons 1921 p. 60
)
def test_a_wheel_seat_is_a_press_fit(over, out):
    seat = point("s", "wheel seat", "diameter", "driver 2 left", 8.75 * INCH * (1 + over))
    rows = fitted(seat, point("h", "wheel hub", "bore", "driver 2 left", 8.75 * INCH))
    assert wrong(rows, "wheel seat interference") == out
    assert rows["found"].iloc[0] == pytest.approx(over)
    assert set(rows["points"]) == {"s, h"}


@pytest.mark.parametrize(("tons", "out"), [(80.0, {"min"}), (96.0, set()), (110.0, {"max"})])
def test_the_press_load_of_a_wheel_goes_by_its_seat(tons, out):
    # Ahrons 1921 p. 60: 10 to 12 tons to an inch of the diameter of the axle.
    load = point("t", "wheel seat", "press load", "driver 2 left", tons, "ton")
    rows = fitted(load, point("s", "wheel seat", "diameter", "driver 2 left", 8.75 * INCH))
    assert wrong(rows, "wheel press load") == out
    assert rows["source"].iloc[0] == "Ahrons 1921 p. 60"


def test_a_load_in_another_unit_is_not_judged():
    load = point("t", "wheel seat", "press load", "driver 2 left", 900.0, "kN")
    assert fitted(load, point("s", "wheel seat", "diameter", "driver 2 left", 222.0)).empty


@pytest.mark.parametrize(
    ("component", "quantity", "position", "low", "good", "unit", "check"),
    [
        ("side rod", "side motion", "driver 2 left", 0.2, 0.5, "mm", "side motion of the rod"),
        ("driving box", "lateral motion", "driver 2", 1.0, 2.0, "mm", "lateral motion at the box"),
        ("knuckle pin", "taper contact", "driver 2 left", 60.0, 85.0, "%", "contact of the taper"),
    ],
)
def test_what_is_measured_alone(component, quantity, position, low, good, unit, check):
    for value, verdict in ((low, "not fit to leave the shop"), (good, "within")):
        rows = fitted(point("p", component, quantity, position, value, unit))
        assert verdicts(rows, check) == {"min": verdict}
        assert (rows["remedy"] != "").tolist() == [verdict != "within"]


@pytest.mark.parametrize(
    ("one", "other", "check"),
    [
        (("side rod bushing", "bore"), ("crank pin", "diameter"), "running fit of the rod on its pin"),
        (("crown brass", "bore"), ("driving journal", "diameter"), "running fit of the brass on its journal"),
    ],
)
def test_a_bearing_needs_room(one, other, check):
    for bore, verdict in ((150.1, "not fit to leave the shop"), (150.2, "within")):
        rows = fitted(point("b", *one, "driver 2 left", bore), point("p", *other, "driver 2 left", 150.0))
        assert verdicts(rows, check) == {"min": verdict}


def test_left_and_right_of_one_gap_agree():
    both = (("left", 1524.0), ("right", 1524.7))
    gaps = [point(side, "driving axle", "axle centers", f"driver 1-2 {side}", value) for side, value in both]
    rows = fitted(*gaps)
    assert rows["position"].tolist() == ["driver 1-2"]
    assert rows["verdict"].tolist() == ["not fit to leave the shop"]


def test_a_stated_figure_stands_over_practice():
    left = catalogue.reassembly_fits(pd.DataFrame({"check": ["wheel seat interference"], "bound": ["min"]}))
    bounds = left.loc[left["check"] == "wheel seat interference", "bound"]
    assert bounds.tolist() == ["max"]


def test_the_other_side_and_the_next_axle_are_other_fits():
    seat = point("s", "wheel seat", "diameter", "driver 2 left", 222.0)
    for elsewhere in ("driver 2 right", "driver 3 left"):
        assert fitted(seat, point("h", "wheel hub", "bore", elsewhere, 222.0)).empty


def test_each_fit_says_where_it_comes_from_and_what_puts_it_right():
    table = catalogue.reassembly_fits(STATED)
    assert (table[["source", "remedy"]] != "").all(axis=None)
    assert set(table["beside"]) == {"alone", "less bore", "less pin", "over inches", "left against right"}
    known = catalogue.table_of("vocabulary")
    pairs = set(zip(known["part"], known["measure"], strict=True))
    assert all(
        (part, row["measure"]) in pairs for row in table.to_dict("records") for part in row["part"].split("|")
    )
