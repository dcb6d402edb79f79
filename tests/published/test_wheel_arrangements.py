"""The grammar of wheel arrangements against a published list with pictures and printed UIC forms.

Sources: the list in data/whyte_arrangements.csv (named there). Pairs of Whyte and UIC: Wikipedia, "UIC
classification of locomotive axle arrangements" and its mirror on liquisearch.com, with the Union Pacific
example (2′D)D2′ (read); Garratt forms: "Whyte notation", piglix.com (read); 1'E1'h2Gt is the same page's
example of suffixes (read).
"""

from pathlib import Path

import pandas as pd
import pytest
from arrangements_in_uic import format_uic

from ingest.catalogue.running_gear import Vehicle, axle_counts, wear_points
from ingest.names.arrangement import format_whyte, parse_arrangement, parse_uic

LIST = pd.read_csv(Path(__file__).parent / "data" / "whyte_arrangements.csv", comment="#")
ROWS = list(LIST.itertuples(index=False, name=None))


def picture(unit):
    groups = [("O" if group.driven else "o") * group.count for group in unit.groups]
    drawn = "-".join(groups)
    return drawn.replace("o-O", "oO").replace("O-o", "Oo")  # a truck stands with the drivers beside it


@pytest.mark.parametrize(("text", "drawn"), ROWS)
def test_every_listed_arrangement_reads_as_it_is_drawn_and_writes_back(text, drawn):
    arrangement = parse_arrangement(text)
    assert [picture(unit) for unit in arrangement.units] == [drawn]
    assert format_whyte(arrangement) == text
    assert parse_uic(format_uic(arrangement)) == arrangement
    assert format_whyte(parse_uic(format_uic(arrangement))) == text


@pytest.mark.parametrize(("text", "drawn"), ROWS)
def test_every_listed_arrangement_has_two_wheels_and_boxes_an_axle(text, drawn):
    vehicle = Vehicle("A", parse_arrangement(text), limit_set="us-cfr-230")
    counts = axle_counts(vehicle)
    assert sum(counts.values()) == drawn.count("o") + drawn.count("O")
    points = wear_points(vehicle)
    assert points["point"].is_unique
    hollows = points[points["quantity"] == "tread hollow"]
    assert len(hollows) == 2 * sum(counts.values())
    # Two driving boxes an axle (common practice, no source).
    boxes = points[(points["component"] == "crown brass") & (points["quantity"] == "thickness")]
    assert len(boxes) == 2 * counts["driver"]


@pytest.mark.parametrize(
    ("whyte", "uic"),
    [
        ("4-8-4", "2'D2'"),
        ("4-6-2", "2'C1'"),
        ("2-8-2", "1'D1'"),
        ("2-6-6-4", "(1'C)C2'"),
        ("4-8-8-4", "(2'D)D2'"),
        ("4-6-2+2-6-4", "2'C1'+1'C2'"),
        ("2-6-0+0-6-2", "1'C+C1'"),
    ],
)
def test_whyte_and_uic_say_the_same(whyte, uic):
    assert format_uic(parse_arrangement(whyte)) == uic
    assert format_whyte(parse_arrangement(uic)) == whyte
    assert parse_arrangement(uic.replace("'", "′")) == parse_arrangement(uic)  # the prime as it is printed
    assert parse_arrangement(uic.replace("'", "’")) == parse_arrangement(uic)


def test_a_uic_suffix_is_kept_and_a_tank_engine_recognised():
    arrangement = parse_arrangement("1'E1'h2Gt")
    assert (format_uic(arrangement), arrangement.suffix, arrangement.is_tank) == ("1'E1'h2Gt", "h2Gt", True)
    assert format_whyte(arrangement) == "2-10-2T"


def test_some_authors_write_an_articulated_engine_with_a_plus():
    # "4-8+8-4": Wikipedia mirrors of "Whyte notation".
    arrangement = parse_arrangement("4-8+8-4")
    assert [(unit.leading, unit.driving, unit.trailing) for unit in arrangement.units] == [
        (2, (4,), 0),
        (0, (4,), 2),
    ]
