"""Sheets arranged in their own way: one question asks whether the layout proposed from them is right."""

import pytest

POINTS = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
ENGINES = {"Bramwick": "B", "Quillon": "Q"}
WIDE = "Wheel book,,\n,,\nWear point,{},{}\nB-1L,2.9,2.88\nB-1R,2.91,2.87\nQ-1L,2.9,2.85\n"
UNNAMED = "Wheels,,,\n,,,\nPart,Position,Quantity,1 Mar 2001\ndriver tire,driver 1 left,thickness,2.9\n"
BLOCK = "Engine: {},,\nDate,Position,thickness (in)\n2001-03-01,driver 1 left,{}\n"


@pytest.fixture
def engines(milesleft, sheet):
    """Two engines with a tire each side of one axle, and their logs."""
    points, log = POINTS, "vehicle,date,odometer,unit\n"
    for name, letter in ENGINES.items():
        for side in ("left", "right"):
            place = f"{letter}-1{side[0].upper()},{name},driver tire,driver 1 {side}"
            points += f"{place},thickness,in,3,2\n"
        log += "".join(f"{name},{year}-01-01,{(year - 1999) * 3000},mi\n" for year in range(2000, 2006))
    milesleft("add", sheet(points, "points.csv"), sheet(log, "log.csv"))


def answered(look, milesleft, path, answer, ends=0):
    """The question that a sheet asks, and what ``add`` says once it is answered."""
    asked, _ = look(path)
    question = asked["layout"]
    return question, milesleft("add", path, "--json", "--answer", f"{question['id']}={answer}", ends=ends)


def stored(store):
    rows = store.read("readings")
    return {(row.point, f"{row.date:%Y-%m-%d}", row.value_text) for row in rows.itertuples()}


def test_a_column_for_each_date_is_read_as_proposed_and_the_next_week_unasked(
    engines, look, milesleft, sheet, store
):
    path = sheet(WIDE.format("2001-03-01", "2002-03-01"), "book.csv")
    told = milesleft("add", path, "--json", ends=1)
    assert (told["accepted"], told["held_back"], told["layouts"]) == (0, 0, [])
    assert [item["file"] for item in told["not_read"]] == ["book.csv"]
    question, done = answered(look, milesleft, path, "as_proposed")
    assert question["answers"] == ["as_proposed", "no"]
    assert told["not_read"][0]["question"] == question["id"]
    assert "B-1L: 2.9 in, 2001-03-01" in [cell["reads"] for cell in question["readings"]]
    assert (done["accepted"], done["held_back"], done["not_read"]) == (6, 0, [])
    assert ("Q-1L", "2002-03-01", "2.85") in stored(store)
    later = sheet(WIDE.format("2003-03-01", "2002-03-01"), "book later.csv")
    asked, rows = look(later)
    assert asked == {}
    assert len(rows) == 3
    assert "1 file known already (6 rows)" in milesleft("add", path)


def test_a_sheet_whose_proposal_is_refused_stays_unread(engines, look, milesleft, sheet, store):
    path = sheet(WIDE.format("2001-03-01", "2002-03-01"), "book.csv")
    _, done = answered(look, milesleft, path, "no", ends=1)
    assert (done["accepted"], done["held_back"], done["questions"]) == (0, 0, [])
    assert stored(store) == set()
    assert "is none of its answers" in refused_answer(look, milesleft, path)


def refused_answer(look, milesleft, path):
    path.write_text(path.read_text().replace("Wear point", "Point"))
    question = look(path)[0]["layout"]
    return milesleft("add", path, "--answer", f"{question['id']}=perhaps", ends=2)


def test_which_engine_a_sheet_is_about_is_asked_for_this_sheet_alone(engines, look, milesleft, sheet, store):
    path = sheet(UNNAMED, "wheels.csv")
    question, done = answered(look, milesleft, path, "Quillon")
    assert question["answers"] == ["Bramwick", "Quillon", "no"]
    assert question["about"]["column"] == "vehicle"
    assert done["accepted"] == 1
    assert stored(store) == {("Q-1L", "2001-03-01", "2.9")}
    assert "known already" in milesleft("add", path)
    other, _ = look(sheet(UNNAMED.replace("2001", "2002"), "next.csv"))
    assert other["layout"]["id"] != question["id"]


