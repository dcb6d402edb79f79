"""The work list: mend, accept, dismiss, try again; changes to stored rows; undo. Nothing is lost."""

import json

import pandas as pd
import pytest

from ingest.errors import NotPossible
from ingest.verdicts.corrections import accept, change_row, dismiss, held_rows, mend, retry, withdraw_row
from ingest.verdicts.undo import undo

HEAD = "point,date,value,unit,odometer\n"


@pytest.fixture
def waiting(add, known, store):
    """Three held rows: an unreadable value, a doubtful one, a date outside the log."""
    add(readings=HEAD + "HOLLOW,2001-02-01,one,,\nHOLLOW,2001-03-01,3,,\nHOLLOW,2002-11-01,0.1,,\n")
    return held_rows(store)


def test_the_list_tells_place_text_and_reason(waiting):
    assert waiting["held_id"].tolist() == [1, 2, 3]
    assert waiting["row"].tolist() == [2, 3, 4]
    assert waiting["cells"].iloc[0] == {"point": "HOLLOW", "date": "2001-02-01", "value": "one"}
    assert waiting["reasons"].iloc[0][0]["found"] == "one"
    assert waiting["can_accept"].tolist() == [False, True, False]


def test_mending_stores_the_row_and_keeps_what_was_written(waiting, store):
    batch = mend(store, 1, {"value": "1/16"}, reason="read from the carbon copy", who="R. Hale")
    read = store.read("readings")
    assert read["value"].tolist() == [25.4 / 16]
    assert read["source_row"].tolist() == [2]
    settled = held_rows(store, waiting=False).set_index("held_id").loc[1]
    assert settled["outcome"] == "mended"
    assert settled["cells"]["value"] == "one"
    assert settled["mended"] == {"value": "1/16"}
    made = store.batches().iloc[0]
    assert (made["batch"], made["who"], made["command"]) == (batch, "R. Hale", "mend")
    assert json.loads(made["about"])["reason"] == "read from the carbon copy"
    assert held_rows(store)["held_id"].tolist() == [2, 3]


def test_position_date_and_unit_can_be_mended_too(waiting, store):
    mend(store, 2, {"unit": "mm", "date": "2001-03-02", "point": "THICK", "value": "80"}, reason="wrong line")
    read = store.read("readings").iloc[0]
    assert (read["point"], read["value"], str(read["date"].date())) == ("THICK", 80.0, "2001-03-02")


def test_mending_that_is_not_enough_says_why_and_changes_nothing(waiting, store):
    version = store.version()
    with pytest.raises(NotPossible, match="still be held back: value: 'two'"):
        mend(store, 1, {"value": "two"}, reason="try")
    assert store.version() == version


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda s: mend(s, 99, {"value": "1"}, reason="x"), "No row 99 waits"),
        (lambda s: mend(s, 1, {"valu": "1"}, reason="x"), "no column valu"),
        (lambda s: mend(s, 1, {"value": "1/16"}, reason=" "), "needs a reason"),
        (lambda s: accept(s, 1, reason="x"), "still be held back"),
        (lambda s: dismiss(s, [1, 99], reason="x"), "No row 99 waits"),
        (lambda s: undo(s, 1, why=""), "needs a reason"),
        (lambda s: undo(s, 99, why="x"), "no batch 99"),
        (lambda s: withdraw_row(s, "readings", 99, reason="x"), "holds no row 99"),
    ],
)
def test_what_cannot_be_done_is_said(waiting, store, call, words):
    version = store.version()
    with pytest.raises(NotPossible, match=words):
        call(store)
    assert store.version() == version


def test_a_doubt_can_be_accepted(waiting, store, add):
    accept(store, 2, reason="measured twice")
    assert store.read("readings")["value"].tolist() == [3 * 25.4]
    again = add(readings=HEAD + "HOLLOW,2001-03-01,3,,\n")
    assert again.count("already known") == 1


def test_a_dismissed_row_stays_dismissed_when_the_file_comes_again(waiting, store, add):
    dismiss(store, [1, 3], reason="no such readings")
    assert held_rows(store)["held_id"].tolist() == [2]
    add(mileage="vehicle,date,odometer\n410,2003-01-01,14000\n")
    again = add(readings=HEAD + "HOLLOW,2001-02-01,one,,\nHOLLOW,2002-11-01,0.1,,\n")
    assert again.count("already known") == 2
    assert len(store.read("readings")) == 0


