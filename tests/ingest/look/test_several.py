"""Several readings of one place on one sheet: which of them holds is asked, none is taken for being first."""

import pytest

ROWS = "point,date,value,note\n"
LAYOUT = """
[[table]]
table = "readings"
[table.columns]
"Point" = "point"
"Date" = "date"
[table.spread]
columns = ["C:C", "D:D", "E:E"]
headings = [""]
"""


@pytest.fixture
def layout(folder):
    path = folder / "several.toml"
    path.write_text(LAYOUT)
    return path


@pytest.fixture
def three(sheet):
    return sheet("Point,Date,Reading 1,Reading 2,Reading 3\nTHICK,2001-05-03,3.30,3.28,3.29\n")


def stored(store):
    rows = store.read("readings")
    return sorted(zip(rows["value_text"], rows["note"], strict=True))


def test_columns_of_one_place_are_asked_about_once_for_the_kind_of_sheet(three, layout, look, known):
    asked, rows = look(three, "--layout", layout)
    assert list(asked) == ["several"]
    assert asked["several"]["asked_once_for_this_kind_of_sheet"]
    assert list(asked["several"]["answers"]) == ["worst", "last", "first", "all"]
    assert {row["verdict"] for row in rows.values()} == {"held back"}


@pytest.mark.parametrize(
    ("answer", "held"),
    [
        ("worst", [("3.28", "also read: 3.30 in, 3.29 in")]),
        ("last", [("3.29", "also read: 3.30 in, 3.28 in")]),
        ("first", [("3.30", "also read: 3.28 in, 3.29 in")]),
        ("all", [("3.28", ""), ("3.29", ""), ("3.30", "")]),
    ],
)
def test_what_is_answered_is_stored_and_the_others_are_told(
    three, layout, look, milesleft, store, known, answer, held
):
    asked, _ = look(three, "--layout", layout)
    give = ("--answer", f"{asked['several']['id']}={answer}")
    milesleft("add", three, "--layout", layout, *give)
    assert stored(store) == held
    again = milesleft("add", three, "--layout", layout, "--json")
    assert (again["accepted"], again["questions"]) == (0, [])
    assert stored(store) == held


def test_minimum_and_maximum_are_no_sums_of_other_rows(sheet, look, known, folder):
    path = sheet("Point,Date,Min,Max\nTHICK,2001-05-03,3.28,3.31\n")
    (folder / "l.toml").write_text(LAYOUT.replace('"E:E"', "").replace('[""]', '["quantity"]'))
    asked, _ = look(path, "--layout", folder / "l.toml")
    assert list(asked) == ["several"]


def test_a_row_that_contradicts_another_makes_both_wait(sheet, look, known, milesleft, store):
    path = sheet(f"{ROWS}THICK,2001-05-03,3.3,\nHOLLOW,2001-05-03,1/16,\nTHICK,2001-05-03,3.1,\n")
    asked, rows = look(path)
    assert asked["several"]["about"]["rows"] == [2, 4]
    assert [rows[row]["verdict"] for row in (2, 3, 4)] == ["held back", "accepted", "held back"]
    milesleft("add", path, "--answer", f"{asked['several']['id']}=last")
    assert stored(store) == [("1/16", ""), ("3.1", "also read: 3.3 in")]


def test_what_repeats_a_row_that_waits_waits_with_it(sheet, look, known, milesleft, store):
    rows = "".join(f"THICK,2001-05-03,{value},\n" for value in ("3.3", "3.1", "3.3"))
    path = sheet(ROWS + rows)
    asked, found = look(path)
    assert "accepted" not in {row["verdict"] for row in found.values()}
    milesleft("add", path, "--answer", f"{asked['several']['id']}=worst")
    assert stored(store) == [("3.1", "also read: 3.3 in")]


def test_two_readings_within_what_gauges_scatter_stand_unless_a_note_corrects_one(sheet, look, known):
    rows = "HOLLOW,2001-02-01,0.100,\nHOLLOW,2001-02-01,0.130,{}\n"
    assert look(sheet(ROWS + rows.format("")))[0] == {}
    assert list(look(sheet(ROWS + rows.format("corrected"), "other.csv"))[0]) == ["several"]


def test_two_gauges_and_two_hands_are_no_several(sheet, look, known):
    rows = "point,date,value,observer\nTHICK,2001-05-03,3.3,A\nTHICK,2001-05-03,3.1,B\n"
    assert "several" not in look(sheet(rows))[0]