def test_engines_stacked_without_their_part_are_read_by_the_one_that_is_named(
    engines, look, milesleft, sheet, store
):
    path = sheet(BLOCK.format("Bramwick", 2.9) + ",,\n" + BLOCK.format("Quillon", 2.8), "stacked.csv")
    question, done = answered(look, milesleft, path, "driver tire, thickness")
    assert question["answers"] == ["driver tire, thickness", "no"]
    assert done["accepted"] == 2
    assert stored(store) == {("B-1L", "2001-03-01", "2.9"), ("Q-1L", "2001-03-01", "2.8")}


def test_what_the_rows_leave_open_is_asked_once_the_layout_is_answered(
    engines, look, milesleft, sheet, store
):
    path = sheet(WIDE.format("03/04/2001", "05/06/2002"), "book.csv")
    asked, _ = look(path)
    assert list(asked) == ["layout"]
    layout = ("--answer", f"{asked['layout']['id']}=as_proposed")
    then, rows = look(path, *layout)
    assert list(then) == ["dates"]
    assert {row["state"] for row in rows.values()} == {"asked about"}
    milesleft("add", path, *layout, "--answer", f"{then['dates']['id']}=dmy")
    assert ("B-1L", "2001-04-03", "2.9") in stored(store)


def test_a_sheet_beside_one_that_is_read_is_asked_about_alone(engines, look, milesleft, sheet):
    plain = sheet("point,date,value\nB-1L,2001-02-01,2.95\n", "plain.csv")
    wide = sheet(WIDE.format("2001-03-01", "2002-03-01"), "book.csv")
    told = milesleft("add", plain, wide, "--json", ends=1)
    assert told["accepted"] == 1
    assert [question["about"]["file"] for question in told["questions"]] == ["book.csv"]
    asked, _ = look(plain)
    assert asked == {}


def test_each_answer_shows_what_it_makes_of_the_very_cell(engines, look, milesleft, sheet):
    """Of a row with a cell for each day, one answer holds back the first and another the second."""
    points = "".join(
        f"F-{side},Bramwick,flange,driver 1 {side},thickness,in,1.3,1\n" for side in ("left", "right")
    )
    milesleft("add", sheet(POINTS + points, "flanges.csv"))
    path = sheet("Engine: Bramwick,,\nWheel,2001-03-01,2002-03-01\n1L,2.9,1.2\n1R,2.8,1.1\n", "round.csv")
    question = look(path)[0]["layout"]
    assert {"driver tire, thickness", "flange, thickness"} < set(question["answers"])
    for cell in question["readings"]:
        if cell["answer"] != "no":
            assert f": {cell['written']}" in cell["reads"]


@pytest.mark.parametrize(
    ("title", "day"),
    [
        ("Bramwick, measured 14 Mar 2001", "2001-03-14"),
        ("Bramwick: Messblatt vom 14.03.2001", "2001-03-14"),
        ("Bramwick, between 14 Mar 2001 and 15 Mar 2001", ""),
        ("Bramwick, form 36965", ""),  # a number, and no day for being one's count
    ],
)
def test_the_one_day_above_the_headings_is_that_of_all_rows(engines, look, milesleft, sheet, title, day):
    rows = "Part,Wheel,thickness (in)\ndriver tire,1L,2.9\ndriver tire,1R,2.88\n"
    path = sheet(f'"{title}",,\n{rows}', "book.csv")
    if not day:
        assert milesleft("add", path, ends=1).count("layout") >= 1
        return
    question = look(path)[0]["layout"]
    assert not question["asked_once_for_this_kind_of_sheet"]
    assert f"B-1L: 2.9 in, {day}" in [cell["reads"] for cell in question["readings"]]


SIDES = (
    "Engine,Axle,Date,Thickness {} (in),Thickness {} (in),Diff\nBramwick,driver 1,2001-03-01,2.9,2.91,0.01\n"
)