def test_trying_again_stores_what_fits_meanwhile(waiting, store, add):
    assert retry(store) == (0, 3)
    assert add(mileage="vehicle,date,odometer\n410,2003-01-01,14000\n").no_longer_wait == 1
    assert retry(store) == (0, 2)
    assert store.read("readings")["date"].dt.strftime("%Y-%m-%d").tolist() == ["2002-11-01"]
    assert held_rows(store, waiting=False)["outcome"].tolist() == ["", "", "released"]


def test_a_stored_row_can_be_changed_and_the_old_one_stays_readable(add, known, store):
    add(readings=HEAD + "HOLLOW,2001-02-01,0.1,,\n")
    version = store.version()
    change_row(store, "readings", 1, {"value": "0.12"}, reason="misread", who="R. Hale")
    assert store.read("readings")["value_text"].tolist() == ["0.12"]
    assert store.read("readings", version)["value_text"].tolist() == ["0.1"]


def test_a_note_alone_can_be_changed_and_an_odometer_of_the_log(add, known, store):
    add(readings=HEAD + "HOLLOW,2001-02-01,0.1,,\n")
    change_row(store, "readings", 1, {"note": "by torchlight"}, reason="from the day book")
    assert store.read("readings")["note"].tolist() == ["by torchlight"]
    row_id = int(store.read("mileage")["row_id"].iloc[1])
    change_row(store, "mileage", row_id, {"odometer": "11200"}, reason="from the day book")
    assert store.read("mileage")["odometer"].tolist() == [10000, 11200, 12000]


def test_a_row_is_not_withdrawn_while_readings_take_their_miles_from_it(add, known, store):
    add(readings=HEAD + "HOLLOW,2001-10-01,0.1,,\n")
    log = store.read("mileage")
    with pytest.raises(NotPossible, match="1 readings would lose their miles"):
        withdraw_row(store, "mileage", int(log["row_id"].iloc[-1]), reason="doubtful")
    withdraw_row(store, "mileage", int(log["row_id"].iloc[1]), reason="doubtful")
    assert len(store.read("mileage")) == 2


def test_undo_takes_back_a_batch_and_only_that(add, known, store):
    first = add(readings=HEAD + "HOLLOW,2001-02-01,0.1,,\nHOLLOW,2001-02-31,0.1,,\n").batch
    add(readings=HEAD + "HOLLOW,2001-03-01,0.11,,\n")
    before = store.read("readings")
    version = store.version()
    undo(store, first, "tester", "wrong engine")
    assert store.read("readings")["value_text"].tolist() == ["0.11"]
    assert held_rows(store).empty
    pd.testing.assert_frame_equal(store.read("readings", version), before)


def test_undo_brings_back_what_the_batch_replaced(add, known, store):
    before = store.read("wear_points")
    head = "point,vehicle,component,quantity,unit,new_value,condemning_limit\n"
    changed = add(wear_points=head + "HOLLOW,410,driver tire,tread hollow,in,0,1/4\n").batch
    undo(store, changed, why="the rule had not changed")
    dropped = ["row_id", "batch"]
    pd.testing.assert_frame_equal(
        store.read("wear_points").drop(columns=dropped), before.drop(columns=dropped)
    )


def test_undo_after_undo_goes_back_step_by_step(add, known, store):
    head = "point,vehicle,component,quantity,unit,new_value,condemning_limit\n"
    batches = [
        add(wear_points=head + f"HOLLOW,410,driver tire,tread hollow,in,0,{limit}\n").batch
        for limit in ("1/4", "1/8")
    ]
    with pytest.raises(NotPossible, match=f"Undo them first: {batches[1]}"):
        undo(store, batches[0], why="no")
    undo(store, batches[1], why="no")
    undo(store, batches[0], why="no")
    assert store.read("wear_points").set_index("point").loc["HOLLOW", "condemning_limit"] == pytest.approx(
        25.4 * 5 / 16
    )
    with pytest.raises(NotPossible, match="undone already"):
        undo(store, batches[0], why="again")


def test_undo_is_refused_while_later_rows_hang_on_the_batch(add, known, store):
    add(readings=HEAD + "HOLLOW,2001-02-01,0.1,,\n")
    with pytest.raises(NotPossible, match="1 rows of readings would lose their wear point"):
        undo(store, known.batch, why="start over")
    assert len(store.read("wear_points")) == 3


def test_undo_of_a_mending_lets_the_row_wait_again(waiting, store):
    undo(store, mend(store, 1, {"value": "1/16"}, reason="guess"), why="it was a guess")
    assert held_rows(store)["held_id"].tolist() == [1, 2, 3]
    assert store.read("readings").empty
