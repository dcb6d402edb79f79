"""A sheet copied out some days later, or a row that corrects one of days before, is no second history."""

import numpy as np
import pandas as pd
import pytest

from ingest.look.later_copies import _written_alike

HEAD = "point,date,value,observer,note\n"


def _rows(day, values, observer="RV", note="", point="THICK"):
    return "".join(f"{point},2001-{month:02}-{day:02},{v},{observer},{note}\n" for month, v in values)


FIRST = [(2, 3.412), (5, 3.386), (8, 3.361), (11, 3.342)]
COPY = [(2, 3.412), (5, 3.386), (8, 3.365), (11, 3.342)]


@pytest.mark.parametrize(("days", "asked"), [(3, True), (20, True), (0, False)])
def test_a_copy_of_some_days_later_is_asked_about(look, sheet, known, milesleft, store, days, asked):
    """Not the sheet itself: that is known already."""
    milesleft("add", sheet(HEAD + _rows(4, FIRST)))
    found, _ = look(sheet(HEAD + _rows(4 + days, COPY if days else FIRST), "copy.csv"))
    assert ("correction" in found) == asked
    if asked:
        assert found["correction"]["about"]["rows"] == [2, 3, 4, 5]
        milesleft("add", sheet(HEAD + _rows(4 + days, COPY), "copy.csv"), "--answer", _answer(found))
        assert store.read("readings")["value_text"].tolist() == [str(value) for _, value in COPY]


def _answer(found):
    return f"{found['correction']['id']}=correction"


@pytest.mark.parametrize(
    "again",
    [
        _rows(24, [(month, value - 0.004) for month, value in FIRST]),  # measured again, by the figures
        _rows(24, COPY, observer="JO"),  # by another hand
        _rows(24, COPY[:2]),  # two figures agree by chance
    ],
)
def test_readings_of_weeks_later_are_readings(look, sheet, known, milesleft, again):
    milesleft("add", sheet(HEAD + _rows(4, FIRST)))
    assert look(sheet(HEAD + again, "again.csv"))[0] == {}


def test_coarse_figures_agree_by_themselves(look, sheet, known, milesleft):
    """Sixteenths of an inch, by a gauge that scatters less than half of that, agree whenever the part is the
    same."""
    hollow = [(2, "1/16"), (5, "1/16"), (8, "2/16"), (11, "2/16")]
    milesleft("add", sheet(HEAD + _rows(4, hollow, point="HOLLOW")))
    assert look(sheet(HEAD + _rows(14, hollow, point="HOLLOW"), "again.csv"))[0] == {}


def test_so_many_coarse_figures_do_not_agree_by_themselves(look, sheet, known, milesleft):
    """All of twelve, where two measurements would be written differently in some."""
    hollow = [(month, f"{1 + month // 4}/16") for month in range(1, 13)]
    milesleft("add", sheet(HEAD + _rows(4, hollow, point="HOLLOW")))
    found, _ = look(sheet(HEAD + _rows(14, hollow, point="HOLLOW"), "again.csv"))
    assert len(found["correction"]["about"]["rows"]) == 12


@pytest.mark.parametrize(("further", "asked"), [(0, True), (35, False)])
def test_inspections_at_the_odometers_of_before_are_copied(look, sheet, known, milesleft, further, asked):
    """Coarse figures say nothing; that the engine stood still each time before it was measured again does."""

    def rows(day, more):
        marks = [(2, "1/16", 10200), (5, "1/16", 10700), (8, "2/16", 11200), (11, "2/16", 11700)]
        return "".join(f"HOLLOW,2001-{m:02}-{day:02},{v},RV,{at + more}\n" for m, v, at in marks)

    head = "point,date,value,observer,odometer\n"
    milesleft("add", sheet(head + rows(4, 0)))
    assert ("correction" in look(sheet(head + rows(14, further), "again.csv"))[0]) == asked


@pytest.mark.parametrize("sd", [0.05, 0.3, 1.0, 4.0])
def test_how_often_two_measurements_are_written_alike(sd):
    """Against two rounded draws each; 400,000 of them tell the chance to 0.0008 (standard error)."""
    rng = np.random.default_rng(3)
    level = rng.uniform(0.0, 1.0, 400_000)
    first, second = (np.round(level + sd * rng.standard_normal(level.size)) for _ in range(2))
    said = _written_alike(pd.Series([1.0]), pd.Series([sd])).iloc[0]
    assert said == pytest.approx((first == second).mean(), abs=0.004)


def test_without_steps_none_are_alike_by_chance_and_what_is_not_known_tells_nothing():
    said = _written_alike(pd.Series([0.0, np.nan, 1.0]), pd.Series([1.0, 1.0, np.nan]))
    assert said.tolist() == [0.0, 1.0, 1.0]


@pytest.mark.parametrize("day", [5, 9])
def test_a_note_that_corrects_is_asked_about_days_later(look, sheet, known, milesleft, store, day):
    path = sheet(HEAD + _rows(4, [(2, 3.412)]) + _rows(day, [(2, 3.392)], note="correction of 4 Feb"))
    found, _ = look(path)
    assert found["correction"]["about"]["rows"] == [3]
    milesleft("add", path, "--answer", _answer(found))
    assert store.read("readings")["value_text"].tolist() == ["3.392"]
