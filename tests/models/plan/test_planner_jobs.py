"""Which job renews which wear points, and what it takes."""

import numpy as np
import pandas as pd
import pytest

from ingest.catalogue import classify, role_of
from models.plan.jobs import jobs_of, kind_of_action, openings_of


def points(*rows):
    names = ["point", "component", "position", "quantity", "access", "matched_set"]
    return classify(pd.DataFrame(rows, columns=names).assign(vehicle="A"))


def costs(*rows):
    frame = pd.DataFrame(rows, columns=["component", "action", "cost", "labor_hours", "days_out"])
    return frame.assign(currency="USD", price_date=pd.Timestamp("2026-01-01"))


TIRES = points(
    ("D1L-HOLLOW", "driver tire", "driver 1 left", "tread hollow", "wheels_out", "drivers"),
    ("D1L-THICK", "driver tire", "driver 1 left", "thickness", "wheels_out", ""),
    ("D1R-HOLLOW", "driver tire", "driver 1 right", "tread hollow", "wheels_out", "drivers"),
    ("D1R-THICK", "driver tire", "driver 1 right", "thickness", "wheels_out", ""),
)
PRICES = costs(("driver tire", "cut", 900, 14, 3), ("driver tire", "renewed", 4800, 26, 6))


def test_turning_renews_the_profile_of_the_set_and_a_new_tire_renews_all():
    jobs = jobs_of(TIRES, PRICES).set_index("action")
    assert jobs.loc["cut", "points"] == ["D1L-HOLLOW", "D1R-HOLLOW"]
    assert sorted(jobs.loc["renewed", "points"]) == sorted(TIRES["point"])
    assert jobs.loc["cut", ["parts", "cost", "labor_hours", "days_out"]].tolist() == [2, 1800, 28, 6]
    assert jobs.loc["renewed", "position"] == "driver 1 left, driver 1 right"


def test_points_without_a_set_are_jobs_of_their_own():
    pins = points(
        ("P1", "knuckle pin", "driver 2 left", "clearance", "rods_down", ""),
        ("P2", "knuckle pin", "driver 2 left", "diameter", "rods_down", ""),
        ("P3", "knuckle pin", "driver 3 left", "clearance", "rods_down", ""),
    )
    jobs = jobs_of(pins, costs(("knuckle pin", "renewed", 380, 7, 1)))
    assert jobs["points"].tolist() == [["P1", "P2"], ["P3"]]
    assert jobs["cost"].tolist() == [380, 380]


def test_a_component_is_priced_by_the_longest_name_within_it():
    frame = points(("X", "main rod front end", "left", "clearance", "", ""))
    priced = costs(
        ("rod", "renewed", 1, 1, 1), ("rod front end", "renewed", 2, 1, 1), ("tire", "renewed", 3, 1, 1)
    )
    assert jobs_of(frame, priced)["cost"].tolist() == [2]
    assert jobs_of(frame, priced)["access"].tolist() == ["in_place"]


def test_without_a_price_there_is_still_a_job_and_it_says_so():
    jobs = jobs_of(TIRES, costs(("driver tire", "cut", 900, 14, 3)))
    renewal = jobs[jobs["action"] == "renewed"].iloc[0]
    assert renewal["quote"] == -1
    assert np.isnan(renewal["cost"])
    assert sorted(renewal["points"]) == sorted(TIRES["point"])
    nothing = jobs_of(TIRES, None)
    assert set().union(*nothing["points"]) == set(TIRES["point"])


@pytest.mark.parametrize(
    ("action", "kind"),
    [
        ("turned", "machined"),
        ("cut", "machined"),
        ("trued up", "machined"),
        ("renewed", "renewed"),
        ("new part", "renewed"),
        ("re-tire", "renewed"),
        ("rebushed", "renewed"),
        ("crack repaired", "other"),
    ],
)
def test_words_of_actions(action, kind):
    assert kind_of_action(action) == kind


def test_what_machining_takes_from_is_the_part_itself():
    assert role_of("driver tire", "thickness") == "metal"
    assert role_of("trailing truck wheel", "Rim thickness") == "metal"
    assert role_of("driving journal", "Diameter") == "body"
    assert role_of("wedge", "thickness") == "body"
    assert role_of("driver tire", "flange thickness") == "profile"
    assert role_of("tire flange", "thickness") == "profile"
    assert role_of("knuckle pin", "clearance") == ""


def test_a_turning_of_a_solid_wheel_spends_its_rim():
    wheel = points(
        (
            "RL-RIM",
            "trailing truck wheel",
            "trailing truck 1 left",
            "rim thickness",
            "wheels_out",
            "trailing",
        ),
        (
            "RL-FL",
            "trailing truck wheel",
            "trailing truck 1 left",
            "flange thickness",
            "wheels_out",
            "trailing",
        ),
    )
    jobs = jobs_of(wheel, costs(("trailing truck wheel", "cut", 560, 8, 2))).set_index("action")
    assert jobs.loc["cut", "points"] == ["RL-FL"]
    assert sorted(jobs.loc["renewed", "points"]) == ["RL-FL", "RL-RIM"]


def test_a_turning_is_possible_without_a_price_list_and_as_often_as_the_thinnest_tire_allows():
    told = TIRES.assign(turnings_left=[2.0, 2.0, 1.0, 1.0], turnings_next=4.0)
    for prices in (None, costs(("driver tire", "renewed", 4800, 26, 6))):
        jobs = jobs_of(told, prices).set_index("action")
        assert jobs.loc["cut", "points"] == ["D1L-HOLLOW", "D1R-HOLLOW"]
        assert jobs.loc["cut", ["turnings_left", "turnings_next"]].tolist() == [1, 4]
        assert np.isnan(jobs.loc["renewed", "turnings_left"])


def test_openings_are_rows_named_for_a_depth_and_never_cheaper_deeper():
    table = openings_of(costs(("rods down", "open", 1800, 64, 4), ("opening", "wheels_out", 900, 620, 45)))
    assert table["cost"].tolist() == [0, 1800, 1800]
    assert table["days_out"].tolist() == [0, 4, 45]
    assert table["priced"].tolist() == [False, True, True]
