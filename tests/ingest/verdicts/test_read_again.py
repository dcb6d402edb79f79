"""Rows that wait leave the list by themselves: they fit by now, or their sheet was read or put right."""

from datetime import date

import pytest

from ingest.layouts.layout import parse_layout
from ingest.verdicts.add import add_files
from ingest.verdicts.correct_many import Change, Chosen, correct_many
from ingest.verdicts.corrections import change_row, held_rows, mend, retry
from ingest.verdicts.held_groups import settle_many
from ingest.verdicts.read_again import let_go_by, would_fit
from ingest.verdicts.undo import undo

TODAY = date(2026, 6, 1)
LAYOUT = parse_layout("""
[words.position]
"near" = "left"
"side" = ""
[[table]]
table = "readings"
""")


def waiting(store):
    return held_rows(store)["row"].tolist()


def test_a_later_wear_point_solves_rows_that_waited_for_it(known, add, store):
    add(readings="point,date,value\nNEW,2001-02-01,0.1\nNEW,2001-03-01,0.1x\n")
    assert waiting(store) == [2, 3]
    point = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
    report = add(points=point + "NEW,410,driver tire,driver 2 left,tread hollow,in,0,5/16\n")
    assert report.no_longer_wait == 1
    assert waiting(store) == [3]
    row = store.read("readings").iloc[0]
    assert (row["point"], row["source_file"], row["source_row"]) == ("NEW", "readings.csv", 2)
    settled = held_rows(store, waiting=False)
    assert settled["settled_because"].tolist()[0] == "fits what has been stored since"
    undo(store, report.batch, why="wrong engine")
    assert waiting(store) == [2, 3]
    assert store.read("readings").empty


def test_a_later_entry_of_the_log_solves_them(known, add, store):
    add(readings="point,date,value\nHOLLOW,2003-02-01,0.1\nHOLLOW,2003-03-01,0.11\n")
    assert len(waiting(store)) == 2
    report = add(log="vehicle,date,odometer,unit\n410,2004-01-01,14000,mi\n")
    assert (report.no_longer_wait, waiting(store)) == (2, [])


def test_what_does_not_fit_still_waits_and_nothing_new_changes_nothing(known, add, store):
    add(readings="point,date,value\nHOLLOW,2001-02-30,0.1\n")
    before = store.version()
    assert add(readings="point,date,value\nHOLLOW,2001-02-30,0.1\n").no_longer_wait == 0
    assert store.version() == before
    assert add(more="point,date,value\nHOLLOW,2001-03-01,0.1\n").no_longer_wait == 0
    assert waiting(store) == [2]


@pytest.fixture
def wheels(known, folder):
    path = folder / "wheels.csv"
    rows = "".join(
        f"410,driver tire,tread hollow,driver 1 near side,2001-{month:02d}-01,0.{month},in\n"
        for month in range(2, 6)
    )
    path.write_text("vehicle,component,quantity,position,date,value,unit\n" + rows)
    return path


def test_a_second_try_with_a_layout_leaves_nothing_waiting(wheels, store, add):
    first = add_files(store, [wheels], today=TODAY)
    assert (first.count("held back"), len(waiting(store))) == (4, 4)
    second = add_files(store, [wheels], layout=LAYOUT, today=TODAY)
    assert second.count("accepted") == 4, second.verdicts["reasons"].tolist()
    assert (second.no_longer_wait, waiting(store)) == (4, [])
    again = add_files(store, [wheels], today=TODAY)
    assert (again.count("already known"), again.batch, waiting(store)) == (4, None, [])
    undo(store, second.batch, why="wrong layout")
    assert len(waiting(store)) == 4


def test_another_file_of_the_same_name_settles_nothing(wheels, store):
    add_files(store, [wheels], today=TODAY)
    text = wheels.read_text().replace("driver 1 near side", "driver 1 left").replace("0.", "0.0")
    wheels.write_text(text)
    second = add_files(store, [wheels], today=TODAY)
    assert (second.count("accepted"), second.no_longer_wait) == (4, 0)
    assert len(waiting(store)) == 4


