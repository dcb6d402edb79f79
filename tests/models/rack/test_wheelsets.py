"""A spare that carries several wear points is fitted with all of them, where that is cheaper, and once."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from fleets.planned_engines import COSTS, railway

from ingest.catalogue import classify
from models.plan.engine import Chosen, choose, programme_of
from models.plan.jobs import Fitted
from models.plan.joint import season_chances
from models.plan.planner import make_plan
from models.plan.rules import Rules
from models.rack.agree import WheelChecks, agrees
from models.rack.fits import COLUMNS
from models.rack.programme import Spare, lives_with, programme_with, season_with, spare_at
from models.rack.search import rack_search
from models.rack.trial import turned_before

EACH = Rules(risk=0.25)
TOGETHER = Rules(risk=0.5, stop_risk=0.1)
CHEAP = COSTS.assign(cost=COSTS["cost"].where(COSTS["component"] != "wheels_out", 3000.0))
"""Prices at which the wheels come out more than once."""
TIRES = ("A2", "A5")


def left_in(inputs, points, share):
    known = inputs.distribution.set_index("point")["new_life"]
    return {point: share * known[point] for point in points}


def wheelset(inputs, points, share, part="WS-1", place="driver 1"):
    """Rows of a wheelset that fits where some wear points are, a share of a new life left in it."""
    left = left_in(inputs, points, share)
    about = (part, "driving wheelset", "wheels_out", points[0][0], place)
    least = np.min(list(left.values()), axis=0)
    rows = [(*about, point, left[point], share, np.nan, least[2], least[16], True) for point in points]
    return pd.DataFrame(rows, columns=COLUMNS)


def chosen_for(programme, rules):
    return Chosen(programme, *choose(programme, None, rules, 1.0, 1e-9, None))


def planned(inputs, rack, rules):
    return make_plan(inputs, rules, gap=1e-9, rack=rack_search(rack, inputs, rules))


def objective(plan, vehicle="A"):
    totals = plan.totals[(plan.totals["what"] == "objective") & (plan.totals["vehicle"] == vehicle)]
    return float(totals["amount"].sum())


def fitted_in(inputs, window, share, points=TIRES):
    about = ("WS-1", "driving wheelset", "driver 1", points, "wheels_out")
    return Fitted(*about, window, left_in(inputs, points, share), 0.0, 0.0)


@pytest.mark.parametrize(("seed", "share"), [(2, 0.5), (3, 0.8), (5, 0.3), (8, 0.5), (9, 0.1)])
def test_a_small_case_is_as_good_as_the_best_of_all_windows(seed, share):
    inputs = railway(6, 6, draws=200, seed=seed, costs=CHEAP)
    one = chosen_for(programme_of(inputs, "A", EACH), EACH)
    costs = [
        chosen_for(
            programme_with(one, [fitted_in(inputs, window, share)], inputs, EACH), EACH
        ).solution.objective
        for window in range(len(inputs.windows))
    ]
    plan = planned(inputs, wheelset(inputs, TIRES, share), EACH)
    assert objective(plan) == pytest.approx(min(one.solution.objective, *costs), rel=1e-6)
    assert len(plan.fitted) == int(min(costs) < one.solution.objective - 1e-6)


@pytest.mark.parametrize("rules", [EACH, TOGETHER])
@pytest.mark.parametrize("seed", [1, 4, 7])
def test_it_is_never_worse_than_the_plan_without(seed, rules):
    inputs = railway(6, 5, draws=200, seed=seed, costs=CHEAP)
    without = make_plan(inputs, rules, gap=1e-9)
    gained = 0
    for share in (0.9, 0.4, 0.05):
        plan = planned(inputs, wheelset(inputs, TIRES, share), rules)
        assert objective(plan) <= objective(without)
        gained += objective(plan) < objective(without) - 1.0
        if rules.stop_risk is not None:
            ahead = plan.engine_risk[plan.engine_risk["season"] > 0]
            assert ahead["with_plan"].mean() <= rules.stop_risk
    assert gained >= 1


def test_a_window_that_stays_shut_without_it_is_opened_for_it():
    inputs = railway(6, 6, draws=200, seed=2, costs=CHEAP)
    without = make_plan(inputs, EACH, gap=1e-9)
    plan = planned(inputs, wheelset(inputs, TIRES, 0.5), EACH)
    window = plan.fitted["window"].iloc[0]
    depth = [each.windows.set_index("window").loc[window, "depth"] for each in (without, plan)]
    assert depth[0] != "wheels_out"
    assert depth[1] == "wheels_out"


def test_one_whose_wheels_do_not_agree_is_never_fitted():
    inputs = railway(6, 5, draws=200, seed=2, costs=CHEAP)
    rack = wheelset(inputs, TIRES, 0.9)
    assert len(planned(inputs, rack, EACH).fitted) == 1
    assert planned(inputs, rack.assign(agrees=False), EACH).fitted.empty


@pytest.mark.parametrize("rules", [EACH, TOGETHER])
def test_one_that_is_worn_out_is_never_fitted(rules):
    for seed in range(1, 5):
        inputs = railway(6, 5, draws=200, seed=seed, costs=CHEAP)
        assert planned(inputs, wheelset(inputs, TIRES, 0.005), rules).fitted.empty


def test_all_that_is_measured_on_it_is_renewed_with_it():
    inputs = railway(6, 5, draws=300, seed=2)
    plan = planned(inputs, wheelset(inputs, TIRES, 0.9), TOGETHER)
    (line,) = plan.scope[plan.scope["action"] == "spare WS-1 fitted"].to_dict("records")
    assert line["points"] == list(TIRES)
    own = plan.points[plan.points["job"] == line["job"]]
    assert set(own["point"]) == set(TIRES)
    assert " instead of tire place " in line["reason"]
    assert "what comes off goes to the rack" in line["reason"]
    assert line["cost"] == 0.0
    assert line["risk_off"] > 0
    days = {tuple(map(str, plan.renewals[point])) for point in TIRES}
    assert len(days) == 1


def test_two_engines_and_one_wheelset():
    inputs = railway(6, 5, draws=200, seed=2, vehicles=("A", "B"))
    rack = pd.concat([wheelset(inputs, TIRES, 0.9), wheelset(inputs, ("B2", "B5"), 0.9)])
    plan, without = planned(inputs, rack, EACH), make_plan(inputs, EACH, gap=1e-9)
    assert len(plan.fitted) == 1
    assert (plan.scope["action"] == "spare WS-1 fitted").sum() == 1
    (vehicle,) = plan.fitted["vehicle"]
    assert objective(plan, vehicle) < objective(without, vehicle)


def test_a_shop_without_room_in_that_winter_does_not_fit_it_there():
    """The wheels take 400 hours of work; in the winter that is best for the spare nobody is there."""
    inputs = railway(6, 5, draws=200, seed=2, costs=CHEAP, vehicles=("A", "B"))
    rack = wheelset(inputs, TIRES, 0.8)
    free = planned(inputs, rack, TOGETHER)
    (window,) = free.fitted["window"]
    about = free.windows[(free.windows["vehicle"] == "A") & (free.windows["window"] == window)].iloc[0]
    shut = pd.date_range(about["opens"].replace(day=1), about["closes"], freq="MS")
    months = [(pd.NaT, 400.0), *((month, 0.0) for month in shut)]
    capacities = pd.DataFrame(
        [("hours", "", month, hours, "", "") for month, hours in months],
        columns=["resource", "trade", "month", "amount", "currency", "note"],
    ).astype({"month": "datetime64[us]"})
    bounded = replace(inputs, capacities=capacities)
    plan, without = planned(bounded, rack, TOGETHER), make_plan(bounded, TOGETHER, gap=1e-9)
    assert plan.shop["over"].sum() <= without.shop["over"].sum()
    assert window not in set(plan.fitted["window"])
    assert objective(plan) <= objective(without)


def test_the_worse_of_its_wear_points_decides():
    """One hollow tire on it makes it end as soon as that tire does."""
    inputs = railway(6, 5, draws=200, seed=2)
    one = chosen_for(programme_of(inputs, "A", EACH), EACH)
    good = fitted_in(inputs, 1, 0.9)
    bad = replace(good, left=good.left | left_in(inputs, ["A5"], 0.01))
    stops = [
        season_chances(programme_with(one, [each], inputs, EACH).failures, one.solution.renewed).sum()
        for each in (good, bad)
    ]
    assert stops[1] > stops[0]


def test_what_is_left_at_the_end_counts_no_more_than_without_it():
    """A wheelset fitted in the last window, where nothing would be renewed, brings nothing."""
    rules = Rules(risk=0.25, stop_days=0.0)
    costs = COSTS.assign(cost=COSTS["cost"].where(COSTS["component"] != "wheels_out", 100.0))
    inputs = railway(6, 5, draws=200, seed=2, costs=costs)
    known = inputs.distribution.set_index("point")
    fresh = inputs.distribution.assign(remaining=[known.loc[each, "new_life"] * 1.6 for each in known.index])
    inputs = replace(inputs, distribution=fresh)
    one = chosen_for(programme_of(inputs, "A", rules), rules)
    for window in range(len(inputs.windows)):
        other = chosen_for(programme_with(one, [fitted_in(inputs, window, 3.0)], inputs, rules), rules)
        assert other.solution.objective >= one.solution.objective - 1e-6


def test_what_is_in_service_may_end_before_the_spare_comes():
    """By hand: fitted in the second window, three futures of two wear points, one of them on the spare."""
    season = np.array([[[0, 3, 3], [1, 1, 2]], [[2, 3, 3], [3, 3, 3]], [[3, 1, 3], [3, 3, 3]]], dtype=np.int8)
    own = np.array([[[3, 3, 2]], [[3, 3, 3]], [[3, 3, 2]]], dtype=np.int8)
    nothing = np.zeros((1, 4, 4))
    spare = Spare(np.array([0]), nothing, nothing, own, np.zeros(1), np.zeros(1, bool))
    with_it = season_with(season, spare, 1)
    # Begun now: ends in season 0 before it comes, else with the spare; begun in the first window alike.
    assert with_it[:, 0].tolist() == [[0, 2, 2], [3, 3, 3], [2, 1, 2]]
    assert with_it[:, 1].tolist() == season[:, 1].tolist()


def wheels(diameters):
    rows = [
        (
            f"driver {axle} {side}",
            "Alder",
            "driver tire",
            f"driver {axle} {side}",
            "diameter",
            "Alder drivers",
        )
        for axle in range(1, len(diameters) // 2 + 1)
        for side in ("left", "right")
    ]
    names = ["point", "vehicle", "component", "position", "quantity", "matched_set"]
    points = pd.DataFrame(rows, columns=names).assign(
        unit="mm",
        base_unit="mm",
        per_base=1.0,
        new_value=1500.0,
        condemning_limit=1400.0,
        shop_limit=np.nan,
        limit_source="",
    )
    day = pd.Timestamp("2026-05-01")
    latest = pd.DataFrame({"point": points["point"], "value": diameters, "date": day, "places": 1})
    limits = pd.DataFrame(
        [("coupled diameters", "max", 2.4, "mm", "beyond", "shop", "invented", "found")],
        columns=["check", "bound", "limit", "base_unit", "condemned_when", "tier", "source", "status"],
    )
    latest = latest.assign(low=latest["value"], high=latest["value"])
    return WheelChecks(classify(points), latest, {"Alder": limits})


@pytest.mark.parametrize(
    ("diameter", "fits"), [(1470.0, True), (1472.0, True), (1475.0, False), (1465.0, False)]
)
def test_wheels_of_a_set_must_agree_with_those_that_stay(diameter, fits):
    checks = wheels([1470.0, 1470.0, 1471.0, 1471.0, 1440.0, 1440.0])
    comes = {"driver 3 left": diameter, "driver 3 right": diameter}
    assert agrees(checks, "Alder", comes) is fits
    assert agrees(checks, "Birch", comes)  # no limit is stated there


def test_wheels_that_the_plan_turns_before_agree_no_more():
    """A job over a set is done to more than the spare carries; one on its own place is not."""
    inputs = railway(6, 5, draws=200, seed=2)
    one = chosen_for(programme_of(inputs, "A", EACH), EACH)
    jobs = one.programme.net.jobs.copy()
    row = int(np.flatnonzero(jobs["points"].map(lambda points: "A2" in points))[0])
    jobs["machines"] = False
    jobs.loc[row, "machines"] = True
    done = np.zeros_like(one.solution.jobs)
    done[row, 2] = True
    solution = replace(one.solution, jobs=done)
    for points, wanted in ((["A2"], [False] * 5), (["A2", "A5"], [False, False, False, True, True])):
        covered = [points if job == row else own for job, own in enumerate(jobs["points"])]
        net = replace(one.programme.net, jobs=jobs.assign(points=covered))
        turned = turned_before(Chosen(replace(one.programme, net=net), solution, one.rungs), ["A2"])
        assert turned.tolist() == wanted


def test_a_wheelset_does_not_better_the_metal_of_a_set_with_other_wheels():
    inputs = railway(6, 5, draws=200, seed=2)
    one = chosen_for(programme_of(inputs, "A", EACH), EACH)
    lives = one.programme.lives
    spare = spare_at(one, TIRES, left_in(inputs, TIRES, 3.0), inputs)
    free, bound = (
        lives_with(lives, lives, replace(spare, bound=np.full(2, each)), 1)[1] for each in (False, True)
    )
    rows, crossing = spare.rows, (slice(0, 2), slice(3, None))
    old = lives.chance[rows][:, *crossing]
    assert (free.chance[rows][:, *crossing] < old).any()
    assert (bound.chance[rows][:, *crossing] >= old).all()


@pytest.mark.parametrize(
    ("diameter", "fits"), [(1470.0, True), (1474.0, True), (1477.0, False), (1466.0, False)]
)
def test_a_set_that_differs_too_much_already_is_not_the_fault_of_a_wheelset_between(diameter, fits):
    checks = wheels([1470.0, 1470.0, 1475.0, 1475.0, 1440.0, 1440.0])
    assert agrees(checks, "Alder", {"driver 3 left": diameter, "driver 3 right": diameter}) is fits
