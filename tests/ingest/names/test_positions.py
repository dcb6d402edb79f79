import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.names.positions import Position, Resolver, canonical, read_position

KNOWN = [
    *(f"driver {n} {side}" for n in (1, 2, 3, 4) for side in ("left", "right")),
    *(f"tender {n} {side}" for n in (1, 2) for side in ("left", "right")),
    "engine truck 1 left",
    "engine truck 1 right",
    "driver 1",
    "left",
    "right",
    "drawbar",
]


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("#2 driver L", "driver 2 left"),
        ("2nd driver left", "driver 2 left"),
        ("second driving axle, left", "driver 2 left"),
        ("LEFT HAND NO 3 DRIVING WHEEL", "driver 3 left"),
        ("D2L", "driver 2 left"),
        ("D-2-L", "driver 2 left"),
        ("driver_2_L", "driver 2 left"),
        ("fourth coupled wheel l/h", "driver 4 left"),
        ("R.H. leading driver", "driver 1 right"),
        ("leading truck 1 right", "engine truck 1 right"),
        ("E1R", "engine truck 1 right"),
        ("pony truck 1 R", "engine truck 1 right"),
        ("bogie 2, right hand", "engine truck 2 right"),
        ("leading 1 R", "engine truck 1 right"),
        ("trailing 1 left", "trailing truck 1 left"),
        ("TR1L", "trailing truck 1 left"),
        ("tender 3L", "tender 3 left"),
        ("T3R", "tender 3 right"),
        ("Tender, axle 4, RH", "tender 4 right"),
        ("TT2", "tender truck 2"),
        ("driver 1-2 left", "driver 1-2 left"),
        ("driver 2", "driver 2"),
        ("LH", "left"),
        ("inside left", "inside left"),
        ("engine 2 left", "engine 2 left"),
        ("No. 2 L.H.", "2 left"),
        ("L2", "2 left"),
        ("2-L", "2 left"),
        ("dragbox  casting", "dragbox casting"),
        ("left right", "left right"),
        ("engine truck unit 1", "engine truck unit 1"),
        ("", ""),
    ],
)
def test_canonical(written, meant):
    assert canonical(written) == meant


def resolved(text, known=KNOWN, aliases=None):
    return Resolver(known, aliases).resolve(text)


@pytest.mark.parametrize(
    ("written", "position"),
    [
        ("#2 driver L", "driver 2 left"),
        ("LH trailing driver", "driver 4 left"),
        ("tender, 2nd axle, r.h.", "tender 2 right"),
        ("L4", "driver 4 left"),  # there is no other fourth wheel on the left
        ("DRAW-BAR", "drawbar"),
        ("l/h", "left"),
        ("driver 1", "driver 1"),
    ],
)
def test_what_is_resolved(written, position):
    assert resolved(written) == (position, "")


def test_what_may_be_several_names_them():
    position, problem = resolved("L2")
    assert position == ""
    assert "may be any of 'driver 2 left', 'tender 2 left'; say which" in problem


def test_what_is_unknown_names_the_nearest():
    position, problem = resolved("driver 9 left")
    assert position == ""
    assert "not known" in problem
    nearest = re.findall("'([^']+)'", problem.partition("nearest:")[2])
    assert set(nearest) <= set(KNOWN)
    assert nearest[0].startswith("driver")


def test_the_railways_own_words_come_first():
    assert resolved("Hind end", aliases={"hind-end": "drawbar"}) == ("drawbar", "")
    assert resolved("L2", aliases={"L2": "driver 2 left"}) == ("driver 2 left", "")


def test_where_nothing_is_known_every_text_is_a_position():
    assert resolved("smokebox saddle", known=[]) == ("smokebox saddle", "")
    assert resolved("D2L", known=[]) == ("driver 2 left", "")


positions = st.builds(
    Position,
    st.sampled_from(["engine truck", "driver", "trailing truck", "tender"]),
    st.integers(1, 12),
    st.just(0),
    st.sampled_from(["left", "right", ""]),
)


@settings(deadline=None)
@given(positions)
def test_canonical_words_are_read_back(position):
    assert read_position(position.words) == position
    assert canonical(position.words) == position.words


@settings(deadline=None)
@given(positions, st.sampled_from([str.upper, str.title, lambda s: s.replace(" ", "-"), lambda s: f" {s}. "]))
def test_case_and_punctuation_do_not_matter(position, written):
    assert canonical(written(position.words)) == position.words


@settings(deadline=None, max_examples=300)
@given(st.text(max_size=20) | st.text("lLrR dDtTeE123-.#/no", max_size=12))
def test_any_text_is_resolved_or_has_a_reason(text):
    position, problem = resolved(text)
    assert (position == "") == (problem != "")
    assert position in ("", *KNOWN)
    assert canonical(canonical(text)) == canonical(text)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("Treibachse 2 links", "driver 2 left"),
        ("essieu couplé 1 droite", "driver 1 right"),
        ("oś wiązana 3 lewa", "driver 3 left"),
        ("spřažené dvojkolí 2 pravé", "driver 2 right"),
        ("rechts", "right"),
    ],
)
def test_positions_in_other_languages(written, meant):
    assert canonical(written) == meant
