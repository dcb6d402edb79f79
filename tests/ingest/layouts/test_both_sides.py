"""Both sides in one cell: what is plainly two values is parted, what may be one stays whole."""

import pandas as pd
import pytest

from ingest.layouts.both_sides import SIDES, pair_named, split_heading, with_both_sides


@pytest.mark.parametrize(
    ("heading", "named"),
    [
        ("L/R", ("", "left right")),
        ("Value L/R (in)", ("Value (in)", "left right")),
        ("Flange R/L mm", ("Flange mm", "right left")),
        ("links / rechts", ("", "left right")),
        ("Hollow (gauche/droite)", ("Hollow", "left right")),
        ("lewa/prawa", ("", "left right")),
        ("Found/Left", ("", "")),
        ("V/H", ("", "")),
        ("in/out", ("", "")),
        ("L/R of engine", ("", "")),
    ],
)
def test_headings_that_name_both_sides(heading, named):
    assert pair_named(heading) == named


def test_the_unit_of_such_a_heading_is_found():
    assert split_heading("Tread hollow L/R (mm)") == ("Tread hollow left/right", "mm")
    assert split_heading("Tread hollow (mm)") == ("Tread hollow", "mm")


@pytest.mark.parametrize(
    ("cell", "left", "right"),
    [
        ("L 0.12 / R 0.15", "0.12", "0.15"),
        ("R 0.15 / L 0.12", "0.12", "0.15"),
        ("0.12L/0.15R", "0.12", "0.15"),
        ("L: 3 1/8, R: 3 3/16", "3 1/8", "3 3/16"),
        ("li 34,5 re 34,7", "34,5", "34,7"),
        ("G 69,3 D 70,1", "69,3", "70,1"),
        ('L 1/8" R 3/16"', '1/8"', '3/16"'),
        ("lewa 12,5 mm prawa 12,7 mm", "12,5 mm", "12,7 mm"),
    ],
)
def test_a_cell_that_names_the_sides_is_two_rows(cell, left, right):
    rows = with_both_sides(pd.DataFrame({"position": ["driver 2"], "value": [cell]}, dtype="str"))
    assert dict(rows[["position", "value"]].to_numpy().tolist()) == {
        "driver 2 left": left,
        "driver 2 right": right,
    }


@pytest.mark.parametrize("cell", ["0.12/0.15", "3 1/8 / 3 3/16", "1/8/3/16", "0,12;0,15", "12 mm / 13 mm"])
def test_two_values_under_a_heading_of_both_sides_are_two_rows(cell):
    given = pd.DataFrame({"position": ["2"], "value": [cell], SIDES: ["right left"]}, dtype="str")
    rows = with_both_sides(given)
    assert rows["position"].tolist() == ["2 right", "2 left"]
    assert SIDES not in rows


def test_a_dash_is_a_side_that_was_not_measured():
    given = pd.DataFrame({"position": ["2"], "value": ["- / 0.15"], SIDES: ["left right"]}, dtype="str")
    assert with_both_sides(given)[["position", "value"]].to_numpy().tolist() == [["2 right", "0.15"]]


@pytest.mark.parametrize(
    ("column", "parted"), [(["7/8", "3/8"], False), (["7/8", "2/3"], True), (["7/8", "0.5/0.6"], True)]
)
def test_a_fraction_stays_whole_unless_the_column_shows_that_it_holds_pairs(column, parted):
    given = pd.DataFrame({"position": ["1", "2"], "value": column, SIDES: ["left right"] * 2}, dtype="str")
    rows = with_both_sides(given)
    assert len(rows) == (4 if parted else 2)


@pytest.mark.parametrize(
    "row",
    [
        {"position": "driver 2 left", "value": "L 0.12 / R 0.15"},
        {"position": "driver 2", "value": "L 0.12 / L 0.15"},
        {"position": "driver 2", "value": "min 0.12 max 0.15"},
        {"position": "driver 2", "value": "0.12/0.15"},
        {"point": "HOLLOW", "value": "L 0.12 / R 0.15"},
        {"position": "driver 2", "value": "L 0.12 / R"},
    ],
)
def test_what_is_not_plainly_both_sides_stays_whole(row):
    given = pd.DataFrame([row], dtype="str")
    assert with_both_sides(given)["value"].tolist() == [row["value"]]


def test_rows_keep_their_number_and_what_was_stated_of_them():
    given = pd.DataFrame(
        {"value": ["L 1 R 2", "3"], "position": ["1", "2 left"], "source_row": [4, 5], ":typed": ["1", "1"]},
        index=[7, 7],
    )
    rows = with_both_sides(given)
    assert rows["source_row"].tolist() == [4, 4, 5]
    assert rows[":typed"].tolist() == ["1"] * 3