@pytest.mark.parametrize("sides", [("left", "right"), ("L", "R"), ("R.H.", "L.H.")])
def test_two_headings_that_differ_in_their_side_alone_are_one_quantity(
    engines, look, milesleft, sheet, store, sides
):
    path = sheet(SIDES.format(*sides), "sides.csv")
    _, done = answered(look, milesleft, path, "driver tire")
    assert done["accepted"] == 2
    first, other = ("B-1R", "B-1L") if sides[0][0] == "R" else ("B-1L", "B-1R")
    assert stored(store) == {(first, "2001-03-01", "2.9"), (other, "2001-03-01", "2.91")}


def test_a_word_of_a_side_without_the_other_is_no_side(engines, look, milesleft, sheet, store):
    text = "Engine,Wheel,Date,Thickness (in),Thickness left (in)\nBramwick,driver 1 left,2001-03-01,2.9,0.9\n"
    _, done = answered(look, milesleft, sheet(text, "left.csv"), "driver tire")
    assert (done["accepted"], stored(store)) == (1, {("B-1L", "2001-03-01", "2.9")})


def test_a_unit_in_brackets_behind_a_quantity_is_that_of_the_row(engines, look, milesleft, sheet, store):
    head = "vehicle,component,position,quantity,date,value\n"
    row = "Bramwick,driver tire,driver 1 {},thickness {},2001-03-01,{}\n"
    milesleft("add", sheet(head + row.format("left", "(mm)", 73.5) + row.format("right", "[in]", 2.9)))
    assert store.read("readings")["value"].round(2).tolist() == [73.5, 73.66]
    both = head.replace("value", "value,unit") + row.format("left", "(mm)", "2.9,in").replace("2001", "2002")
    assert milesleft("add", sheet(both, "both.csv"), "--json")["held_back"] == 1


def test_what_was_measured_may_stand_under_measurement_beside_the_value(
    engines, look, milesleft, sheet, store
):
    head, row = "Engine,Part,Position,{},Date,{}\n", "Bramwick,driver tire,driver 1 left,thickness,{},2.9\n"
    for year, words in enumerate([("Measurement", "Value"), ("What", "Size")], start=2001):
        asked, rows = look(path := sheet(head.format(*words) + row.format(f"{year}-03-01"), f"{year}.csv"))
        assert (asked, rows[2]["verdict"]) == ({}, "accepted")
        assert milesleft("add", path, "--json")["accepted"] == 1


@pytest.mark.parametrize("heading", ["Measurement", "Size", "Measure"])
def test_figures_beside_the_value_are_no_quantity(engines, look, milesleft, sheet, store, heading):
    head, row = (
        f"Engine,Part,Position,Date,Reading,{heading}\n",
        "Bramwick,driver tire,driver 1 {},{},2.9,{}\n",
    )
    day = "2001-03-01"
    figures = head + row.format("left", day, 2.95) + row.format("right", day, '"2,95"')
    told = milesleft("add", sheet(figures, "figures.csv"), "--json")
    assert (told["accepted"], told["files"][0]["not_used"]) == (2, heading)
    words = head + row.format("left", "2002-03-01", "2.95 in") + row.format("right", "2002-03-01", "width")
    assert milesleft("add", sheet(words, "words.csv"), "--json")["held_back"] == 2


def test_a_sheet_that_does_not_say_its_day_is_told_so(engines, milesleft, sheet):
    path = sheet("Bramwick: thickness (in),,\n,,\nWheel,Left,Right\ndriver 1,2.9,2.88\n", "undated.csv")
    assert "does not say its date" in milesleft("add", path, ends=1)


@pytest.mark.parametrize(("other", "own"), [("Next due", "Measured"), ("Nächste Prüfung", "Gemessen")])
def test_the_day_when_it_is_due_next_is_never_that_of_the_reading(
    engines, look, milesleft, sheet, store, other, own
):
    head, row = "Point,{},{},Reading (in),Previous (in)\n", "B-1L,{},{},2.9,2.91\n"
    path = sheet(head.format(own, other) + row.format("2001-03-01", "2003-03-01"), "due.csv")
    _, done = answered(look, milesleft, path, "as_proposed")
    assert (done["accepted"], stored(store)) == (1, {("B-1L", "2001-03-01", "2.9")})
    path = sheet(
        head.format(other, "Gauge no").replace("Reading", "Found") + row.format("2003-03-01", 7), "b.csv"
    )
    assert "does not say its date" in milesleft("add", path, ends=1)
