"""A column that says left or right is part of the position, whatever its heading."""

import pandas as pd
import pytest

from ingest.layouts.sides import with_sides


@pytest.fixture
def two_sides(milesleft, sheet, known):
    text = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
    for side in ("left", "right"):
        text += f"J2-{side},410,driving journal,driver 2 {side},diameter,in,8,7.5\n"
    milesleft("add", sheet(text, "points.csv"))


@pytest.mark.parametrize(
    ("heading", "left", "right"),
    [
        ("Hand", "L", "R"),
        ("Seite", "links", "rechts"),
        ("Côté", "G", "D"),
        ("Strona", "L", "P"),
        ("Side", "LH", "RH"),
    ],
)
def test_a_column_of_sides_belongs_to_the_position(two_sides, look, sheet, heading, left, right):
    path = sheet(
        f"vehicle,component,wheel,{heading},quantity,date,value\n"
        f"410,driving journal,driver 2,{left},diameter,2001-02-01,7.9\n"
        f"410,driving journal,driver 2,{right},diameter,2001-02-01,7.8\n"
    )
    asked, read = look(path)
    assert asked == {}
    assert [read[row]["read"]["point"] for row in (2, 3)] == ["J2-left", "J2-right"]


def test_who_measured_is_no_side():
    rows = pd.DataFrame({"Hand": ["L. Carr", "R"], "by": ["L", "R"]})
    assert with_sides(rows, None) is rows


def test_one_letter_alone_is_a_side_only_in_english():
    assert with_sides(pd.DataFrame({"Seite": ["D", "D"]}), None).columns.tolist() == ["Seite"]
    assert with_sides(pd.DataFrame({"Hand": ["L", "L"]}), None)["position"].tolist() == ["left", "left"]
