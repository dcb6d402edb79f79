"""However a position is spelled, sheets, drawing, limits and forecast take it for the same."""

import re

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.words.gear_places import place_of
from ingest.catalogue.classify import classify
from ingest.names.positions import _GROUPS, _SIDES, LAST, Resolver, read_position
from models.laws.rate_covariates import covariates_of_positions

GROUPS = {
    "driver": ["driver", "Drivers", "driving axle", "coupled wheel", "drive", "DRV"],
    "engine truck": ["engine truck", "Leading truck", "pony truck", "bogie", "pilot truck"],
    "trailing truck": ["trailing truck", "trailer", "hind truck", "rear bogie"],
    "tender": ["tender", "Tender axle", "TDR"],
}
DRAWN = {"driver": "driver", "engine truck": "leading", "trailing truck": "trailing", "tender": "tender"}
ORDINALS = ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth"]
SIDES = {
    "left": ["left", "Left Hand", "L.H.", "LH", "L", "left side"],
    "right": ["right", "right-handed", "R.H.", "r/h", "R"],
    "": [""],
}
KNOWN = [f"{group} {number} {side}".strip() for group in GROUPS for number in range(1, 9) for side in SIDES]


@st.composite
def spelled(draw):
    """A position in words, and group, number and side that it means."""
    group, number, side = draw(
        st.tuples(st.sampled_from(list(GROUPS)), st.integers(1, 8), st.sampled_from(list(SIDES)))
    )
    if draw(st.booleans()):
        letter = {"driver": "D", "engine truck": "E", "trailing truck": "TR", "tender": "T"}[group]
        return f"{letter}{number}{side[:1].upper()}", group, number, side
    ending = {1: "st", 2: "nd", 3: "rd"}.get(number, "th")
    figures = [f"{number}", f"#{number}", f"No. {number}", f"{number}{ending}", ORDINALS[number - 1]]
    parts = [draw(st.sampled_from(words)) for words in (GROUPS[group], figures, SIDES[side])]
    order = draw(st.permutations([part for part in parts if part]))
    return draw(st.sampled_from([" ", ", ", "  ", " / "])).join(order), group, number, side


def taken_for(text):
    """Number and side of a position in the forecast's covariates, in the limits and on the drawing."""
    frame = pd.DataFrame({"component": ["tire"], "position": [text], "quantity": ["thickness"]})
    forecast, limits = covariates_of_positions(frame["position"]).iloc[0], classify(frame).iloc[0]
    place = place_of(text)
    drawn = None if place is None else (place.group, place.number, place.side)
    return (forecast["wheelset"], forecast["side"]), (limits["axle"], limits["side"]), drawn


@settings(deadline=None, max_examples=100)
@given(spelled())
def test_any_spelling_of_a_wheel_is_the_same_wheel_everywhere(written):
    text, group, number, side = written
    forecast, limits, drawn = taken_for(text)
    assert forecast == (str(number), side)
    assert limits == (number, side)
    assert drawn == (DRAWN[group], number, side[:1].upper())
    assert Resolver(KNOWN).resolve(text) == (f"{group} {number} {side}".strip(), "")


def words_of(*patterns):
    """Words and letters that the patterns of the grammar are made of."""
    return sorted(
        {word for pattern in patterns for word in re.findall(r"[a-z]+", re.sub(r"\\.", " ", pattern))}
    )


VOCABULARY = (
    words_of(*(pattern for _, pattern in (*_GROUPS, *_SIDES))) + ORDINALS + [str(n) for n in range(14)]
)


@settings(deadline=None, max_examples=120)
@given(
    st.lists(st.sampled_from([*VOCABULARY, "inside", "front", "back", "1-2", "#", "no"]), max_size=5).map(
        " ".join
    )
)
def test_what_the_grammar_reads_or_not_holds_everywhere(text):
    read = read_position(text)
    forecast, _, drawn = taken_for(text)
    if read is None:
        assert (forecast, drawn) == (("", ""), None)
        return
    assert forecast == (str(read.number) if read.number != LAST and read.number else "", read.side)
    if drawn is not None:
        assert drawn[1:] == (read.number, read.side[:1].upper())


@pytest.mark.parametrize(
    ("text", "drawn"),
    [
        ("third driver left", ("driver", 3, "L")),
        ("leading driver, R.H.", ("driver", 1, "R")),
        ("left third coupled wheel", ("driver", 3, "L")),
    ],
)
def test_numbers_in_words_are_drawn_at_their_axle(text, drawn):
    forecast, _, place = taken_for(text)
    assert place == drawn
    assert forecast == (str(drawn[1]), {"L": "left", "R": "right"}[drawn[2]])


@pytest.mark.parametrize("text", ["driver 0 left", "0", "leading 0"])
def test_there_is_no_axle_nought(text):
    assert read_position(text) is None
    assert place_of(text) is None
