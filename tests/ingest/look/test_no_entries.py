"""Rows that are no readings, by what the sheet says: nothing measured, estimated, told by a color."""

import pytest

from ingest.verdicts.corrections import dismiss


@pytest.mark.parametrize("word", ["-", "n.m.", "ok", "i. O.", "nicht gemessen", "RAS"])
def test_a_word_in_place_of_a_value_is_no_reading_and_is_kept_as_dismissed(
    sheet, look, milesleft, store, known, word
):
    path = sheet(f"point,date,value\nHOLLOW,2001-05-03,{word}\nTHICK,2001-05-03,3.3\n")
    asked, rows = look(path)
    assert asked == {}
    assert [rows[row]["state"] for row in (2, 3)] == ["left out", "accepted"]
    milesleft("add", path)
    assert store.read("readings")["point"].tolist() == ["THICK"]
    held = store.stored()[1]["held"]
    assert held["outcome"].tolist() == ["dismissed"]
    assert milesleft("add", path, "--json")["already_known"] == 2


@pytest.mark.parametrize("word", ["?", "see note", "worn", "3.3?"])
def test_what_may_be_a_value_waits(sheet, look, known, word):
    _, rows = look(sheet(f"point,date,value\nHOLLOW,2001-05-03,{word}\n"))
    assert rows[2]["state"] == "held back"


def test_such_a_word_beside_a_value_is_an_empty_cell(sheet, look, known):
    path = sheet("point,date,value,odometer,unit,gauge\nHOLLOW,2001-05-03,1/16,-,n/a,–\n")
    asked, rows = look(path)
    assert asked == {}
    assert rows[2]["verdict"] == "accepted"
    assert "gauge" not in rows[2]["read"]


def test_two_letters_may_be_an_observer(sheet, look, known):
    _, rows = look(sheet("point,date,value,observer\nHOLLOW,2001-05-03,1/16,NM\nTHICK,2001-05-03,3.3,-\n"))
    assert rows[2]["read"]["observer"] == "NM"
    assert "observer" not in rows[3]["read"]


def test_a_row_without_a_value_whose_note_tells_of_work_waits(sheet, look, known):
    _, rows = look(sheet("point,date,value,note\nTHICK,2001-05-03,n.m.,new tire fitted\n"))
    assert rows[2]["state"] == "held back"


@pytest.mark.parametrize(
    "note",
    ["estimated", "Geschätzt!", "carried over from last year", "limit", "Grenzmaß"],
)
def test_a_value_that_nobody_measured_by_its_note_is_asked_about(sheet, look, milesleft, store, known, note):
    path = sheet(f"point,date,value,note\nTHICK,2001-05-03,3.3,{note}\nHOLLOW,2001-05-03,1/16,\n")
    asked, rows = look(path)
    assert list(asked) == ["measured"]
    assert [rows[row]["verdict"] for row in (2, 3)] == ["held back", "accepted"]
    milesleft("add", path, "--answer", f"{asked['measured']['id']}=leave")
    assert store.read("readings")["point"].tolist() == ["HOLLOW"]


@pytest.mark.parametrize("note", ["near limit", "not estimated", "limit next year"])
def test_other_notes_ask_nothing(sheet, look, known, note):
    asked, _ = look(sheet(f"point,date,value,note\nTHICK,2001-05-03,3.3,{note}\n"))
    assert "measured" not in asked


@pytest.mark.parametrize("legend", ["red = estimated", "Rot: geschätzt", "rouge = limite dépassée"])
def test_a_legend_of_colors_is_asked_about_since_colors_are_not_read(sheet, look, known, legend):
    asked, rows = look(sheet(f"point,date,value,note\nTHICK,2001-05-03,3.3,\n,,,{legend}\n"))
    assert list(asked) == ["legend"]
    assert rows[2]["verdict"] == "held back"


def test_rows_wait_for_the_legend_when_its_line_is_dismissed(sheet, look, milesleft, store, known):
    path = sheet("point,date,value,note\nTHICK,2001-05-03,3.3,\n,,,red = estimated\n")
    milesleft("add", path)
    held = store.held()
    dismiss(store, held.loc[held["source_row"] == 3, "held_id"].tolist(), reason="no reading")
    assert store.read("readings").empty
    asked, _ = look(path)
    milesleft("add", path, "--answer", f"{asked['legend']['id']}=take")
    assert store.read("readings")["point"].tolist() == ["THICK"]


def test_a_diameter_in_czech_is_no_average(sheet, look, known):
    path = sheet("date,vehicle,component,position,quantity,value\n2001-05-03,410,driver,1 left,průměr,68\n")
    assert "sums" not in look(path)[0]


@pytest.mark.parametrize("mark", [" ok", " OK", " i.O.", " ✓", "✓"])
def test_a_word_behind_a_value_that_all_is_well_is_the_note_of_its_row(
    sheet, look, milesleft, store, known, mark
):
    path = sheet(f"point,date,value,note\nTHICK,2001-05-03,3.3{mark},cold\nHOLLOW,2001-05-03,1/16,\n")
    asked, rows = look(path)
    assert (asked, [rows[row]["verdict"] for row in (2, 3)]) == ({}, ["accepted"] * 2)
    milesleft("add", path)
    stored = store.read("readings").set_index("point")
    assert stored["value_text"].to_dict() == {"THICK": "3.3", "HOLLOW": "1/16"}
    assert stored["note"].to_dict() == {"THICK": f"cold; {mark.strip()}", "HOLLOW": ""}


@pytest.mark.parametrize("mark", [" ?", "!", " est", " (low)", " +", " †", " 1)", "*"])
def test_what_may_say_doubt_or_is_not_explained_keeps_its_row_waiting(sheet, look, known, mark):
    _, rows = look(sheet(f"point,date,value\nTHICK,2001-05-03,3.3{mark}\n"))
    assert rows[2]["state"] == "held back"


@pytest.mark.parametrize("mark", ["*", " †", " 1)"])
@pytest.mark.parametrize(("line", "kinds"), [("wheel cold", []), ("estimated by eye", ["measured"])])
def test_the_line_that_a_mark_points_to_is_the_note_of_the_row(sheet, look, known, mark, line, kinds):
    path = sheet(f"point,date,value\nTHICK,2001-05-03,3.3{mark}\n{mark.strip()} {line},,\n")
    asked, rows = look(path)
    assert list(asked) == kinds
    assert rows[2]["state"] == ("asked about" if kinds else "accepted")
