"""Located defects as counts, and what of an opening's readings is as found and as left."""

import pandas as pd
import pytest

from ingest.catalogue import nothing_found
from models.checks.examined import as_findings, counted, examined_in, is_sound
from models.checks.opened import as_found, as_left, told_in

D = pd.Timestamp
OPENINGS = pd.DataFrame({"opening": ["O1"], "vehicle": ["A"], "since": [D("2020-01-10")], "until": [pd.NaT]})


def defects(*rows):
    """opening, component, position, defect, verdict."""
    frame = pd.DataFrame(rows, columns=["opening", "component", "position", "defect", "verdict"])
    return frame.assign(vehicle="A", part_no="", place="", note="", date=D("2020-01-12"))


def findings(*rows):
    frame = pd.DataFrame(rows, columns=["date", "component", "examined", "defective", "note"])
    frame["date"] = pd.to_datetime(frame["date"])
    return frame.assign(vehicle="A")


TWO_OF_THREE = defects(
    ("O1", "Axle", "1", "crack", "renew"),
    ("O1", "axle", "1", "scored", "repair"),
    ("O1", "axle", "2", "crack", "watch"),
    ("O1", "axle", "3", "Nothing found.", ""),
    ("", "axle", "4", "crack", "renew"),
)


def test_two_findings_on_one_part_are_one_defective_part():
    counts = examined_in(TWO_OF_THREE, nothing_found())
    assert counts[["component", "examined", "defective"]].to_numpy().tolist() == [["axle", 3, 2]]


def test_a_part_that_both_tables_speak_of_is_counted_once():
    told = findings(
        ("2020-01-15", "axle", 4, 1, "eye"), ("2019-01-15", "axle", 4, 0, ""), ("2020-02-01", "rod", 2, 0, "")
    )
    counts = counted(told, TWO_OF_THREE, OPENINGS, nothing_found())
    assert counts[["component", "examined", "defective"]].to_numpy().tolist() == [
        ["axle", 4, 0],
        ["axle", 4, 2],
        ["rod", 2, 0],
    ]
    closed = OPENINGS.assign(until=D("2020-01-13"))
    assert counted(told, TWO_OF_THREE, closed, nothing_found())["examined"].sum() == 4 + 4 + 3 + 2


def test_without_located_defects_counts_stay_as_they_are():
    told = findings(("2020-01-15", "axle", 4, 1, "eye"))
    assert counted(told, defects(), OPENINGS, nothing_found()) is told


def test_what_runs_on_or_is_watched_condemns_nothing():
    assert as_findings(TWO_OF_THREE, nothing_found())["note"].tolist() == ["crack 1", "scored 1", "crack 4"]


@pytest.mark.parametrize(
    ("words", "sound"), [("none", True), ("OK", True), ("no play", False), ("crack", False)]
)
def test_words_for_nothing_found(words, sound):
    assert is_sound(pd.DataFrame({"defect": [words]}), nothing_found())[0] == sound


def read(*rows):
    frame = pd.DataFrame(rows, columns=["point", "date", "value", "opening", "found_or_left"])
    origin = {"odometer": 100.0, "source_file": "r.csv", "source_sheet": "", "source_row": 2}
    return frame.assign(date=pd.to_datetime(frame["date"]), **origin)


def done(*rows):
    frame = pd.DataFrame(rows, columns=["point", "date", "value_before", "value_after"])
    origin = {"opening": "", "source_file": "w.csv", "source_sheet": "", "source_row": 2}
    return frame.assign(date=pd.to_datetime(frame["date"]), **origin)


POINTS = pd.DataFrame({"point": ["P", "Q", "X"], "vehicle": ["A", "A", "B"]})


def test_readings_are_found_before_the_work_and_left_after_it():
    readings = read(
        ("P", "2020-01-11", 3.0, "", ""),
        ("P", "2020-01-20", 2.0, "", ""),  # the very day of the work: nobody knows
        ("P", "2020-01-21", 0.1, "", ""),
        ("Q", "2020-01-11", 1.0, "", ""),
        ("Q", "2020-01-30", 1.1, "", ""),
        ("P", "2019-12-01", 9.0, "", ""),  # before the opening
        ("X", "2020-01-11", 9.0, "", ""),  # another engine
    )
    work = done(("P", "2020-01-20", 3.1, 0.0))
    told = told_in(readings, work, POINTS, OPENINGS.iloc[0].to_dict())
    found, left = as_found(told).set_index("point"), as_left(told).set_index("point")
    assert found["value"].to_dict() == {"P": 3.0, "Q": 1.0}
    assert left["value"].to_dict() == {"P": 0.1, "Q": 1.1}
    assert left["state"].to_dict() == {"P": "left", "Q": "found"}


def test_what_is_written_goes_before_the_day():
    readings = read(("P", "2020-01-20", 2.0, "O1", "found"), ("P", "2020-01-20", 0.2, "", "left"))
    work = done(("P", "2020-01-20", None, 0.0))
    told = told_in(readings, work, POINTS, OPENINGS.iloc[0].to_dict())
    assert as_found(told)["value"].tolist() == [2.0]
    assert as_left(told)["value"].tolist() == [0.2]