def test_a_cell_that_was_put_right_in_the_sheet_ends_the_waiting(known, add, store):
    add(readings="point,date,value,note\nHOLLOW,2001-02-01,o.1,cold\nHOLLOW,2001-03-01,0.1x,\n")
    assert len(waiting(store)) == 2
    report = add(readings="point,date,value,note\nHOLLOW,2001-01-15,0.09,\nHOLLOW,2001-02-01,0.1,cold\n")
    assert report.no_longer_wait == 1
    assert waiting(store) == [3]
    assert "corrected in the sheet" in held_rows(store, waiting=False)["settled_because"].iloc[0]


def test_a_date_that_was_put_right_may_be_another_reading_and_waits(known, add, store):
    add(readings="point,date,value\nHOLLOW,2001-02-30,0.1\n")
    assert add(readings="point,date,value\nHOLLOW,2001-02-28,0.1\n").no_longer_wait == 0
    assert waiting(store) == [2]


def test_a_row_that_says_what_is_stored_by_now_waits_no_more(known, add, store):
    add(readings="point,date,value\nNEW,2001-02-01,0.1\n")
    point = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
    point += "NEW,410,driver tire,driver 2 left,tread hollow,in,0,5/16\n"
    report = add(points=point, other="point,date,value,note\nNEW,2001-02-01,0.1,again\n")
    assert (report.no_longer_wait, waiting(store)) == (1, [])
    assert len(store.read("readings")) == 1
    assert retry(store) == (0, 0)


POINT = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
NEW = "410,driver tire,driver 2 left,tread hollow,in,0,5/16\n"


@pytest.fixture
def two_waiting(known, add, store):
    """A wear point whose unit is missing waits, and a reading of it."""
    add(points=POINT + NEW.replace("410", "NEW,410").replace(",0,5/16", ",0,wide"))
    add(readings="point,date,value\nNEW,2001-02-01,0.1\n")
    (point, reading) = held_rows(store)["held_id"].tolist()
    return point, reading


def test_a_correction_of_a_held_row_stores_what_waited_for_it(two_waiting, store):
    said = settle_many(store, two_waiting[:1], "mended", {"condemning_limit": "5/16"}, reason="drawing")
    assert (said.settled, said.also, let_go_by(store, said.batch)) == ([two_waiting[0]], 1, 1)
    assert waiting(store) == []
    assert store.read("readings")["point"].tolist() == ["NEW"]
    undo(store, said.batch, why="wrong drawing")
    assert held_rows(store)["held_id"].tolist() == list(two_waiting)


def test_a_correction_of_one_held_row_does_so_too(two_waiting, store):
    batch = mend(store, two_waiting[0], {"condemning_limit": "5/16"}, reason="drawing")
    assert (let_go_by(store, batch), waiting(store)) == (1, [])


def test_a_correction_of_a_stored_row_does_so_too(known, add, store):
    add(readings="point,date,value\nHOLLOW,2003-02-01,0.1\n")
    assert waiting(store) == [2]  # after the end of the log
    log = store.read("mileage").sort_values("date")
    batch = change_row(store, "mileage", int(log["row_id"].iloc[-1]), {"date": "2003-03-01"}, reason="slip")
    assert (let_go_by(store, batch), waiting(store)) == (1, [])


def test_a_correction_of_many_stored_rows_does_so_too(known, add, store):
    add(readings="point,date,value\nHOLLOW,2003-02-01,0.1\n")
    chosen = Chosen("mileage", since=date(2002, 1, 1))
    batch, _ = correct_many(store, chosen, Change(years=2), reason="the year was misread")
    assert (let_go_by(store, batch), waiting(store)) == (1, [])


def test_an_undo_tells_how_many_rows_would_fit_and_stores_none(known, add, store):
    first = add(readings="point,date,value,observer\nHOLLOW,2001-02-01,0.1,A\n")
    add(more="point,date,value,observer\nHOLLOW,2001-02-01,0.2,B\n")  # it contradicts the first
    assert (waiting(store), would_fit(store, TODAY)) == ([2], 0)
    undo(store, first.batch, why="wrong engine")
    assert (waiting(store), would_fit(store, TODAY)) == ([2], 1)
    assert retry(store, today=TODAY) == (1, 0)
