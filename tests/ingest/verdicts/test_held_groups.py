"""Rows that wait for one reason are one piece of work."""

import pytest

from ingest.errors import NotPossible
from ingest.store import Store
from ingest.verdicts.corrections import accept, held_rows, mend, open_questions
from ingest.verdicts.held_groups import grouped, groups_of, rows_like, settle_many

READINGS = (
    "point,date,value,unit,observer\n"
    + "".join(f"HOLLOW,2001-0{month}-03,{month}.5,in,J.D.\n" for month in range(2, 7))  # far outside
    + "".join(f"HOLOW,2001-0{month}-03,0.1{month},in,A.V.\n" for month in range(2, 5))  # no such point
    + "HOLLOW,2001-02-30,0.1,in,J.D.\n"
)


@pytest.fixture
def work(known, add, store):
    """Nine rows that wait for three reasons."""
    assert add(readings=READINGS).count("held back") == 9
    return store


def test_rows_are_grouped_by_reason_the_commonest_first(work):
    groups = groups_of(held_rows(work))
    assert groups[["like", "rows", "can_accept"]].to_numpy().tolist() == [
        [1, 5, True],
        [6, 3, False],
        [9, 1, False],
    ]
    assert groups["files"].tolist() == ["readings.csv"] * 3
    assert sorted(rows_like(held_rows(work), 7)) == [6, 7, 8]
    assert rows_like(held_rows(work), 7, {"value": "0.13"}) == [7]
    with pytest.raises(NotPossible, match="No row that waits like row 7 has value=9"):
        rows_like(held_rows(work), 7, {"value": "9"})
    with pytest.raises(NotPossible, match="No row 40 waits"):
        rows_like(held_rows(work), 40)
    assert groups_of(held_rows(work).iloc[:0]).empty


def test_a_group_is_corrected_as_one_batch(work):
    said = settle_many(work, [6, 7, 8], "mended", {"point": "HOLLOW"}, reason="misspelled")
    assert (said.left, sorted(said.settled)) == ({}, [6, 7, 8])
    rows = work.read("readings")
    assert rows["source_row"].tolist() == [7, 8, 9]
    assert set(rows["batch"]) == {said.batch}


def test_what_still_does_not_fit_waits_on_and_says_why(work):
    said = settle_many(work, [5, 9], "mended", {"value": "0.2"}, reason="read again")
    assert said.settled == [5]
    assert "30 Feb" in said.left[9]
    said = settle_many(work, [1, 9], "accepted", reason="seen")
    assert (said.settled, list(said.left)) == ([1], [9])
    assert settle_many(work, [9], "accepted", reason="seen").batch is None
    assert settle_many(work, [2, 3], "dismissed", reason="no good").left == {}
    assert held_rows(work)["held_id"].tolist() == [4, 6, 7, 8, 9]


def test_what_cannot_be_asked(work):
    for numbers, changes, reason, words in (
        ([1, 40], {"value": "1"}, "x", "No row 40"),
        ([1], {"colour": "red"}, "x", "no column colour"),
        ([1], {"value": "1"}, " ", "reason"),
    ):
        with pytest.raises(NotPossible, match=words):
            settle_many(work, numbers, "mended", changes, reason=reason)
    assert work.version() == 2


ASKED = "point,date,value,unit\nHOLLOW,03/04/2001,0.1,in\nHOLLOW,05/06/2001,0.1,in\n"


def test_rows_that_wait_for_an_answer_are_not_stored_past_it(known, add, store):
    add(readings=ASKED)
    held = held_rows(store)
    assert grouped(held)["like"].tolist() == [1, 1]
    said = settle_many(store, [1, 2], "accepted", reason="looks right")
    assert (said.settled, list(said.left)) == ([], [1, 2])
    assert "question must be answered" in said.left[1]
    said = settle_many(store, [1, 2], "mended", {"value": "0.11"}, reason="read again")
    assert said.settled == []
    for alone in (
        lambda: accept(store, 1, reason="x"),
        lambda: mend(store, 1, {"value": "0.11"}, reason="x"),
    ):
        with pytest.raises(NotPossible, match="question must be answered"):
            alone()
    assert settle_many(store, [1], "mended", {"date": "2001-04-03"}, reason="asked J. D.").settled == [1]


def test_only_questions_for_whose_answer_rows_wait_are_open(known, add, store):
    """The order of the dates was plain from the whole sheet; the rows that wait do not show it."""
    add(
        readings="point,date,value,unit\n"
        "HOLLOW,25/04/2001,0.11,in\nHOLOW,03/04/2001,0.1,in\n"
        "HOLLOW,05/06/2001,0.12,in\nHOLLOW,05/06/2001,0.19,in\n"  # which of the two?
    )
    assert len(store.read("readings")) == 1
    why = "".join(held_rows(store)["why"])
    asked = open_questions(store)
    assert [question.kind for question in asked] == ["several"]
    assert all(question.id in why for question in asked)


def test_questions_of_the_demo_are_those_that_its_rows_name(demo_store):
    why = held_rows(Store(demo_store))["why"].str.extract(r"question (\S+):")[0].dropna()
    asked = [question.id for question in open_questions(Store(demo_store))]
    assert len(asked) == len(set(asked))
    assert set(asked) == set(why)
