"""Wheel arrangements: what is written reads back, and what is none is refused in plain words."""

import pytest
from arrangements_in_uic import format_uic
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.errors import WrongUsage
from ingest.names.arrangement import (
    Arrangement,
    Axles,
    Frame,
    Unit,
    format_whyte,
    parse_arrangement,
    parse_tender,
)

WHEELS = st.integers(0, 6).map(lambda axles: 2 * axles)
DRIVERS = st.integers(1, 12).map(lambda axles: 2 * axles)


@st.composite
def whyte_units(draw):
    return "-".join(map(str, (draw(WHEELS), *draw(st.lists(DRIVERS, min_size=1, max_size=3)), draw(WHEELS))))


WHYTE = st.builds(
    lambda units, suffix: "+".join(units) + suffix,
    st.lists(whyte_units(), min_size=1, max_size=2),
    st.sampled_from(["", "T", "ST", "PT", "WT", "T+T", "RT", "F", "ng", "ca"]),
)


@settings(deadline=None)
@given(WHYTE)
def test_whyte_reads_back(text):
    arrangement = parse_arrangement(text)
    assert format_whyte(arrangement) == text
    assert parse_arrangement(format_whyte(arrangement)) == arrangement


@settings(deadline=None)
@given(WHYTE)
def test_through_uic_the_axles_stay(text):
    arrangement = parse_arrangement(text)
    reread = parse_arrangement(format_uic(arrangement))
    assert [(u.leading, u.driving, u.trailing) for u in reread.units] == [
        (u.leading, u.driving, u.trailing) for u in arrangement.units
    ]
    assert reread.is_tank == arrangement.is_tank


AXLES = st.builds(
    lambda count, driven, truck, single: Axles(count, driven, truck, single and driven),
    st.integers(1, 9),
    st.booleans(),
    st.booleans(),
    st.booleans(),
)
# Two carrying groups side by side would run their figures together (1 and 2 as 12): a prime parts them.
GROUPS = st.lists(AXLES, min_size=1, max_size=4).map(
    lambda groups: tuple(
        Axles(g.count, g.driven, True, g.single)
        if not g.driven and k + 1 < len(groups) and not groups[k + 1].driven
        else g
        for k, g in enumerate(groups)
    )
)
HINGED = st.builds(lambda groups, truck: Frame(groups, hinged=True, truck=truck), GROUPS, st.booleans())


@st.composite
def uic_arrangements(draw):
    units = []
    for _ in range(draw(st.integers(1, 2))):
        frames = draw(st.lists(HINGED, max_size=2))
        fixed = draw(GROUPS)
        units.append(Unit((*frames, Frame(fixed))))
    return Arrangement(tuple(units), draw(st.sampled_from(["", "h2", "n2v", "h3Gt", "t"])))


@settings(deadline=None)
@given(uic_arrangements())
def test_uic_reads_back(arrangement):
    if not arrangement.driving_axles:
        with pytest.raises(WrongUsage, match="no driven axle"):
            parse_arrangement(format_uic(arrangement))
        return
    assert parse_arrangement(format_uic(arrangement)) == arrangement


@settings(deadline=None)
@given(st.text(alphabet="0123456789-+'()ABCDoTht ", max_size=12))
def test_anything_is_read_or_refused_in_words(text):
    try:
        axles = parse_arrangement(text).driving_axles
        words = "Expected"
    except WrongUsage as error:
        axles, words = 1, str(error)
    assert axles > 0
    assert "Expected" in words


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "nothing was given"),
        ("4-7-2", "wheels come in pairs"),
        ("26-8-2", "at most 24"),
        ("8", "no driven axle"),
        ("4-8", "too few figures"),
        ("0-0-0", "group of drivers is empty"),
        ("4-0-4-0", "group of drivers is empty"),
        ("2'2'", "no driven axle"),
        ("(1'C", "neither Whyte nor UIC"),
        ("Shay", "no row of axles"),
    ],
)
def test_what_is_none_is_refused_in_plain_words(text, words):
    with pytest.raises(WrongUsage, match=words):
        parse_arrangement(text)


def test_dashes_and_spaces_do_not_matter():
    assert parse_arrangement(" 4–8–2 ") == parse_arrangement("4-8-2")


def test_four_figures_are_articulated_unless_stated_to_be_rigid():
    assert format_uic(parse_arrangement("4-4-4-4")) == "(2'B)B2'"
    assert format_uic(parse_arrangement("4-4-4-4", rigid=True)) == "2'BB2'"


def test_carrying_axles_between_drivers_are_not_whyte():
    with pytest.raises(WrongUsage, match="Use UIC"):
        format_whyte(parse_arrangement("A1A'"))


def test_swiveling_engine_units_in_one_row_are_joined_by_a_plus():
    assert format_whyte(parse_arrangement("(2'C1')'(1'C2')'")) == "4-6-2+2-6-4"


@pytest.mark.parametrize(
    ("text", "trucks"), [("2'2'", (2, 2)), ("3", (3,)), ("2′3", (2, 3)), ("3'3'", (3, 3))]
)
def test_tenders(text, trucks):
    assert parse_tender(text) == trucks


@pytest.mark.parametrize("text", ["", "0", "2-2", "two"])
def test_what_is_no_tender_is_refused(text):
    with pytest.raises(WrongUsage, match="tender"):
        parse_tender(text)
