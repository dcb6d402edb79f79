"""What is due to be read and why: what a batch questioned, what the plan asks for, what is old."""

import json
from datetime import date, timedelta

import pytest
from click.testing import CliRunner

from dashboard.cli import main
from dashboard.pit.confirmed import take_in
from dashboard.pit.due import read_after
from dashboard.pit.entries import entries_of
from dashboard.pit.rounds import round_of
from models.measure.first import COLUMNS

TODAY = date(2023, 11, 1)
HOLLOW = "N-D1L-HOLLOW"


def reasons(store, vehicle, day):
    return {each["point"]: each["due"] for each in round_of(store, vehicle, day)["points"] if each["due"]}


def sent(store, value, day, point=HOLLOW):
    said = {
        "id": f"due-{value}-{day}".replace(".", "-"),
        "kind": "reading",
        "point": point,
        "date": str(day),
        "value": value,
    }
    body = json.dumps({"entries": [said | {"unit": "in", "odometer": "9000"}]})
    return take_in(store, entries_of(body.encode(), 9), "R. T.", day)[0]


def test_a_reading_that_a_batch_found_far_off_is_to_be_read_again_until_another_settles_it(pit_store):
    assert "N-XH-L" not in reasons(pit_store, "Nettle", TODAY)
    assert sent(pit_store, "0.2", TODAY, "N-XH-L")["again"]
    assert reasons(pit_store, "Nettle", TODAY)["N-XH-L"] == "to be read again"
    assert sent(pit_store, "0.201", TODAY, "N-XH-L")["verdict"] == "accepted"
    assert "N-XH-L" not in reasons(pit_store, "Nettle", TODAY)


def test_a_reading_that_is_held_back_asks_for_another(pit_store):
    assert sent(pit_store, "17", TODAY)["verdict"] == "held back"
    assert reasons(pit_store, "Nettle", TODAY)[HOLLOW] == "a reading of it is held back"


def test_one_that_was_held_back_before_the_last_reading_asks_for_none(pit_store):
    assert sent(pit_store, "17", date(2023, 9, 1))["verdict"] == "held back"
    assert pit_store.read("readings").groupby("point")["date"].max()[HOLLOW].date() > date(2023, 9, 1)
    assert HOLLOW not in reasons(pit_store, "Nettle", TODAY)


def test_what_was_read_long_ago_says_so_beside_what_else_asks_for_it(pit_store):
    later = TODAY + timedelta(read_after() + 10)
    assert sent(pit_store, "17", TODAY)["verdict"] == "held back"
    words = "a reading of it is held back; last read 14 months ago"
    assert reasons(pit_store, "Nettle", later)[HOLLOW] == words
    assert "last read 3 years ago" in reasons(pit_store, "Nettle", date(2026, 11, 1))[HOLLOW]


@pytest.fixture
def planned(pit_store):
    """The small railway with a plan, approved or not, that ranks what to measure first."""
    points = pit_store.read("wear_points")
    last = pit_store.read("readings").groupby("point")["date"].max()
    rows = points[points["point"].isin(last.index)].reset_index(drop=True)
    told = rows[["vehicle", "point", "component", "position", "quantity", "access"]].assign(
        rank=range(1, len(rows) + 1), last_date=rows["point"].map(last), minutes=5.0, saves=10.0,
        saves_per_minute=2.0, carries=100.0, stop=range(1, len(rows) + 1),
    )  # fmt: skip
    pit_store.save_run("plan", {"name": "winter", "vehicles": ["Nettle"]}, {"measure_first": told[COLUMNS]})
    return pit_store


def asked_for(store, day=TODAY):
    return {point for point, why in reasons(store, "Nettle", day).items() if "the plan asks for it" in why}


def test_the_round_of_the_plan_in_force_is_due_as_the_command_lists_it(planned):
    asked = ["measure-first", "--vehicle", "Nettle", "--db", str(planned.path), "--json"]
    listed = json.loads(CliRunner().invoke(main, asked).output)
    wanted = {row["point"] for row in listed if row["in_round"]}
    assert 0 < len(wanted) < len(listed)
    assert asked_for(planned) == wanted
    run = str(planned.runs("plan")["run_id"].iloc[0])
    planned.decide_on("plan", "winter", "withdrawn", run)
    assert asked_for(planned) == set()


def test_what_was_read_since_the_plan_is_asked_for_no_longer(planned):
    before = asked_for(planned)
    assert HOLLOW in before
    assert sent(planned, "0.18", TODAY)["verdict"] == "accepted"
    assert asked_for(planned) == before - {HOLLOW}
