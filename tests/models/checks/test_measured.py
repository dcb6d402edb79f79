"""Rows at one place, paired and grouped: the same as frames would give, only sooner."""

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from models.checks.measured import Groups, numbered, pairs

PLACES = st.lists(st.tuples(st.sampled_from("ab"), st.integers(0, 2), st.sampled_from("xyz")), max_size=25)


def columns(rows):
    return [np.array([row[0] for row in rows], object), np.array([row[1] for row in rows], int)]


@settings(deadline=None)
@given(PLACES)
def test_pairs_are_those_of_a_merge(rows):
    kind = np.array([row[2] for row in rows], object)
    place = numbered(*columns(rows))
    first, second = np.flatnonzero(kind == "x"), np.flatnonzero(kind == "y")
    got = list(zip(*(side.tolist() for side in pairs(place, first, second)), strict=True))
    left, right = (pd.DataFrame({"place": place[part], "row": part}) for part in (first, second))
    merged = left.merge(right, on="place", suffixes=("", "_2"))
    assert got == list(zip(merged["row"], merged["row_2"], strict=True))


@settings(deadline=None)
@given(PLACES)
def test_numbers_go_up_with_the_values(rows):
    number = numbered(*columns(rows))
    for one, at in zip(rows, number, strict=True):
        for two, other in zip(rows, number, strict=True):
            assert (at < other) == (one[:2] < two[:2])


@settings(deadline=None)
@given(PLACES)
def test_groups_are_those_of_a_frame(rows):
    number = numbered(*columns(rows))
    groups = Groups.of(number)
    names = np.array([row[2] for row in rows], object)
    table = pd.DataFrame({"number": number, "name": names, "row": np.arange(len(rows))})
    by = table.groupby("number")
    assert groups.first.tolist() == by["row"].first().tolist()
    assert groups.size.tolist() == by.size().tolist()
    assert groups.joined(names).tolist() == [", ".join(mine) for _, mine in by["name"]]


def test_what_is_missing_is_one_place():
    number = numbered(np.array(["a", None, "a", None], object))
    assert number[0] == number[2] != number[1] == number[3]
