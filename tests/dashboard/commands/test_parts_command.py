"""``milesleft parts`` on the demo railway: a rack of five parts, what is fitted, where it was."""

import json

import pandas as pd
import pytest
from click.testing import CliRunner

from dashboard.cli import main
from dashboard.shop.parts_told import fitted_at, fitting_rows, parts_on_record, swap_rows
from dashboard.words.parts_text import APART, parts_text
from ingest.errors import WrongUsage
from ingest.store import Store
from models.lives.parts_run import FITTED, RACK


def told(*words):
    result = CliRunner().invoke(main, ["parts", *map(str, words)], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


@pytest.fixture(scope="module")
def on_record(demo_store):
    return parts_on_record(Store(demo_store))


def test_the_rack_is_told_with_the_miles_left_and_the_place(demo_store):
    text = told("--db", demo_store)
    rack = text.split("Fitted")[0]
    for part in ("DP-2", "LB-1", "TW-5", "VX-2", "WP-4"):
        assert part in rack
    assert "nothing is on record of its wear: measure it" in rack
    assert "came off worn and was not measured since: measure it" in rack  # LB-1
    assert "valve crosshead clearance" in rack
    assert "as a new part" in rack
    assert "A plan weighs every spare" in text
    assert "    Hobnail tender 2, 2005-04-01 to 2021-04-12, " in text
    assert "taken off because it lay open" in text
    assert max(map(len, text.splitlines())) <= 140


def test_json_holds_the_same_rows(demo_store, on_record):
    made = json.loads(told("--db", demo_store, "--json"))
    assert [row["part_no"] for row in made["parts"]] == on_record.now["part_no"].tolist()
    assert len(made["stints"]) == len(on_record.stints)
    left = {row["part_no"]: row for row in made["left"]}
    assert left["VX-2"]["miles_p05"] < left["VX-2"]["miles_p50"]
    assert left["TW-5"]["miles_p05"] is None


def test_miles_add_up_over_places_and_none_are_run_on_the_rack(demo_store, on_record):
    log = Store(demo_store).read("mileage")
    whole = log.groupby("vehicle")["odometer"].agg(lambda miles: miles.iloc[-1] - miles.iloc[0])
    now = on_record.now.set_index("part_no")
    for wheelset in ("TW-1", "TW-2", "TW-3", "TW-4"):
        assert now.loc[wheelset, "miles_on_record"] == pytest.approx(whole["Hobnail"])
    assert now.loc["TW-2", "position"] == "tender 3"
    assert (on_record.stints.loc[on_record.stints["vehicle"] == "", "miles"] == 0).all()
    assert now.loc["LB-2", ["where", "vehicle", "places"]].tolist() == [FITTED, "Quillon", 2]
    assert (now["where"] == RACK).sum() == 5


def test_a_wear_point_knows_its_part_and_where_it_was(on_record):
    rows = fitted_at(on_record, "Hobnail", "tender wheel", "tender 3 left", "tread hollow")
    assert rows["part_no"].unique().tolist() == ["TW-2"]
    assert rows["position"].tolist() == ["tender 3", "tender 2"]
    assert fitted_at(on_record, "Hobnail", "tender axle", "tender 3", "lateral motion").empty
    assert fitted_at(on_record, "Quillon", "tender wheel", "tender 3 left", "tread hollow").empty


def test_rows_that_tell_a_swap_name_the_parts_or_give_them_numbers(demo_store):
    day = pd.Timestamp("2026-11-03")
    named = swap_rows(Store(demo_store), "wheelset", (("Hobnail", "tender 1"), ("Hobnail", "tender 3")), day)
    assert list(named) == ["fittings"]
    assert named["fittings"][["part_no", "position"]].to_numpy().tolist() == [
        ["TW-1", "tender 3"], ["TW-2", "tender 1"],
    ]  # fmt: skip
    quillon = [("Quillon", place) for place in ("driver 1 left", "driver 4")]
    fresh = swap_rows(Store(demo_store), "wheelset", tuple(quillon), day)
    assert fresh["parts"]["part_no"].tolist() == ["wheelset Quillon driver 1", "wheelset Quillon driver 4"]
    assert fresh["fittings"]["since"].tolist() == ["2005-04-01", "2026-11-03"] * 2
    for places in (("driver 1", "driver 1 left"), ("driver 1", "driver 9")):
        with pytest.raises(WrongUsage):
            swap_rows(Store(demo_store), "wheelset", tuple(("Quillon", place) for place in places), day)


def test_a_swap_between_two_engines_names_both(demo_store):
    day = pd.Timestamp("2026-11-03")
    rows = swap_rows(Store(demo_store), "wheelset", (("Hobnail", "driver 1"), ("Quillon", "driver 2")), day)
    moved = rows["fittings"][rows["fittings"]["since"] == "2026-11-03"]
    assert moved[["part_no", "vehicle", "position"]].to_numpy().tolist() == [
        ["wheelset Hobnail driver 1", "Quillon", "driver 2"],
        ["wheelset Quillon driver 2", "Hobnail", "driver 1"],
    ]


def test_rows_that_tell_the_fitting_of_a_spare_say_where_the_old_one_went(demo_store):
    day = pd.Timestamp("2026-11-03")
    rows = fitting_rows(Store(demo_store), "TW-5", "Hobnail", "tender 4", day, why="worn", kept=True)[
        "fittings"
    ]
    assert rows[["part_no", "position", "since", "until", "why"]].to_numpy().tolist() == [
        ["TW-5", "tender 4", "2026-11-03", "", ""],
        ["TW-4", "tender 4", "2005-04-01", "2026-11-03", "worn"],
        ["TW-4", "", "2026-11-03", "", ""],
    ]
    with pytest.raises(WrongUsage, match="no part 'TW-9'"):
        fitting_rows(Store(demo_store), "TW-9", "Hobnail", "tender 4", day, why="", kept=False)


def test_places_where_the_wheels_would_not_agree_are_told(on_record):
    """Told under the part, and nothing of it where all agree."""
    apart = on_record.left["part_no"].map({"DP-2": "Hobnail driver 1, Hobnail driver 2"}).fillna("")
    text = parts_text(on_record.now, on_record.stints, on_record.left.assign(apart=apart))
    (line,) = [line.strip() for line in text.splitlines() if APART in line]
    assert line == f"{APART}: Hobnail driver 1, Hobnail driver 2"
    assert APART not in parts_text(on_record.now, on_record.stints, on_record.left)
