"""A point with few readings is held against what the parts of its kind wear on the same vehicle."""

import numpy as np
import pytest
from fleets.fleet_tables import write_fleet
from fleets.simulate import FleetPlan, simulate_fleet

from ingest.store import Store
from ingest.verdicts.add import add_files, look_at_files

TIRES = ["T1", "T2", "T3", "T4"]
POINTS = (
    "point,vehicle,component,position,quantity,unit,new_value,shop_limit,condemning_limit,condemned_when,"
    "limit_source,gauge_sd,access,matched_set\n"
    + "".join(
        f"{name},411,driver tire,driver {place} left,thickness,mm,88.9,,44.45,at,test,0.25,wheels_out,\n"
        for place, name in enumerate(TIRES, start=1)
    )
)
VEHICLE = "vehicle,name,arrangement,class\n411,Fenwick,2-8-0,B\n"
LOG = "vehicle,date,odometer,unit\n" + "".join(
    f"411,{year}-01-01,{year - 1990}000,mi\n" for year in range(1999, 2003)
)
TWO_YEARS_LATER = {"T1": 67.0, "T2": 66.2, "T3": 65.9}
"""What tires of 69.4 mm measure after two years of ordinary wear."""


def readings(day, of_point):
    return "point,date,value,unit,observer\n" + "".join(
        f"{name},{day},{value},mm,R\n" for name, value in of_point.items()
    )


@pytest.fixture
def tires(known, store, sheet):
    """Four tires of one engine, read once."""
    add_files(store, [sheet(VEHICLE, "v.csv"), sheet(POINTS, "points.csv"), sheet(LOG, "log.csv")])
    add_files(store, [sheet(readings("1999-02-01", dict.fromkeys(TIRES, 69.4)), "first.csv")])
    assert len(store.read("readings")) == 4
    return store


def kinds_of(store, path):
    return [question.kind for question in look_at_files(store, [path]).questions]


def test_a_tire_that_lost_half_of_its_size_while_the_others_lost_little_is_asked_about(tires, sheet):
    path = sheet(readings("2001-02-01", {**TWO_YEARS_LATER, "T4": 38.1}), "later.csv")
    (question,) = look_at_files(tires, [path]).questions
    assert (question.kind, question.rows) == ("pace", (5,))
    assert question.text.startswith(
        "T4 on 2001-02-01: 38.1 mm is far more worn than on 1999-02-01, far more than any"
    )
    assert add_files(tires, [path]).count("accepted") == 3
    assert add_files(tires, [path], answers={question.id: "right"}).count("accepted") == 1


def test_a_slip_is_left_out(tires, sheet):
    path = sheet(readings("2001-02-01", {**TWO_YEARS_LATER, "T4": 38.1}), "later.csv")
    (question,) = look_at_files(tires, [path]).questions
    add_files(tires, [path], answers={question.id: "wrong"})
    assert 38.1 not in tires.read("readings")["value"].round(6).tolist()


def test_all_tires_that_wore_fast_are_taken(tires, sheet):
    hard = {"T1": 55.0, "T2": 52.0, "T3": 57.0, "T4": 49.0}
    assert kinds_of(tires, sheet(readings("2001-02-01", hard), "later.csv")) == []


def test_too_few_others_tell_nothing(tires, sheet):
    alone = {"T1": 67.0, "T2": 66.2, "T4": 38.1}
    assert kinds_of(tires, sheet(readings("2001-02-01", alone), "later.csv")) == []


def test_what_the_others_wore_may_come_later_and_lets_the_row_go(tires, sheet):
    """A hard winter: the others, read afterwards, say that it was no slip."""
    add_files(tires, [sheet(readings("2001-02-01", {**TWO_YEARS_LATER, "T4": 38.1}), "later.csv")])
    assert len(tires.read("readings")) == 7
    more = readings("2001-08-01", {"T1": 49.0, "T2": 47.0, "T3": 50.0})
    add_files(tires, [sheet(more, "august.csv")])
    assert len(tires.read("readings")) == 11


@pytest.mark.parametrize(
    "plan",
    [FleetPlan(n_families=20), FleetPlan(n_families=20, spread=(0.3, 0.6), shape="mixed", readings=(3, 4))],
    ids=["usual", "few readings, rates apart"],
)
def test_true_wear_of_simulated_parts_is_never_held_for_it(plan, tmp_path):
    """Year by year, as sheets come in: every reading is once the newest."""
    write_fleet(simulate_fleet(np.random.default_rng(18), plan), tmp_path)
    store = Store(tmp_path / "store.duckdb")
    tables = [tmp_path / f"{name}.csv" for name in ("vehicles", "wear_points", "mileage", "work")]
    add_files(store, tables)
    lines = (tmp_path / "readings.csv").read_text().splitlines()
    day = lines[0].split(",").index("date")
    years = sorted({line.split(",")[day][:4] for line in lines[1:]})
    for year in years:
        own = [line for line in lines[1:] if line.split(",")[day].startswith(year)]
        (tmp_path / f"{year}.csv").write_text("\n".join([lines[0], *own]))
        asked = look_at_files(store, [tmp_path / f"{year}.csv"]).questions
        assert [question.text for question in asked if question.kind == "pace"] == []
        add_files(store, [tmp_path / f"{year}.csv"])
    assert len(store.read("readings")) > 0.9 * (len(lines) - 1)
