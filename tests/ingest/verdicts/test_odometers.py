"""Readings after the last entry of the mileage log: taken while it stands, asked about after it ran."""

import pytest

from ingest.store import Store
from ingest.verdicts.add import add_files
from ingest.verdicts.corrections import held_rows
from ingest.verdicts.report import HELD_BACK

READINGS = "point,date,value,unit,odometer\n"
SEASONS = "vehicle,date,odometer,unit,distance,event\n" + "".join(
    f"410,{year}-{day},{600 * (year - 2000 + part)},mi,,\n"
    for year in range(2000, 2005)
    for day, part in (("04-01", 0), ("10-01", 1))
)


@pytest.fixture
def railway(add, basics):
    """One engine that runs 600 mi from April to September; the log ends on 2004-10-01 at 3,000 mi."""
    add(vehicles=basics["vehicles"], wear_points=basics["wear_points"], mileage=SEASONS)
    return add


def test_a_winter_inspection_has_the_odometer_of_the_last_entry_and_says_so(railway, store):
    made = railway(readings=READINGS + "HOLLOW,2004-12-10,0.1,,\nTHICK,2005-03-20,3,,\n")
    assert made.count(HELD_BACK) == 0
    read = store.read("readings")
    assert read["odometer"].tolist() == [3000, 3000]
    assert read["odometer_source"].tolist() == ["last entry", "last entry"]


def test_after_a_season_without_a_log_all_are_asked_about_under_one_reason(railway, store):
    rows = "HOLLOW,2005-08-10,0.1,,\nTHICK,2005-09-20,3,,\nHOLLOW,2005-02-01,0.1,,\n"
    made = railway(readings=READINGS + rows)
    assert made.held_back["row"].tolist() == [2, 3]
    reason = made.held_back["reasons"].unique()
    assert len(reason) == 1
    assert "earlier seasons it has run about 5" in reason[0]
    assert "Add one entry to the log, of 2005-09-20 or later" in reason[0]
    made = railway(mileage="vehicle,date,odometer\n410,2005-10-01,3600\n")
    assert made.no_longer_wait == 2
    assert held_rows(store).empty


def test_planned_running_decides_whether_it_will_have_run(railway):
    idle = "vehicle,month,miles_planned\n410,2005-11,100\n"
    made = railway(usage=idle, readings=READINGS + "HOLLOW,2005-08-10,0.1,,\n")
    assert made.count(HELD_BACK) == 0


def test_a_plan_that_runs_in_winter_is_asked_about(railway):
    busy = "vehicle,month,miles_planned\n" + "".join(
        f"410,{m},150\n" for m in ("2004-11", "2004-12", "2005-01")
    )
    made = railway(usage=busy, readings=READINGS + "HOLLOW,2005-02-10,0.1,,\n")
    assert "has run about 450 mi since" in made.held_back["reasons"].iloc[0]


@pytest.mark.parametrize(("odometer", "held"), [("3,010", False), ("5,100", True), ("2,500", True)])
def test_a_noted_odometer_after_the_log_must_be_one_that_can_have_been_run(railway, odometer, held):
    made = railway(readings=READINGS + f'HOLLOW,2005-03-10,0.1,,"{odometer}"\n')
    assert (made.count(HELD_BACK) == 1) is held


def test_what_does_not_fit_is_said_in_what_the_instrument_shows(tmp_path, basics):
    """After a change of the instrument, in kilometres: the running total of the vehicle is asked about."""
    log = "vehicle,date,odometer,unit,distance,event\n410,2001-01-01,80000,km,,\n410,2001-07-01,81000,km,,\n"
    log += "410,2001-08-01,0,km,10,replaced\n410,2001-10-01,500,km,,\n"
    files = {**basics, "mileage": log, "readings": READINGS + "HOLLOW,2001-10-20,0.1,,81510\n"}
    for name, text in files.items():
        (tmp_path / f"{name}.csv").write_text(text)
    store = Store(tmp_path / "store.duckdb")
    add_files(store, [tmp_path / f"{name}.csv" for name in files])
    held = held_rows(store).iloc[0]
    assert held["can_accept"]
    assert "it stood at 500 km before and nothing known after" in held["why"]
