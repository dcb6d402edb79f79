import pandas as pd
import pytest

from ingest.names.aliases import Aliases
from ingest.names.points import resolve_points

POINTS = pd.DataFrame(
    [
        ("B-D2L-HOLLOW", "Bramwick", "driver tire", "driver 2 left", "tread hollow"),
        ("B-D2R-HOLLOW", "Bramwick", "driver tire", "driver 2 right", "tread hollow"),
        ("B-D2L-FLANGE", "Bramwick", "driver tire", "driver 2 left", "flange thickness"),
        ("B-D2L-JOURNAL", "Bramwick", "driving journal", "driver 2 left", "diameter"),
        ("B-T2L-JOURNAL", "Bramwick", "tender journal", "tender 2 left", "diameter"),
        ("B-L-VERT", "Bramwick", "crosshead", "left", "vertical clearance"),
        ("B-L-LAT", "Bramwick", "crosshead", "left", "lateral clearance"),
        ("B-R-GAP", "Bramwick", "guide", "right", "clearance"),
        ("B-R-GAP-LAT", "Bramwick", "guide", "right", "lateral clearance"),
        ("P-D2L-HOLLOW", "Plover", "driver tire", "driver 2 left", "tread hollow"),
    ],
    columns=["point", "vehicle", "component", "position", "quantity"],
)


WORDS = ["as_written", "point", "position", "vehicle"]


def resolved(*naming, aliases=None):
    rows = pd.DataFrame([naming], columns=["vehicle", "component", "position", "quantity"])
    return tuple(resolve_points(rows, POINTS, aliases).iloc[0])


@pytest.mark.parametrize(
    ("naming", "point"),
    [
        (("Bramwick", "driver tire", "driver 2 left", "tread hollow"), "B-D2L-HOLLOW"),
        (("BRAMWICK", "Driver tyre", "#2 driver L", "hollow"), "B-D2L-HOLLOW"),
        (("Bramwick", "", "D2R", ""), "B-D2R-HOLLOW"),
        (("Bramwick", "tire", "L2", "hollow"), "B-D2L-HOLLOW"),
        (("Bramwick", "driving journal", "No. 2 L.H.", "dia"), "B-D2L-JOURNAL"),
        (("Bramwick", "crosshead", "LH", "vertical"), "B-L-VERT"),
        (("Plover", "", "", ""), "P-D2L-HOLLOW"),
        (("Bramwick", "guide", "R", "clearance"), "B-R-GAP"),  # the whole name before a part of a longer one
    ],
)
def test_points_named_in_words(naming, point):
    assert resolved(*naming) == (point, "")


@pytest.mark.parametrize(
    ("naming", "words", "candidate"),
    [
        (("Bramwik", "tire", "D2L", "hollow"), "vehicle 'Bramwik'", "Bramwick"),
        (("Bramwick", "tire", "D2L", "hollowness of rim"), "quantity", "tread hollow"),
        (("Bramwick", "axle", "D2L", ""), "component 'axle'", ""),
        (("Bramwick", "tire", "D7L", "hollow"), "position 'D7L'", "driver 2 left"),
        (("Bramwick", "crosshead", "LH", ""), "2 wear points fit: B-L-LAT, B-L-VERT", "B-L-LAT"),
        (("Bramwick", "journal", "2 L", ""), "2 wear points fit", "B-T2L-JOURNAL"),
        (("", "", "", ""), "10 wear points fit", "B-D2L-FLANGE"),
    ],
)
def test_what_is_unresolved_names_the_nearest(naming, words, candidate):
    point, problem = resolved(*naming)
    assert point == ""
    assert words in problem
    assert candidate in problem


def test_own_words_for_positions():
    words = pd.DataFrame([("mitte links", "", "driver 2 left", "")], columns=WORDS)
    assert resolved("Bramwick", "tire", "Mitte links", "hollow", aliases=Aliases(words))[0] == "B-D2L-HOLLOW"


def test_rows_without_some_columns():
    rows = pd.DataFrame({"position": ["tender 2L", "tender 2L"]}, index=[3, 9])
    out = resolve_points(rows, POINTS)
    assert out["point"].tolist() == ["B-T2L-JOURNAL"] * 2
    assert out.index.tolist() == [3, 9]


def test_without_any_wear_point():
    out = resolve_points(pd.DataFrame({"vehicle": ["Bramwick"]}), POINTS.iloc[:0])
    assert out["point"].tolist() == [""]
    assert "no wear point has the vehicle" in out["problem"].iloc[0]


TIRES = pd.DataFrame(
    [
        ("T-D1L", "Erle", "driver tire", "driver 1 left", "thickness"),
        ("T-D1L-FLANGE", "Erle", "driver tire", "driver 1 left", "flange thickness"),
        ("B-D1L", "Erle", "side rod bushing", "driver 1 left", "clearance"),
        ("L-D2L", "Erle", "driving box liner", "driver 2 left", "thickness"),
    ],
    columns=POINTS.columns,
)


@pytest.mark.parametrize("word", ["Reifendicke", "Radreifendicke", "Reifenstärke", "Bandagendicke", "Dicke"])
@pytest.mark.parametrize("component", ["driver tire", "Radreifen"])
def test_a_dimension_that_names_its_part_too_is_that_of_the_part(word, component):
    rows = pd.DataFrame([("Erle", component, "driver 1 left", word)], columns=POINTS.columns[1:])
    assert resolve_points(rows, TIRES).iloc[0].tolist() == ["T-D1L", ""]


@pytest.mark.parametrize(
    ("word", "position", "point"),
    [
        ("Reifendicke", "driver 1 left", "T-D1L"),
        ("Reifendicke", "driver 2 left", ""),  # a liner has a thickness there, and no tire
        ("Lagerspiel", "driver 1 left", "B-D1L"),
    ],
)
def test_without_the_part_only_a_point_of_the_part_that_the_dimension_names_is_meant(word, position, point):
    rows = pd.DataFrame([("Erle", "", position, word)], columns=POINTS.columns[1:])
    assert resolve_points(rows, TIRES)["point"].iloc[0] == point
